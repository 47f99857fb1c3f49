package pitch

import (
	"slices"
	"strings"
	"testing"
)

// TestBothWhereItCouldBeMisread: the English name stands beside a note where an English reader would take the name for
// another, and nowhere else: of the German names at B flat alone, of the English ones nowhere.
func TestBothWhereItCouldBeMisread(t *testing.T) {
	for _, y := range styles() {
		for n := Note(36); n < 84; n++ {
			s := Usual(n)
			both, misread := y.Both(s), y.Naming == German && s.Name == Name{Letter: 'B', Alter: -1}
			if want := y.Note(s) + map[bool]string{true: " (" + s.Display() + ")"}[misread]; both != want {
				t.Errorf("%v: %v is %q, want %q", y, n, both, want)
			}
		}
	}
}

// TestAsManySignsAsThereAre: a name has up to MaxAlter signs either way, in letters or written proper, and no more.
func TestAsManySignsAsThereAre(t *testing.T) {
	for _, letter := range []string{"C", "E", "B"} {
		for _, sign := range []struct {
			mark string
			by   int
		}{{"#", 1}, {"b", -1}, {"♯", 1}, {"♭", -1}} {
			for n := range MaxAlter + 2 {
				name, err := ParseName(letter + strings.Repeat(sign.mark, n))
				if (err == nil) != (n <= MaxAlter) || err == nil && (name.Alter != n*sign.by || string(name.Letter) != letter) {
					t.Errorf("%s with %d of %s: %+v, %v", letter, n, sign.mark, name, err)
				}
			}
		}
	}
	for _, y := range styles() {
		for _, letter := range []byte("CDEFGAB") {
			for alter := -2; alter <= 2; alter++ {
				s := Spelled{Name: Name{Letter: letter, Alter: alter}, Octave: 4}
				p, err := y.Parse(y.Note(s))
				if err != nil || !slices.Contains(append([]Spelled{p.Note}, p.Or...), s) {
					t.Errorf("%v: %q is read as %v (%v)", y, y.Note(s), p, err)
				}
				if again, err := y.Parse("  " + y.Note(s) + " "); err != nil || again.Note != p.Note {
					t.Errorf("%v: with spaces %q is read as %v (%v)", y, y.Note(s), again, err)
				}
			}
		}
	}
}

// TestAnOctaveNumberIsReadOnce: what a number can mean are one or two octaves, none of them twice, and one is the number's
// own unless there is none of it.
func TestAnOctaveNumberIsReadOnce(t *testing.T) {
	for _, y := range styles() {
		for n := -2; n <= 9; n++ {
			for _, small := range []bool{true, false} {
				all := y.numbered(n, small)
				if len(all) == 0 || len(all) > 2 || len(all) == 2 && all[0] == all[1] || !slices.Contains(all, n) {
					t.Errorf("%v: %d (small %t) means %v", y, n, small, all)
				}
			}
		}
	}
}

// TestTheEndsOfWhatHasAName: C-1 and G9 can be named, and nothing beyond.
func TestTheEndsOfWhatHasAName(t *testing.T) {
	for s, ok := range map[string]bool{"C-1": true, "B-2": false, "Cb-1": false, "B#-2": true, "G9": true, "G#9": false, "C10": false, "Abb9": true, "C-2": false} {
		if n, err := ParseNote(s); (err == nil) != ok || ok && (n < MinNote || n > MaxNote) {
			t.Errorf("%s: %d, %v", s, n, err)
		}
	}
	for n := MinNote; n <= MaxNote; n++ {
		if got, err := ParseNote(n.String()); err != nil || got != n || n.Octave() != int(n)/12-1 {
			t.Errorf("%d is %s, octave %d, and reads as %d (%v)", n, n, n.Octave(), got, err)
		}
	}
}
