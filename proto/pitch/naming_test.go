package pitch

import (
	"strings"
	"testing"
)

func styles() []Style {
	var all []Style
	for _, n := range Namings {
		for _, o := range []Octaves{Scientific, Helmholtz, Franco} {
			if y := (Style{n, o}); y.Valid() == nil {
				all = append(all, y)
			}
		}
	}
	return all
}

// TestEveryStyleReadsBack: what a style prints it reads as the same note, and
// what else it could be is another note.
func TestEveryStyleReadsBack(t *testing.T) {
	if len(styles()) != 3*3+3*2 {
		t.Fatalf("%d styles", len(styles()))
	}
	for _, y := range styles() {
		seen := map[string]Spelled{}
		everySpelled(func(s Spelled) {
			text := y.Note(s)
			got, err := y.Parse(text)
			if err != nil || got.Note != s {
				t.Errorf("%+v: %v is %q, which reads back as %v, %v", y, s, text, got, err)
			}
			for _, or := range got.Or {
				if or == s || !or.Valid() {
					t.Errorf("%+v: %q could also be %v", y, text, or)
				}
			}
			if before, twice := seen[text]; twice {
				t.Errorf("%+v: %v and %v are both %q", y, before, s, text)
			}
			seen[text] = s
			if names, rest, err := y.Naming.Cut(y.Naming.Name(s.Name)); err != nil || rest != "" || names[0] != s.Name {
				t.Errorf("%+v: %v reads back as %v %q, %v", y, s.Name, names, rest, err)
			}
		})
	}
}

// TestNamesOfLanguages against LilyPond's Notation Reference, "Note names in
// other languages" (from memory), and the octaves against printed tables: Helmholtz's
// ,,C ,C C c c' of 16 2/3, 32.7, 65.4, 130.8, 261.6 Hz; La3 of 440 Hz.
func TestNamesOfLanguages(t *testing.T) {
	for _, c := range []struct {
		y    Style
		note string
		want string
	}{
		{Style{German, ""}, "B3", "H3"}, {Style{German, ""}, "Bb3", "B3"}, {Style{German, ""}, "C#4", "Cis4"}, {Style{German, ""}, "Eb4", "Es4"},
		{Style{German, ""}, "Ab4", "As4"}, {Style{German, ""}, "Db4", "Des4"}, {Style{German, ""}, "Bbb3", "Heses3"}, {Style{German, ""}, "F##4", "Fisis4"},
		{Style{German, ""}, "Ebb4", "Eses4"}, {Style{German, ""}, "B#3", "His3"},
		{Style{German, Helmholtz}, "C4", "c'"}, {Style{German, Helmholtz}, "C3", "c"}, {Style{German, Helmholtz}, "C2", "C"}, {Style{German, Helmholtz}, "C1", ",C"},
		{Style{German, Helmholtz}, "C0", ",,C"}, {Style{German, Helmholtz}, "Bb3", "b"}, {Style{German, Helmholtz}, "B4", "h'"}, {Style{German, Helmholtz}, "Eb5", "es''"},
		{Style{Dutch, ""}, "Bb3", "Bes3"}, {Style{Dutch, ""}, "B3", "B3"}, {Style{Dutch, ""}, "Ab3", "As3"},
		{Style{French, ""}, "Bb3", "Si♭3"}, {Style{French, Franco}, "A4", "La3"}, {Style{French, Franco}, "C1", "Do-1"}, {Style{French, ""}, "D4", "Ré4"},
		{Style{Spanish, ""}, "F#4", "Fa♯4"}, {Style{Italian, ""}, "D4", "Re4"}, {Style{Italian, Franco}, "C4", "Do3"},
		{Style{}, "Bb3", "B♭3"}, {Style{"", Helmholtz}, "Bb1", ",B♭"},
	} {
		s, err := ParseSpelled(c.note)
		if err != nil {
			t.Fatal(err)
		}
		if got := c.y.Note(s); got != c.want {
			t.Errorf("%s is %q in %+v, want %q", c.note, got, c.y, c.want)
		}
	}
}

// TestTypedNotes: what people type, and what else it could have meant.
func TestTypedNotes(t *testing.T) {
	for _, c := range []struct {
		y    Style
		text string
		want string // the note, then after "or" what else it could be
	}{
		{Style{German, ""}, "H3", "B3"}, {Style{German, ""}, "B3", "Bb3 or B3"}, {Style{German, ""}, "B♭3", "Bb3"}, {Style{German, ""}, "fis'", "F#4"},
		{Style{German, ""}, "c1", "C1 or C4"}, {Style{German, ""}, "C2", "C2 or C0"}, {Style{German, Helmholtz}, "c1", "C4 or C1"}, {Style{German, Helmholtz}, "b", "Bb3 or B3"}, {Style{German, Helmholtz}, "C,", "C1"},
		{Style{German, Helmholtz}, ",,C", "C0"}, {Style{German, ""}, "as′", "Ab4"}, {Style{German, ""}, "Cis4", "C#4"}, {Style{German, ""}, "C#1", "C#1"},
		{Style{French, ""}, "la3", "A3 or A4"}, {Style{French, Franco}, "la3", "A4 or A3"}, {Style{French, ""}, "si bémol 3", "Bb3 or Bb4"}, {Style{French, ""}, "Ut4", "C4 or C5"},
		{Style{French, ""}, "Fa dièse4", "F#4 or F#5"}, {Style{Spanish, ""}, "sib3", "Bb3 or Bb4"}, {Style{Spanish, ""}, "Re sostenido 4", "D#4 or D#5"}, {Style{Italian, ""}, "mi bemolle 4", "Eb4 or Eb5"},
		{Style{Italian, ""}, "sol doppio diesis4", "G##4 or G##5"}, {Style{French, ""}, "Bb3", "Bb3 or Bb4"}, {Style{}, "B3", "B3"}, {Style{"", Helmholtz}, "c''", "C5"},
		{Style{Dutch, ""}, "bes3", "Bb3"}, {Style{Dutch, ""}, "b3", "B3"},
		// names of other languages that mean one note whoever reads them
		{Style{}, "H3", "B3"}, {Style{}, "Es4", "Eb4"}, {Style{}, "Fis4", "F#4"}, {Style{}, "Hes3", "Bb3"}, {Style{}, "As3", "Ab3"}, {Style{}, "Do4", "C4 or C5"},
		{Style{German, ""}, "ré♭4", "Db4 or Db5"}, {Style{French, ""}, "Fis3", "F#3"}, {Style{French, ""}, "H3", "B3"}, {Style{Dutch, ""}, "H3", "B3"}, {Style{}, "as1", "Ab1 or Ab4"},
		{Style{German, ""}, "sol4", "G4 or G5"}, {Style{"", Helmholtz}, "es'", "Eb4"}, {Style{"", Franco}, "la3", "A4 or A3"},
		// what keyboards write alike: full-width letters, an accent apart, an accent for a stroke
		{Style{}, "Ｂ♭４", "Bb4"}, {Style{}, "ｆ＃３", "F#3"}, {Style{French, Franco}, "re\u0301 3", "D4 or D3"}, {Style{German, ""}, "c´", "C4"}, {Style{German, ""}, "c´´", "C5"},
	} {
		p, err := c.y.Parse(c.text)
		if err != nil {
			t.Errorf("%q in %+v: %v", c.text, c.y, err)
			continue
		}
		got := p.Note.String()
		for i, or := range p.Or {
			if i == 0 {
				got += " or"
			}
			got += " " + or.String()
		}
		if got != c.want {
			t.Errorf("%q in %+v is %s, want %s", c.text, c.y, got, c.want)
		}
	}
	for _, c := range []struct {
		y    Style
		text string
	}{
		{Style{}, "H"}, {Style{}, "Es"}, {Style{}, "Do"}, {Style{}, "♭B4"}, {Style{}, "Es99"}, {Style{}, "C-2"}, {Style{}, "Do Re Mi"}, {Style{}, "c"}, {Style{German, ""}, "X4"}, {Style{German, ""}, ""}, {Style{French, ""}, "la"},
		{Style{German, Helmholtz}, "C'"}, {Style{German, Helmholtz}, ",c"}, {Style{German, ""}, "Hes99"}, {Style{French, ""}, "solo4"},
	} {
		if p, err := c.y.Parse(c.text); err == nil {
			t.Errorf("%q in %+v is %v, want an error", c.text, c.y, p)
		}
	}
}

// TestRefusalNamesNotesAsTyped: what is no note is refused with examples in the
// names of the one who typed it, which are notes.
func TestRefusalNamesNotesAsTyped(t *testing.T) {
	for _, y := range styles() {
		for _, typed := range []string{"", "X4", "H", "B", "Do", "Es", "♭B4", strings.Repeat("x", 300)} {
			_, err := y.Parse(typed)
			if err == nil {
				if y.Octaves == Helmholtz {
					continue // letters alone are notes
				}
				t.Fatalf("%q in %v is a note", typed, y)
			}
			_, examples, ok := strings.Cut(err.Error(), "; write it as ")
			flat, sharp, both := strings.Cut(examples, " or ")
			for name, want := range map[string]Note{flat: 58, sharp: 66} {
				if p, err := y.Parse(name); !ok || !both || err != nil || p.Note.Note() != want {
					t.Errorf("%q in %v: %v: %q is %v, %v", typed, y, examples, name, p.Note, err)
				}
			}
			if len(err.Error()) > 120 {
				t.Errorf("%q in %v: %d letters", typed, y, len(err.Error()))
			}
		}
	}
}

// TestBothNames: the names that an English reader would take for another note.
func TestBothNames(t *testing.T) {
	for _, n := range Namings {
		for f := -8; f <= 12; f++ {
			x := NameAt(f)
			want := n.Name(x)
			if n == German && x == (Name{'B', -1}) {
				want = "B (B♭)"
			}
			if got := n.Both(x); got != want {
				t.Errorf("%v in %q is %q, want %q", x, n, got, want)
			}
		}
	}
}

func TestStyleValid(t *testing.T) {
	for _, y := range []Style{{"elvish", ""}, {"", "boat"}, {French, Helmholtz}} {
		if y.Valid() == nil {
			t.Errorf("%+v is valid", y)
		}
	}
}

func FuzzStyleParse(f *testing.F) {
	for _, s := range []string{"H3", "fis'", ",,C", "si bémol 3", "la", "Asus", "B♭♭♭3", "eses''", "\xff"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		for _, y := range styles() {
			p, err := y.Parse(s)
			if err != nil {
				continue
			}
			if !p.Note.Valid() {
				t.Fatalf("%q in %+v is %+v", s, y, p.Note)
			}
			if again, err := y.Parse(y.Note(p.Note)); err != nil || again.Note != p.Note {
				t.Fatalf("%q in %+v is %v, which reads back as %v, %v", s, y, p.Note, again, err)
			}
		}
	})
}
