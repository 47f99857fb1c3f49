package estimate

import (
	"math"
	"testing"

	"bellrow/proto/pitch"
)

// An automatic gain that wanders by 6 dB either way, 0.7 times a second, costs
// next to nothing: a tenth of what the wander of the pitch leaves open.
func TestGainWanders(t *testing.T) {
	for seed, hz := range notes {
		x, truth := player(t, hz, seed)
		x = x[testRate/2:]
		still, _ := Whole(x, testRate, Options{Call: truth})
		for i := range x {
			x[i] *= math.Pow(10, 6*math.Sin(2*math.Pi*0.7*float64(i)/testRate)/20)
		}
		e, ok := Whole(x, testRate, Options{Call: truth})
		if off := float64(pitch.Between(still.Hz, e.Hz)); !ok || math.Abs(off) > 0.1*float64(still.CI95) || e.CI95 > 1.5*still.CI95 {
			t.Errorf("%.0f Hz: moved by %.3f cents, interval %.3f, %.3f without (%v)", float64(hz), off, float64(e.CI95), float64(still.CI95), ok)
		}
	}
}
