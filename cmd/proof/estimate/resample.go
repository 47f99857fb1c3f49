package estimate

import "math"

// resampleSide is the half length of the interpolation, in samples.
const resampleSide = 32

// resampled returns x played faster by ratio (above 1 is sharper), by a
// windowed sinc; the first sample out is x[resampleSide].
func resampled(x []float64, ratio float64) []float64 {
	out := make([]float64, int(float64(len(x)-2*resampleSide)/ratio))
	for i := range out {
		at := float64(i)*ratio + resampleSide
		base := int(math.Floor(at))
		frac := at - float64(base)
		sine, sum := -math.Sin(math.Pi*frac), 0.0
		for j := -resampleSide + 1; j <= resampleSide; j++ {
			t := float64(j) - frac
			if base+j < 0 || base+j >= len(x) {
				continue
			}
			// sin π(j - frac) is ±sin π frac: one sine serves all points.
			w := 0.5 + 0.5*math.Cos(math.Pi*t/resampleSide)
			if frac > 1e-12 {
				w *= sine / (math.Pi * t) * float64(1-2*(j&1))
			} else if j != 0 {
				w = 0
			}
			sum += w * x[base+j]
		}
		out[i] = sum
	}
	return out
}
