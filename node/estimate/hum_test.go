package estimate

import (
	"math"
	"testing"

	"bellrow/proto/pitch"
)

// Mains hum 10 dB down lies within the bands of the lowest notes, and is no
// reason to refuse them.
func TestHumUnderLowNotes(t *testing.T) {
	for seed, hz := range []pitch.Hertz{29.14, 34.65, 38.89, 43.65} {
		x, truth := player(t, hz, seed)
		x = x[testRate/2:]
		sum := 0.0
		for _, v := range x {
			sum += v * v
		}
		gain := math.Sqrt(2 * sum / float64(len(x)) / 10 / 1.34)
		for i := range x {
			for m, a := range []float64{1, 0.3, 0.5} { // of power 1.34 / 2
				x[i] += gain * a * math.Sin(2*math.Pi*50*float64(m+1)*float64(i)/testRate+float64(m))
			}
		}
		e, ok := Refine(x, testRate, float64(truth), 0)
		if off := math.Abs(float64(pitch.Between(truth, e.Hz))); !ok || off > 0.5 || e.CI95 > undoubted {
			t.Errorf("%.2f Hz: off by %.3f cents, interval %.3f (%v)", float64(hz), off, float64(e.CI95), ok)
		}
	}
}
