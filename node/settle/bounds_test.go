package settle

import (
	"math"
	"testing"
)

// TestDeliberate: wider than wide and more even than evenShare, both.
func TestDeliberate(t *testing.T) {
	const little = 0.01
	for _, c := range []struct {
		extent, share float64
		want          bool
	}{
		{wide + little, evenShare + little, true}, {wide - little, evenShare + little, false}, {wide + little, evenShare - little, false},
		{60, 0.95, true}, {60, 0.8, false}, {10, 1, false}, {0, 0, false},
	} {
		if got := (Vibrato{Extent: c.extent, Share: c.share}).Deliberate(); got != c.want {
			t.Errorf("%g cents, %g of what moves: %v", c.extent, c.share, got)
		}
	}
}

// TestVibratoOfAnyLength: a swing is found at its rate and width, and none that is slower or quicker than
// players swing; of a track that is too short, or still, there is none. The same swing upside down, or
// about another pitch, is the same.
func TestVibratoOfAnyLength(t *testing.T) {
	const tick = 0.01
	swing := func(hz, extent, about float64, points int) []float64 {
		y := make([]float64, points)
		for i := range y {
			y[i] = about + extent/2*math.Sin(2*math.Pi*hz*tick*(float64(i)+0.5))
		}
		return y
	}
	for points := range 60 {
		for _, hz := range []float64{2, 4, 6, 8, 10} {
			v, found := VibratoOf(swing(hz, 40, 0, points), tick)
			if float64(points)*tick*maxVibratoHz < vibratoCycles && (found || v != (Vibrato{})) {
				t.Errorf("of %d points %+v", points, v)
			}
		}
		if v, found := VibratoOf(make([]float64, points), tick); found || v != (Vibrato{}) {
			t.Errorf("of %d points that do not move %+v", points, v)
		}
	}
	for _, seconds := range []float64{1, 1.5, 2.3, 3} {
		for _, hz := range []float64{0.5, 1.2, 1.9, 11, 13} {
			if v, found := VibratoOf(swing(hz, 40, 0, int(seconds/tick)), tick); found {
				t.Errorf("%g Hz for %g s: %+v", hz, seconds, v)
			}
		}
	}
	for _, hz := range []float64{3.2, 4, 5.5, 7, 8.3} {
		for _, seconds := range []float64{1, 1.5, 2.3, 3} {
			n := int(seconds / tick)
			v, found := VibratoOf(swing(hz, 40, 0, n), tick)
			if !found || math.Abs(v.RateHz-hz) > 0.1 || math.Abs(v.Extent-40) > 4 || v.Share > 1 || v.Share < 0.85 {
				t.Errorf("%g Hz of 40 cents for %g s: %+v, found %v", hz, seconds, v, found)
			}
			for what, other := range map[string][]float64{"upside down": swing(hz, -40, 0, n), "elsewhere": swing(hz, 40, 300, n)} {
				w, found := VibratoOf(other, tick)
				if !found || math.Abs(w.RateHz-v.RateHz) > 0.051 || math.Abs(w.Extent-v.Extent) > 1e-6 || math.Abs(w.Share-v.Share) > 0.02 {
					t.Errorf("%s: %+v, was %+v", what, w, v)
				}
			}
		}
	}
}

// TestWhatFollowsARestIsAsked: the piece right after it as much as any other.
func TestWhatFollowsARestIsAsked(t *testing.T) {
	const tick, off = 0.01, 20.0
	n := int(pieceSeconds / tick)
	for _, gap := range []int{0, n, 2 * n} { // points of the rest's own pitch in between
		track := make([]float64, 200)
		r := Of(track, 50, 200, tick)
		for range gap {
			track = append(track, 0)
		}
		for range n {
			track = append(track, off)
		}
		if got, want := r.elsewhere(track, 0, len(track), tick), off-r.Half; math.Abs(got-want) > 1e-9 {
			t.Errorf("%d points later: %g cents outside, want %g", gap, got, want)
		}
	}
}
