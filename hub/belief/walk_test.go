package belief

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"bellrow/testdata/golden"
)

// TestWalk writes down what is believed, chosen and learned in made-up tune-ups.
func TestWalk(t *testing.T) {
	var out strings.Builder
	for seed := range uint64(16) {
		r := rand.New(rand.NewPCG(seed, 61))
		one := func(xs ...float64) float64 { return xs[r.IntN(len(xs))] }
		c := Config{Band: one(0, 0, 8), Notes: int(one(1, 1, 2))}
		s := New(c)
		n := int64(one(3, 5))
		place, lips := map[int64]float64{}, map[int64]float64{}
		for id := int64(1); id <= n; id++ {
			sl := Slide{MM: one(2, 12), Max: 35, PerMM: one(1.2, 2.35), Notes: int(one(0, 0, 1))}
			p := Profile{}
			if r.IntN(2) == 0 {
				p = Profile{Scatter: [4]float64{0.1, 0.5, 0.3, 0.1}, Pinches: one(0.1, 0.6), Holds: one(0.05, 0.5), Act: one(0.9, 1.1), ActSD: 0.04, HandMM: one(0.3, 0.8), Hands: 8}
			}
			s.Sit(id, sl, p)
			place[id], lips[id] = 12*r.NormFloat64(), one(0, 0, 8)
		}
		at := began
		for k := range 22 {
			at = at.Add(5 * time.Second)
			q := s.Queue(at, 3)
			fmt.Fprintf(&out, "%d.%d outside %.6f over %t doubtful %v queue", seed, k, s.Outside(), s.Over(at), s.Doubtful())
			for _, x := range q {
				fmt.Fprintf(&out, " %d/%d %s %t %s", x.Chair, x.Note, x.Why, x.Twice, x.Start.Sub(began))
			}
			for _, c := range s.chairs {
				gain, why := s.worth(c, at)
				fmt.Fprintf(&out, " | %.7f %s", gain, why)
			}
			out.WriteString("\n")
			id := int64(r.IntN(int(n))) + 1
			if len(q) > 0 && r.IntN(4) > 0 {
				id = q[0].Chair
			}
			x := Reading{At: at, Cents: place[id] + lips[id] + 1.5*r.NormFloat64(), Half: one(0.5, 2, 4), Note: r.IntN(2), Played: one(0, 0, 40, 150, 400)}
			switch r.IntN(8) {
			case 0:
				x.Refused = true
			case 1:
				x.Vibrato = true
			case 2:
				x.Drift, x.DriftHalf, x.Middle = one(-3, 2), 0.8, 1.4
			case 3:
				x.Unrested = true
			case 4:
				x.Earlier = true
			case 5:
				x.Cents += one(-30, 30)
			}
			x.Start, x.StartHalf = 0.7*lips[id]+1.5*r.NormFloat64(), one(0, 2)
			s.Heard(id, x)
			lips[id] *= 0.6
			mm := s.Best(id)
			st, _ := s.Standing(id)
			fmt.Fprintf(&out, "  chair %d %.4f: best %g offset %.6f sd %.6f out %.6f notes %d moved %t owed %t warming %t held %t wants %t\n", id, x.Cents, mm, st.Offset, st.SD, st.Outside, st.Notes,
				st.Moved, st.Owed, st.Warming, st.Held, s.Wants(id, at))
			switch move := mm != 0; {
			case move && r.IntN(5) > 0:
				s.Moved(id, at, mm, r.IntN(2) == 0)
				if r.IntN(5) > 0 {
					place[id] += s.chair(id).slide.change(mm) * one(1, 0.95)
				}
			case r.IntN(6) == 0:
				s.Set(id, at, place[id])
			}
			switch r.IntN(14) {
			case 0:
				s.Away(id)
			case 1:
				s.Back(1)
			case 2:
				s.Refer(one(-4, 4))
			case 3:
				s.Sounded(id, at, one(60, 200))
			case 4:
				at = at.Add(time.Minute)
				s.Pass(at)
			}
		}
		for id := int64(1); id <= n; id++ {
			p := s.Profile(id)
			fmt.Fprintf(&out, "  profile %d %.6f %.6f %.6f act %.6f %.6f hand %.6f %.6f\n", id, p.Scatter, p.Pinches, p.Holds, p.Act, p.ActSD, p.HandMM, p.Hands)
		}
		fmt.Fprintf(&out, "  drift %.6f %.6f\n", s.drift, s.driftVar)
	}
	golden.Lines(t, "walk.txt", out.String())
}
