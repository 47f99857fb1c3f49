package estimate

import (
	"math"
	"math/rand/v2"
)

// Recorded notes that move: played at a speed that changes, so that the
// movement is known and the rest of the note stays real.

// motion draws one path: cents above the note at a time in seconds.
type motion struct {
	name string
	// rests: the note has a centre, which a reading should give.
	rests bool
	path  func(random *rand.Rand) func(seconds float64) float64
}

func either(random *rand.Rand) float64 { return float64(1 - 2*random.IntN(2)) }

var motions = []motion{
	{"trend of 8 to 40 cents/s", false, func(r *rand.Rand) func(float64) float64 {
		slope := either(r) * 8 * math.Pow(5, r.Float64())
		return func(t float64) float64 { return slope * t }
	}},
	{"stairs of 10 to 30 cents", false, func(r *rand.Rand) func(float64) float64 {
		step, long := either(r)*(10+20*r.Float64()), 0.4+0.5*r.Float64()
		return func(t float64) float64 {
			at := math.Floor(t / long)
			turn := min(1, (t/long-at)*long/0.04) // 40 ms on the way
			return step * (at - 1 + turn)
		}
	}},
	{"fall that quickens, 25 to 80 cents", false, func(r *rand.Rand) func(float64) float64 {
		depth := 25 + 55*r.Float64()
		return func(t float64) float64 { u := t / 3.6; return -depth * u * (0.4 + 0.6*u) }
	}},
	{"sway of ±5 to ±12 in 2 to 4 s", true, func(r *rand.Rand) func(float64) float64 {
		depth, period, phase := 5+7*r.Float64(), 2+2*r.Float64(), 2*math.Pi*r.Float64()
		return func(t float64) float64 { return depth * math.Sin(2*math.Pi*t/period+phase) }
	}},
	{"gentle vibrato, ±4 to ±8", true, func(r *rand.Rand) func(float64) float64 {
		depth, hz := 4+4*r.Float64(), 4.5+1.5*r.Float64()
		return func(t float64) float64 { return depth * math.Sin(2*math.Pi*hz*t) * min(1, t/0.5) }
	}},
}

// moved plays note along path: sound at 48 kHz and its true mean pitch.
func moved(note *practice, path func(float64) float64) (x []float64, truth func(from, to float64) float64) {
	// Where in the note each moment of the movement lies.
	at := []float64{0}
	for len(x) < len(note.samples) {
		now := at[len(at)-1]
		if now >= float64(len(note.samples)-1) {
			break
		}
		x = append(x, sampleAt(note.samples, now))
		at = append(at, now+math.Exp2(path(float64(len(x))/rate)/1200))
	}
	last := float64(len(at) - 1)
	place := func(seconds float64) float64 { return between(at, max(0, min(seconds*rate, last))) / rate }
	return x, func(from, to float64) float64 {
		// Cycles of the note in the stretch over the time they took.
		from, to = max(0, from), min(to, last/rate)
		a, b := place(from), place(to)
		return note.winding.mean(a, b) * (b - a) / max(1e-6, to-from)
	}
}
