package pitch

import (
	"fmt"
	"strings"
	"testing"

	"bellrow/testdata/golden"
)

// TestWalk writes down how notes are named in every style and read back, and how intervals,
// keys and transpositions spell.
func TestWalk(t *testing.T) {
	var out strings.Builder
	names := []Name{}
	for _, letter := range "CDEFGAB" {
		for alter := -2; alter <= 2; alter++ {
			names = append(names, Name{Letter: byte(letter), Alter: alter})
		}
	}
	for _, y := range Styles {
		for _, x := range names {
			fmt.Fprintf(&out, "%s %s: %s both %s fifths %d class %d", y, x, y.Naming.Name(x), y.Naming.Both(x), x.Fifths(), x.Class())
			for _, n := range []Note{23, 34, 47, 60, 73, 96} {
				if s, ok := x.In(n - Note(((int(n)-x.Class())%12+12)%12)); ok {
					text := y.Note(s)
					fmt.Fprintf(&out, " | %s", text)
					if p, err := y.Parse(text); err != nil || !strings.Contains(fmt.Sprint(p), s.String()) {
						fmt.Fprintf(&out, " read as %v %v", p, err)
					}
				}
			}
			out.WriteString("\n")
		}
		for _, text := range []string{"", "H", "B", "b", "c", "C", "c'", "c''", ",C", ",,C", "C,,", "B3", "H3", "b4", "Bes", "Es4", "as", "Ases", "asas", "Fis'", "Do3", "do", "Si♭2", "Re#", "Sol-1", "C10", "C-2", "Cbbb", "F##", "x", "C4 ", "Ré", "Fa♯3", "♭", "c'3", "4", "Heses", "Hb", "B♭♭"} {
			p, err := y.Parse(text)
			fmt.Fprintf(&out, "%s %q: %v %v\n", y, text, p, err)
		}
	}
	for semitones := -14; semitones <= 14; semitones++ {
		fmt.Fprintf(&out, "%d: %v", semitones, UsualInterval(semitones))
		for _, n := range []Note{48, 58, 61, 66, 71} {
			u := Usual(n)
			w := Written(u, semitones)
			fmt.Fprintf(&out, " | %s written %s back %s", u, w, Sounding(w, semitones))
		}
		out.WriteString("\n")
	}
	for f := -9; f <= 11; f++ {
		for _, minor := range []bool{false, true} {
			fmt.Fprintf(&out, "key %d %t: %v\n", f, minor, KeyOf(NameAt(f), minor))
		}
	}
	for _, a4 := range []Hertz{0, 299, 392, 415, 440, 442.5, 466, 501} {
		r, err := NewReference(a4)
		fmt.Fprintf(&out, "A %g: %v %v", float64(a4), r, err)
		for _, n := range []Note{21, 46, 69, 108} {
			f := r.Frequency(n)
			near, off := r.Nearest(f.Shift(37))
			fmt.Fprintf(&out, " %.6f %v %.6f", float64(f), near, float64(off))
		}
		out.WriteString("\n")
	}
	for _, rms := range []float64{0, 1e-9, 0.001, 0.5, 1 / 1.4142135623730951} {
		fmt.Fprintf(&out, "level %.6f\n", float64(LevelOf(rms)))
	}
	golden.Lines(t, "walk.txt", out.String())
}
