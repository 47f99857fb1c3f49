package pitch

import "testing"

func TestParseNote(t *testing.T) {
	for s, want := range map[string]Note{
		"A4": 69, "C4": 60, "c4": 60, "Bb3": 58, "B♭3": 58, "bb3": 58, "b3": 59, "F#4": 66, "f♯4": 66,
		"Cb4": 59, "B#3": 60, "Ebb4": 62, "F##4": 67, "C-1": 0, "G9": 127, " A4 ": 69,
	} {
		if got, err := ParseNote(s); err != nil || got != want {
			t.Errorf("%q is %d, %v; want %d", s, got, err, want)
		}
	}
	for _, s := range []string{"", "H4", "4", "A", "Bb", "A4x", "A 4", "G#9", "Cb-1", "A99999999999999999999", "A4.0", "A+4"} {
		if got, err := ParseNote(s); err == nil {
			t.Errorf("%q is taken for %v", s, got)
		}
	}
}

func TestEveryNoteReadsBack(t *testing.T) {
	for n := MinNote; n <= MaxNote; n++ {
		for _, s := range []string{n.String(), n.Display()} {
			if got, err := ParseNote(s); err != nil || got != n {
				t.Errorf("%q reads back as %v, %v", s, got, err)
			}
		}
	}
}

func TestNames(t *testing.T) {
	for _, c := range []struct {
		n                    Note
		text, display, class string
	}{
		{58, "Bb3", "B♭3", "B♭"}, {60, "C4", "C4", "C"}, {66, "Gb4", "G♭4", "G♭"}, {0, "C-1", "C-1", "C"},
	} {
		if c.n.String() != c.text || c.n.Display() != c.display || c.n.ClassName() != c.class {
			t.Errorf("%d is %q, %q, %q; want %q, %q, %q", c.n, c.n.String(), c.n.Display(), c.n.ClassName(), c.text, c.display, c.class)
		}
	}
	if Note(-1).Class() != 11 || Note(-1).Octave() != -2 {
		t.Errorf("the note below C-1 is class %d in octave %d", Note(-1).Class(), Note(-1).Octave())
	}
}

func FuzzParseNote(f *testing.F) {
	for _, s := range []string{"Bb3", "F#4", "", "♭", "C-1", "A4"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		n, err := ParseNote(s)
		if err != nil {
			return
		}
		if n < MinNote || n > MaxNote {
			t.Fatalf("%q is %d, outside the range", s, n)
		}
		if again, err := ParseNote(n.String()); err != nil || again != n {
			t.Fatalf("%q is %v, which reads back as %v, %v", s, n, again, err)
		}
	})
}
