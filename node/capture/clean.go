package capture

import "math"

// clean copies src to dst, holding samples at full scale and putting 0 in
// place of what is not a number. It returns the filled part of dst.
func clean[S ~float32 | ~float64](dst []float64, src []S) []float64 {
	dst = dst[:len(src)]
	for i, s := range src {
		x := float64(s)
		if math.IsNaN(x) || math.IsInf(x, 0) {
			x = 0
		}
		dst[i] = min(max(x, -1), 1)
	}
	return dst
}
