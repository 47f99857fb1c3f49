package ensemble

import (
	"math"
	"math/rand/v2"
	"testing"

	"bellrow/hub/attribute"
	"bellrow/proto/pitch"
)

// TestFourFifthsSound: however the chairs begin and end, at least four fifths of them have begun where the common stretch
// begins and four fifths sound until it ends, and one more moment at either side would be too many; a short one is
// made as long as a window must be, evenly on both sides.
func TestFourFifthsSound(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 1))
	for n := 1; n <= 24; n++ {
		for range 40 {
			starts, ends := make([]float64, n), make([]float64, n)
			for i := range n {
				starts[i] = rng.Float64() * 2
				ends[i] = 4 + rng.Float64()*3
			}
			begun := func(at float64) (k int) {
				for i := range n {
					if starts[i] <= at {
						k++
					}
				}
				return k
			}
			ended := func(at float64) (k int) {
				for i := range n {
					if ends[i] < at {
						k++
					}
				}
				return k
			}
			from, to := commonStretch(append([]float64(nil), starts...), append([]float64(nil), ends...))
			need := 1 + (n-1)*4/5 // who has begun, whoever comes last apart
			if begun(from) < need || begun(math.Nextafter(from, 0)) >= need || 5*ended(to) > n || 5*(ended(math.Nextafter(to, 99))) <= n-5 {
				t.Errorf("%d chairs: %d have begun at %g and %d have ended at %g", n, begun(from), from, ended(to), to)
			}
			short := rng.Float64() * 0.8
			a, b := commonStretch([]float64{3}, []float64{3 + short})
			if math.Abs(b-a-0.8) > 1e-9 || math.Abs((a+b)/2-3-short/2) > 1e-9 {
				t.Errorf("of %g s the window lasts from %g to %g", short, a, b)
			}
		}
	}
	if from, to := commonStretch(nil, nil); from != 0 || to != 0 {
		t.Errorf("nobody sounds from %g to %g", from, to)
	}
	if _, _, ok := (Chair{}).stretch(5); ok {
		t.Error("a chair of which nothing is known has sounded")
	}
}

// TestAChairIsDescribedByItsLastTracks: the pace of its sound card and the noise in its room go along, be it that one
// stretch of tracks has come or many, and the tracks themselves.
func TestAChairIsDescribedByItsLastTracks(t *testing.T) {
	n := node{3, 70, 48000}
	for chunks := 1; chunks <= 3; chunks++ {
		c := played(1, 100, 103, n)
		c.Clock.Take(n.ping(300, 98, 0.002))
		c.Chunks = c.Chunks[:chunks]
		for i := range c.Chunks {
			c.Chunks[i].Floor = pitch.Level(-50 - i)
		}
		got := c.described()
		ppm, doubt := c.Clock.PPM(n.rate)
		zero, _ := c.Clock.Zero(n.rate)
		if math.Abs(got.PPM-n.ppm) > 1 || got.PPM != ppm || got.PPMError != doubt || doubt == 0 || got.Zero != zero || got.Floor != pitch.Level(-49-chunks) || len(got.Chunks) != chunks || !got.Able {
			t.Errorf("%d stretches: %+v", chunks, got)
		}
	}
	if got := (Chair{ID: 1, Expected: 233, Believed: 4, Doubt: 2, Baseline: -20}).described(); got.ID != 1 || got.Expected != 233 || got.Believed != 4 || got.Doubt != 2 || got.Baseline != -20 || got.Able {
		t.Errorf("without tracks: %+v", got)
	}
}

// TestAllLieNearTheReference: every tone lies within 20 cents of a multiple of the reference, which is one of: the lowest
// tone, the root or an octave below it, not under 25 Hz and not above the lowest tone, or the grid.
func TestAllLieNearTheReference(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 2))
	named := 0
	for range 4000 {
		root := pitch.Reference{}.Frequency(pitch.Note(22 + rng.IntN(24)))
		var tones []pitch.Hertz
		for range 1 + rng.IntN(5) {
			tones = append(tones, (root * pitch.Hertz(1+rng.IntN(6))).Shift(pitch.Cents(14*rng.NormFloat64())))
		}
		above := root
		for range rng.IntN(6) {
			above *= 2
		}
		got := Reference(tones, above)
		low := math.Inf(1)
		for _, f := range tones {
			low = min(low, float64(f))
		}
		off := func(ref pitch.Hertz) (worst float64) {
			for _, f := range tones {
				k := math.Max(1, math.Round(float64(f/ref)))
				worst = math.Max(worst, math.Abs(1200*math.Log2(float64(f)/float64(ref)/k)))
			}
			return worst
		}
		if got == Grid {
			for r := above; r >= 25; r /= 2 { // nothing else would do
				if 1200*math.Log2(float64(r)/low) <= 20 && off(r) <= 20 {
					t.Errorf("%v on %.2f Hz: the grid, though %.3f Hz would do", tones, float64(above), float64(r))
				}
			}
			continue
		}
		named++
		octaves := math.Log2(float64(above / got))
		if off(got) > 20+1e-9 || float64(got) < 25 && float64(got) != low || 1200*math.Log2(float64(got)/low) > 20+1e-9 || float64(got) != low && octaves != math.Round(octaves) {
			t.Errorf("%v on %.2f Hz: %.3f Hz, %.1f cents off", tones, float64(above), float64(got), off(got))
		}
	}
	if named < 1000 {
		t.Errorf("%d of 4000 have another than the grid", named)
	}
}

// TestNobodyIsHeardFromNobody: without chairs nothing is asked at any time.
func TestNobodyIsHeardFromNobody(t *testing.T) {
	var w attribute.Input
	Input{}.Fit(&asked{answer: func(_ int, in attribute.Input) attribute.Result { w = in; return attribute.Result{} }}, nil)
	if w.Start != 0 || w.End != 0 || len(w.Chairs) != 0 {
		t.Errorf("%+v", w)
	}
}
