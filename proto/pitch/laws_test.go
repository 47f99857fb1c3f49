package pitch

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
)

// TestWhatIsReadIsANote: whatever number is put behind a name, in any style, it is read as notes that
// there are, or refused.
func TestWhatIsReadIsANote(t *testing.T) {
	styles := append(slices.Clone(Styles), Style{Italian, Franco}, Style{English, Franco}, Style{English, Helmholtz})
	for _, y := range styles {
		for _, letter := range "CDEFGAB" {
			for alter := -2; alter <= 2; alter++ {
				name := y.Naming.Name(Name{Letter: byte(letter), Alter: alter})
				for octave := -5; octave <= 14; octave++ {
					text := name + fmt.Sprint(octave)
					p, err := y.Parse(text)
					if err != nil {
						continue
					}
					for _, n := range append([]Spelled{p.Note}, p.Or...) {
						if !n.Valid() {
							t.Errorf("%s: %q is read as %v", y, text, n)
						}
					}
				}
				for _, text := range []string{name + "9223372036854775807", name + "-9223372036854775808", name + "99999999999999999999"} {
					if p, err := y.Parse(text); err == nil {
						t.Errorf("%s: %q is read as %v", y, text, p)
					}
				}
			}
		}
	}
}

// TestEveryNoteComesBack: what a style writes it reads, as the same note first or among the others.
func TestEveryNoteComesBack(t *testing.T) {
	for _, y := range Styles {
		for n := MinNote; n <= MaxNote; n++ {
			s := Usual(n)
			text := y.Note(s)
			p, err := y.Parse(text)
			if err != nil || p.Note != s && !slices.Contains(p.Or, s) {
				t.Errorf("%s: %v is written %q and read as %v, %v", y, s, text, p, err)
			}
		}
	}
}

// TestNoOctaveZeroInFrance: the octave below Do1 is Do-1; a 0 is another reader's.
func TestNoOctaveZeroInFrance(t *testing.T) {
	for number, want := range map[int]int{-2: 0, -1: 1, 1: 2, 3: 4} {
		if got, ok := fromFranco(number); !ok || got != want || toFranco(want) != number {
			t.Errorf("Do%d is in octave %d, %v, and back %d", number, got, ok, toFranco(want))
		}
	}
	if _, ok := fromFranco(0); ok {
		t.Error("there is a Do0")
	}
	p, err := Style{French, Franco}.Parse("Do0")
	if err != nil || p.Note != (Spelled{Name{'C', 0}, 0}) || len(p.Or) != 0 {
		t.Errorf("Do0 is read as %v, %v", p, err)
	}
}

// TestForeignNames: letters and signs of one language in another's style; a fault is told of the
// reading that got further.
func TestForeignNames(t *testing.T) {
	german, english := Style{Naming: German}, Style{}
	for text, want := range map[string]Spelled{"Bb3": {Name{'B', -1}, 3}, "B#3": {Name{'B', 1}, 3}, "B♭3": {Name{'B', -1}, 3}, "B♯3": {Name{'B', 1}, 3}, "H3": {Name{'B', 0}, 3}, "Hes3": {Name{'B', -1}, 3}, "Cis4": {Name{'C', 1}, 4}} {
		if p, err := german.Parse(text); err != nil || p.Note != want || len(p.Or) != 0 {
			t.Errorf("german %q: %v, %v", text, p, err)
		}
	}
	if p, err := german.Parse("B3"); err != nil || p.Note != (Spelled{Name{'B', -1}, 3}) || !slices.Equal(p.Or, []Spelled{{Name{'B', 0}, 3}}) {
		t.Errorf("german B3: %v, %v", p, err)
	}
	for _, text := range []string{"Xis4", "Ies4", "is4", "4", "♭4", "Zes"} {
		for _, y := range []Style{german, english, {Naming: Dutch}} {
			if p, err := y.Parse(text); err == nil || !strings.Contains(err.Error(), errNoName.Error()) {
				t.Errorf("%s %q: %v, %v", y, text, p, err)
			}
		}
	}
	for _, text := range []string{"H", "Fis", "Sol", "C"} { // names without an octave
		if p, err := english.Parse(text); err == nil || !strings.Contains(err.Error(), errNoOctave.Error()) {
			t.Errorf("english %q: %v, %v", text, p, err)
		}
	}
	if _, err := english.Parse("C40"); err == nil || !strings.Contains(err.Error(), errOutside.Error()) || errors.Is(err, errNoName) {
		t.Errorf("%v", err)
	}
}

// TestNoNoteIsWrittenAsNothing: and read back as none.
func TestNoNoteIsWrittenAsNothing(t *testing.T) {
	var none Spelled
	if none.String() != "" || none.Display() != "" || (Style{}).Note(none) != "" {
		t.Errorf("%q %q %q", none.String(), none.Display(), Style{}.Note(none))
	}
	back := Spelled{Name{'C', 0}, 4}
	if err := back.UnmarshalText(nil); err != nil || back != none {
		t.Errorf("%v, %v", back, err)
	}
}

// TestNamesThatThereAre: seven letters with so many signs at most.
func TestNamesThatThereAre(t *testing.T) {
	for letter := range 256 {
		for alter := -MaxAlter - 2; alter <= MaxAlter+2; alter++ {
			want := strings.IndexByte("CDEFGAB", byte(letter)) >= 0 && alter >= -MaxAlter && alter <= MaxAlter
			if got := (Name{Letter: byte(letter), Alter: alter}).Valid(); got != want {
				t.Errorf("%q %d: %v", rune(letter), alter, got)
			}
		}
	}
}

// TestWrittenNotesKeepTheirName: a transposed note is an interval away, spelt so, as far as parts
// are; beyond them it is the same note by a plainer name.
func TestWrittenNotesKeepTheirName(t *testing.T) {
	kept, plainer := 0, 0
	for n := Note(40); n < 80; n++ {
		for transposition := -14; transposition <= 14; transposition++ {
			for _, s := range []Spelled{Usual(n), Key{Fifths: 6}.Spell(n), Key{Fifths: -6}.Spell(n)} {
				by := s.Up(UsualInterval(-transposition))
				got := Written(s, transposition)
				if f := by.Fifths(); f >= -6 && f <= 10 {
					if kept++; got != by {
						t.Errorf("%v by %d is written %v, want %v", s, transposition, got, by)
					}
				} else if plainer++; got.Note() != by.Note() || abs(got.Fifths()) >= abs(f) {
					t.Errorf("%v by %d is written %v, no plainer than %v", s, transposition, got, by)
				}
			}
		}
	}
	if kept == 0 || plainer == 0 {
		t.Errorf("%d kept, %d plainer", kept, plainer)
	}
}

// TestSmallLettersAndNumbers: a small letter's number may count from its own octave; a 0 does not.
func TestSmallLettersAndNumbers(t *testing.T) {
	for _, y := range []Style{{Naming: German}, {German, Helmholtz}} {
		for number, or := range map[int]bool{0: false, 1: true, 4: true} {
			p, err := y.Parse(fmt.Sprint("c", number))
			all := append([]Spelled{p.Note}, p.Or...)
			if err != nil || !slices.Contains(all, Spelled{Name{'C', 0}, number}) || slices.Contains(all, Spelled{Name{'C', 0}, number + 3}) != or {
				t.Errorf("%s: c%d is %v, %v", y, number, all, err)
			}
		}
	}
}

// TestChoices: a page offers each style once, with the names by class as the style writes the
// notes of those classes in any octave.
func TestChoices(t *testing.T) {
	all := Choices()
	if len(all) != len(Styles) {
		t.Fatalf("%d choices of %d styles", len(all), len(Styles))
	}
	seen := map[string]bool{}
	for i, c := range all {
		y, err := ParseStyle(c.Value)
		if err != nil || y != Styles[i] || seen[c.Value] || seen[c.Label] {
			t.Errorf("%+v: %v, %v", c, y, err)
		}
		seen[c.Value], seen[c.Label] = true, true
		for n := MinNote; n <= MaxNote; n++ {
			if got, want := c.Classes[n.Class()], y.Naming.Both(Usual(n).Name); got != want {
				t.Errorf("%s: class %d is %q, want %q", c.Value, n.Class(), got, want)
			}
		}
		if language, _, _ := strings.Cut(c.Value, "-"); !strings.HasPrefix(strings.ToLower(c.Label), language+": ") || c.Label[0] == language[0] {
			t.Errorf("%q is told as %q", c.Value, c.Label)
		}
		for _, name := range []Note{60, 58, 59} {
			if !strings.Contains(c.Label, y.Of(name)) {
				t.Errorf("%q does not name %v", c.Label, name)
			}
		}
	}
}
