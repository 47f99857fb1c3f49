package estimate

import (
	"math"
	"math/rand/v2"
	"testing"

	"bellrow/node/simulate/tone"
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

// Hum by itself is told, a little noise with it: the mains and their low multiples, odd ones
// stronger, or twice the mains and theirs, as behind a rectifier.
func TestHumAlone(t *testing.T) {
	for _, mains := range []float64{49.97, 50, 60, 60.03, 100, 120.04} {
		for _, noise := range []float64{0.003, 0.03, 0.1} {
			x, r := make([]float64, testRate), rand.New(rand.NewPCG(1, 2))
			for m, a := range []float64{1, 0.3, 0.5, 0.1, 0.25, 0.05, 0.1} {
				for i := range x {
					x[i] += 0.01 * a * math.Sin(2*math.Pi*mains*float64(m+1)*float64(i)/testRate+float64(m*m))
				}
			}
			for i := range x {
				x[i] += 0.01 * noise * r.NormFloat64()
			}
			if e, ok := Whole(x, testRate, Options{}); !ok || !e.Hum {
				t.Errorf("hum of %g Hz with noise: read as %.2f Hz (%v), hum %v", mains, float64(e.Hz), ok, e.Hum)
			}
		}
	}
}

// Who plays steadily on a line of the mains, as F4 is 4 cents below the seventh of 50 Hz
// (440·2^(-4/12) = 349.2), is no hum.
func TestNotesOnTheMains(t *testing.T) {
	for _, hz := range []pitch.Hertz{150, 180, 200, 240, 250, 300, 350, 400, 420, 450} {
		tn, err := tone.New(tone.Config{Rate: testRate, F0: hz, Level: -20, Seed: 3, Voice: tone.Horn, BreathDB: -45})
		if err != nil {
			t.Fatal(err)
		}
		x := make([]float64, testRate)
		tn.Read(x)
		e, ok := Whole(x, testRate, Options{})
		if off := float64(pitch.Between(hz, e.Hz)); !ok || math.Abs(off) > 0.1 || e.Hum {
			t.Errorf("%g Hz: off by %.3f cents (%v), taken for hum %v", float64(hz), off, ok, e.Hum)
		}
	}
}

// The nearest line of the mains is a multiple of 50 or 60, and none is nearer.
func TestNearestLine(t *testing.T) {
	for hz := 1.0; hz < 600; hz += 0.7 {
		got, best := mainsNear(hz), math.Inf(1)
		for k := 1.0; k < 14; k++ {
			best = min(best, math.Abs(hz-50*k), math.Abs(hz-60*k))
		}
		if math.Abs(math.Abs(hz-got)-best) > 1e-9 || math.Mod(got, 50) != 0 && math.Mod(got, 60) != 0 {
			t.Errorf("%g Hz: %g, the nearest is %g away", hz, got, best)
		}
	}
}

// A partial is hum where its line is the mains' and its place is not.
func TestPartialsThatAreHum(t *testing.T) {
	for _, c := range []struct {
		f     float64
		k     int
		cents float64 // beside k f
		want  bool
	}{
		{48, 2, 1200 / math.Ln2 * (100.0/96 - 1), true}, // 96 Hz, and 100 is heard
		{50, 2, 0, false}, // its own place is the line
		{48, 2, 0, false}, // where it belongs
		{58.3, 2, 1200 / math.Ln2 * (120/116.6 - 1), true}, // 116.6, and 120
		{58.3, 2, 1200 / math.Ln2 * (119/116.6 - 1), false},
		{590, 1, 1200 / math.Ln2 * (600.0/590 - 1), false}, // no hum is so high
	} {
		p := partialsAt([]float64{c.cents}, []float64{1})[0]
		p.k = c.k
		if got := p.isHum(c.f, 10, 90); got != c.want {
			t.Errorf("partial %d of %g Hz, %.1f cents beside: hum %v", c.k, c.f, c.cents, got)
		}
	}
}
