package tone

import (
	"math"

	"bellrow/proto/pitch"
)

// Scoop starts depth away (negative is below) and closes in with the given
// time constant in seconds.
func Scoop(depth pitch.Cents, seconds float64) func(float64) pitch.Cents {
	return func(t float64) pitch.Cents {
		return depth * pitch.Cents(math.Exp(-t/seconds))
	}
}

// Fall is level until from seconds and then moves by centsPerSecond.
func Fall(from float64, centsPerSecond float64) func(float64) pitch.Cents {
	return func(t float64) pitch.Cents {
		return pitch.Cents(centsPerSecond * math.Max(0, t-from))
	}
}
