package slide

import (
	"math/rand/v2"
	"strings"
	"testing"

	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// TestTell: whatever is heard of a woodwind, whatever was heard before and on
// whatever note, nobody is sent to a slide: sharp or flat and by how much is all.
func TestTell(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 11))
	for _, in := range instrument.Band()[len(instrument.Catalogue()):] {
		m := &Memory{}
		for range 60 {
			n := in.Low + pitch.Note(random.IntN(int(in.High-in.Low)+1))
			off := pitch.Cents(40 * random.NormFloat64())
			target := pitch.Reference{}.Frequency(n)
			a, follow := m.Answer(Input{
				Instrument: in, Note: n, Target: target, Purpose: []Purpose{Tuning, Balance}[random.IntN(2)], Played: 200 * random.Float64(),
				Reading: Reading{Hz: target.Shift(off), CI95: pitch.Cents(4 * random.Float64()), Settled: random.IntN(8) > 0, Level: -20, Played: 100},
			})
			w := Say(a)
			said := strings.Join([]string{w.Headline, w.Detail, w.Next, w.Small}, " ")
			switch {
			case follow != nil || len(a.Steps) > 0 || a.Kind != Tell && a.Kind != Again && a.Kind != Note:
				t.Fatalf("%s, %.1f cents on %v: %+v, %v", in.ID, float64(off), n, a, follow)
			case strings.Contains(said, "mm") || strings.Contains(said, "slide") || strings.Contains(said, ": ."):
				t.Fatalf("%s is told %q", in.ID, said)
			case a.Kind == Tell && !strings.Contains(w.Headline, map[bool]string{true: "sharp", false: "flat"}[off > 0]) && w.Headline != "In tune.":
				t.Fatalf("%s, %.1f cents: %q", in.ID, float64(off), w.Headline)
			}
		}
	}
}
