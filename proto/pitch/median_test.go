package pitch_test

import (
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat"

	"bellrow/proto/pitch"
)

// TestMedian: half of all values lie on either side (gonum's empirical quantiles
// from below and from above bound it), the order of xs is nothing, and xs stays.
func TestMedian(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for n := 1; n < 40; n++ {
		xs := make([]float64, n)
		for i := range xs {
			xs[i] = float64(r.IntN(9))
		}
		was := slices.Clone(xs)
		got := pitch.Median(xs)
		if !slices.Equal(xs, was) {
			t.Fatalf("%v was changed to %v", was, xs)
		}
		slices.Sort(xs)
		low := stat.Quantile(0.5, stat.Empirical, xs, nil)
		for i := range xs {
			xs[i] = -xs[i]
		}
		slices.Sort(xs)
		high := -stat.Quantile(0.5, stat.Empirical, xs, nil)
		if got != (low+high)/2 {
			t.Errorf("median of %v is %g, need %g", was, got, (low+high)/2)
		}
	}
	if got := pitch.Median[pitch.Cents](nil); got != 0 {
		t.Errorf("median of nothing is %g", got)
	}
}
