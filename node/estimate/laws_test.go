package estimate

import (
	"math"
	"testing"
)

// TestTheSoundingPart: the longest run within activeDB of what is loud, however loud that is; what
// is softer parts it; of silence there is none.
func TestTheSoundingPart(t *testing.T) {
	const rate = 8000
	of := func(gain float64, parts ...[2]float64) (from, to float64) { // seconds and dB
		s := &sound{rate: rate}
		for _, p := range parts {
			for range int(p[0]*rate + 0.5) {
				s.x = append(s.x, gain*math.Pow(10, p[1]/20))
			}
		}
		return s.active()
	}
	for _, c := range []struct {
		parts    [][2]float64
		from, to float64
	}{
		{[][2]float64{{1, 0}}, 0, 1},
		{[][2]float64{{0.5, -80}, {1, 0}, {0.5, -80}}, 0.5, 1.5},
		{[][2]float64{{0.5, -19}, {1, 0}, {0.5, -21}}, 0, 1.5},
		{[][2]float64{{0.6, 0}, {0.1, -40}, {0.9, 0}}, 0.7, 1.6},
		{[][2]float64{{0.9, 0}, {0.1, -40}, {0.6, 0}}, 0, 0.9},
		{[][2]float64{{1, -10}, {0.05, 0}, {1, -10}}, 0, 2.05}, // one loud moment is not the loud part
		{[][2]float64{{0.5, 0}, {0.1, -40}, {0.5, 0}}, 0, 0.5}, // of two the first
	} {
		for _, gain := range []float64{1, 1e-3, 30} {
			from, to := of(gain, c.parts...)
			if math.Abs(from-c.from) > 1e-9 || math.Abs(to-c.to) > 1e-9 {
				t.Errorf("%v times %g: from %g to %g, want %g to %g", c.parts, gain, from, to, c.from, c.to)
			}
		}
	}
	if from, to := of(1); from != 0 || to != 0 {
		t.Errorf("of nothing %g to %g", from, to)
	}
	if from, to := of(0, [2]float64{1, 0}); from != 0 || to != 0 {
		t.Errorf("of silence %g to %g", from, to)
	}
}
