package attribute

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"bellrow/proto/pitch"
	"bellrow/testdata/golden"
)

// scene makes up a row: chairs of which some are silent, some move, some are doubles, heard
// by all microphones.
func scene(r *rand.Rand, chairs int) Input {
	one := func(xs ...float64) float64 { return xs[r.IntN(len(xs))] }
	var voices []voice
	var expected []float64
	tones := []float64{1, 2, 2, 3, 4, 2.5198}
	if r.IntN(3) == 0 {
		tones = []float64{2} // all in unison
	}
	for range chairs {
		e := 2 * testRef * tones[r.IntN(len(tones))] / 2
		v := voice{f0: e * math.Exp2(one(-12, -5, -1, 2, 6, 14)/1200), bright: one(0.7, 1, 1.4)}
		if r.IntN(5) == 0 {
			slope := one(-4, 5)
			v.cents = func(t float64) float64 { return slope * (t - 0.8) }
		}
		voices, expected = append(voices, v), append(expected, e)
	}
	silent := -1
	if r.IntN(2) == 0 {
		silent = r.IntN(chairs)
	}
	gains := make([][]float64, chairs)
	for m := range gains {
		for c := range voices {
			g := one(0.01, 0.02, 0.035)
			if c == m {
				g = one(0.04, 0.1, 0.1)
			}
			if c == silent {
				g = 0
			}
			gains[m] = append(gains[m], g)
		}
	}
	in := row(voices, expected, gains)
	for m := range in.Chairs {
		c := &in.Chairs[m]
		c.Zero, c.PPM, c.PPMError = 0, one(0, 0, 40), one(0, 30)
		c.ClockError = 0.002
		if r.IntN(2) == 0 {
			c.Baseline = pitch.Level(20*math.Log10(gains[m][m]+1e-4) + one(-3, 2, 9, 16))
		}
		if r.IntN(8) == 0 {
			c.Chunks = nil
			c.Own = OneMic{Hz: pitch.Hertz(voices[m].f0), CI95: 0.4, Level: -20}
			c.Able = r.IntN(2) == 0
		}
	}
	return in
}

// TestWalk writes down how made-up rows are told apart, and what it rests on.
func TestWalk(t *testing.T) {
	var out strings.Builder
	for seed := range uint64(18) {
		r := rand.New(rand.NewPCG(seed, 71))
		in := scene(r, 2+int(seed%6))
		res := Fit(in)
		fmt.Fprintf(&out, "row %d: pairs %v fallback %t\n", seed, res.Pairs, res.Fallback)
		for _, c := range res.Chairs {
			fmt.Fprintf(&out, "  %d %s %.5f ± %.5f spread %.5f drift %.5f level %.4f balance %.4f %t one %t\n", c.ID, c.Verdict, float64(c.Hz), float64(c.CI95), float64(c.Spread), c.Drift, float64(c.Level), c.Balance, c.BalanceKnown, c.OneMic)
		}
		ranges := make([]Range, len(in.Chairs))
		for i := range ranges {
			ranges[i] = Range{80, 600}
		}
		fmt.Fprintf(&out, "  notes %.4f\n", Notes(in, ranges))
		in.Chairs = in.Chairs[:1]
		for _, x := range Candidates(in)[0] {
			fmt.Fprintf(&out, "  alone %.4f cents from %.3f to %.3f odds %.4f second %.4f\n", float64(x.Cents), x.From, x.To, x.Odds, x.Second)
		}
	}
	golden.Lines(t, "walk.txt", out.String())
}
