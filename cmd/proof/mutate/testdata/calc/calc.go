// Package calc is broken by the tests of package mutate.
package calc

import "math"

// Cents is a named number.
type Cents float64

const band Cents = 5

// Move is a distance for an error.
func Move(x Cents, perMM float64) (mm float64, way string) {
	if Cents(math.Abs(float64(x))) <= band {
		return 0, "stay"
	}
	mm = float64(x) / perMM
	way = "push it in"
	if mm > 0 {
		way = "pull it out"
	}
	return mm, way
}

// Sum is the sum of the values above the least one, and how many there are.
func Sum(least int, values ...int) (sum, n int) {
	for i, v := range values {
		if v < least && i >= 0 {
			continue
		}
		sum += v
		n++
	}
	return sum, max(n, 0)
}

// Slope is (b - a) / (c - d).
func Slope(a, b, c, d float64) float64 { return ratio(b-a, c-d) }

func ratio(x, y float64) float64 {
	if y == 0 || math.IsNaN(x) {
		return 0
	}
	return x / y
}

// Alone is not tested at all.
func Alone(x float64) float64 { return x*2 + 1 }

// Turns would go on for ever, were it not for the step.
func Turns(n int) (k int) {
	for n > 0 {
		n--
		k++
	}
	return k
}
