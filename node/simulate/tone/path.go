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

// Step moves by step cents at the given time, within 20 ms: the second note of
// a slur.
func Step(at float64, step pitch.Cents) func(float64) pitch.Cents {
	const slur = 0.02
	return func(t float64) pitch.Cents {
		x := math.Min(1, math.Max(0, (t-at)/slur))
		return step * pitch.Cents(x*x*(3-2*x))
	}
}

// Together adds paths.
func Together(paths ...func(float64) pitch.Cents) func(float64) pitch.Cents {
	return func(t float64) pitch.Cents {
		sum := pitch.Cents(0)
		for _, p := range paths {
			sum += p(t)
		}
		return sum
	}
}
