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
		for _, name := range []Note{60, 58, 59} {
			if !strings.Contains(c.Label, y.Of(name)) {
				t.Errorf("%q does not name %v", c.Label, name)
			}
		}
	}
}
