package pitch

import "slices"

// Median is the middle of xs, of an even number half way between the two in the
// middle, and 0 of none. xs is left as it is.
func Median[T ~float64](xs []T) T {
	if len(xs) == 0 {
		return 0
	}
	s := slices.Sorted(slices.Values(xs))
	return (s[(len(s)-1)/2] + s[len(s)/2]) / 2
}
