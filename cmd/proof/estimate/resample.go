package estimate

import "math"

// resampleSide is the half length of the interpolation, in samples.
const resampleSide = 32

// hannTurns are the cosine and sine of the window's angle at whole samples.
var hannTurns = func() (turns [2 * resampleSide][2]float64) {
	for i := range turns {
		s, c := math.Sincos(math.Pi * float64(i-resampleSide+1) / resampleSide)
		turns[i] = [2]float64{c, s}
	}
	return turns
}()

// sampleAt reads x at a place between samples, by a windowed sinc. What lies
// outside of x is 0.
func sampleAt(x []float64, at float64) float64 {
	base := int(math.Floor(at))
	frac := at - float64(base)
	if frac < 1e-12 {
		if base < 0 || base >= len(x) {
			return 0
		}
		return x[base]
	}
	// sin π(j - frac) is ±sin π frac, and the window's cosine that of a
	// difference: one sine and cosine serve all points.
	sine := -math.Sin(math.Pi*frac) / math.Pi
	s, c := math.Sincos(math.Pi * frac / resampleSide)
	sum := 0.0
	for i := range 2 * resampleSide {
		j := i - resampleSide + 1
		if base+j < 0 || base+j >= len(x) {
			continue
		}
		window := 0.5 + 0.5*(hannTurns[i][0]*c+hannTurns[i][1]*s)
		sum += x[base+j] * window * sine / (float64(j) - frac) * float64(1-2*(j&1))
	}
	return sum
}

// resampled returns x played faster by ratio (above 1 is sharper); the first
// sample out is x[resampleSide].
func resampled(x []float64, ratio float64) []float64 {
	out := make([]float64, int(float64(len(x)-2*resampleSide)/ratio))
	for i := range out {
		out[i] = sampleAt(x, float64(i)*ratio+resampleSide)
	}
	return out
}
