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
		e, ok := Whole(x, testRate, Options{Call: truth})
		if off := math.Abs(float64(pitch.Between(truth, e.Hz))); !ok || off > 0.5 || e.CI95 > undoubted {
			t.Errorf("%.2f Hz: off by %.3f cents, interval %.3f (%v)", float64(hz), off, float64(e.CI95), ok)
		}
	}
}

// Lines of the mains half way between a note's partials are not the note's: it is not read
// an octave low.
func TestHumBetweenPartials(t *testing.T) {
	for seed, hz := range []pitch.Hertz{100.9, 101.4, 99.2, 121.3, 119.1} {
		mains := 50.0
		if hz > 110 {
			mains = 60
		}
		x, truth := player(t, hz, seed)
		x = x[testRate/2:]
		sum := 0.0
		for _, v := range x {
			sum += v * v
		}
		gain := math.Sqrt(2 * sum / float64(len(x)) / 10 / 1.25)
		for i := range x {
			for m, a := range []float64{1, 0, 0.5} { // of power 1.25 / 2
				x[i] += gain * a * math.Sin(2*math.Pi*mains*float64(m+1)*float64(i)/testRate+float64(m))
			}
		}
		e, ok := Whole(x, testRate, Options{})
		if off := math.Abs(float64(pitch.Between(truth, e.Hz))); !ok || off > float64(e.CI95) {
			t.Errorf("%.2f Hz: off by %.1f cents ± %.2f (%v)", float64(hz), off, float64(e.CI95), ok)
		}
	}
}
