package accuracy

import "math"

// resampled returns x played faster by ratio (above 1 is sharper), by a
// windowed sinc of 32 points a side.
func resampled(x []float64, ratio float64) []float64 {
	const side = 32
	out := make([]float64, int(float64(len(x)-2*side)/ratio))
	for i := range out {
		at := float64(i)*ratio + side
		base := int(math.Floor(at))
		frac := at - float64(base)
		sum := 0.0
		for j := -side + 1; j <= side; j++ {
			t := float64(j) - frac
			if base+j < 0 || base+j >= len(x) {
				continue
			}
			w := 0.5 + 0.5*math.Cos(math.Pi*t/side)
			if t != 0 {
				w *= math.Sin(math.Pi*t) / (math.Pi * t)
			}
			sum += w * x[base+j]
		}
		out[i] = sum
	}
	return out
}
