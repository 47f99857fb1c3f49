package settle

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"gonum.org/v1/gonum/stat"

	"bellrow/testdata/golden"
)

// told is a rest with its figures.
func told(r Rest) string {
	return fmt.Sprintf("%d to %d moved %.6f half %.6f trend %.6f seconds %.4f waves %.6f", r.From, r.To, r.Moved, r.Half, r.trend, r.seconds, r.slow)
}

// TestWalk writes down where made-up tracks are found to rest: wander of several quicknesses,
// attacks that come down, trends, steps, sways, vibratos, endings.
func TestWalk(t *testing.T) {
	var out strings.Builder
	for seed := range uint64(48) {
		r := rand.New(rand.NewPCG(seed, 91))
		one := func(xs ...float64) float64 { return xs[r.IntN(len(xs))] }
		const tick = 0.01
		n := int(one(50, 90, 150, 260, 420))
		tau, sd := one(0.03, 0.1, 0.3), one(0.5, 2, 5)
		early, trend, step, stepAt := one(0, 0, 12, -8), one(0, 0, 0, 3, -12), one(0, 0, 0, 9), n/3+r.IntN(n/3)
		sway, swayHz, vibrato := one(0, 0, 8, 20), one(0.3, 0.5), one(0, 0, 0, 15, 40)
		end := one(0, 0, -60)
		x := 0.0
		track := make([]float64, n)
		for i := range track {
			x += (tick/tau)*(-x) + sd*math.Sqrt(2*tick/tau)*r.NormFloat64()
			s := float64(i) * tick
			track[i] = x + early*math.Exp(-s/0.15) + trend*s + sway*math.Sin(2*math.Pi*swayHz*s+float64(seed)) + vibrato/2*math.Sin(2*math.Pi*5.5*s)
			if i > stepAt {
				track[i] += step
			}
			if left := n - i; left < 15 {
				track[i] += end * float64(15-left) / 15
			}
		}
		whole := Of(track, n/10, n-n/10, tick)
		found, ok := Find(track, 0, n, tick)
		now, rests := Now(track, 0, tick)
		fmt.Fprintf(&out, "track %d of %d: mean %.6f slope %.6f\n", seed, n, stat.Mean(track, nil), slope(track))
		for _, x := range []struct {
			name string
			r    Rest
			ok   bool
		}{{"whole", whole, true}, {"found", found, ok}, {"now", now, rests}} {
			fmt.Fprintf(&out, "  %s %t %s sways %t\n", x.name, x.ok, told(x.r), x.r.Sways())
		}
		v, is := VibratoOf(track[n/10:], tick)
		fmt.Fprintf(&out, "  vibrato %t rate %.6f extent %.6f share %.6f deliberate %t\n", is, v.RateHz, v.Extent, v.Share, v.Deliberate())
		for j := range 4 {
			fmt.Fprintf(&out, "  half wave %d %.6f\n", j+1, HalfWave(track, j+1))
		}
	}
	golden.Lines(t, "walk.txt", out.String())
}
