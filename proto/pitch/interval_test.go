package pitch_test

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"

	"bellrow/proto/pitch"
)

// Two centres alike differ by what a reading's interval says, in 95 of 100 (normal
// quantile: gonum); what comes of an interval leads back to it.
func TestIntervals(t *testing.T) {
	for _, c := range []pitch.Cents{0, 0.3, 1, 7.5, 15} {
		step := math.Hypot(c.CentreSD(), c.CentreSD())
		if want := distuv.UnitNormal.Quantile(0.975) * step; math.Abs(float64(c)-want) > 1e-4*want {
			t.Errorf("±%g: the step has an SD of %g, 95 of 100 within %g", c, step, want)
		}
		back := pitch.IntervalOf(c.CentreSD())
		mean := pitch.IntervalOfMean(c.CentreCI95())
		ofMean := float64(c.CentreCI95()) / math.Abs(c.CentreSD())
		if math.Abs(float64(back-c)) > 1e-12 || math.Abs(float64(mean-c)) > 1e-12 || c > 0 && math.Abs(ofMean-1.96) > 1e-9 {
			t.Errorf("±%g comes back as %g and %g, %g standard deviations", c, back, mean, ofMean)
		}
	}
}
