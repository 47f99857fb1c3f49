package tone

import (
	"math"
	"math/rand/v2"
)

// wanderCorners are the corner frequencies, in Hz, of the first-order noises
// whose sum has a spectrum near 1/f from a fifth of a hertz to 15 Hz (Voss and
// Clarke, 1978, on 1/f noise as a sum of relaxation processes).
var wanderCorners = [...]float64{0.2, 0.6, 1.8, 5, 15}

// wander is a random signal of unit RMS and 1/f character.
type wander struct {
	value  float64
	states [len(wanderCorners)]float64
	keep   [len(wanderCorners)]float64
}

func newWander(random *rand.Rand, rate float64) wander {
	var w wander
	for i, corner := range wanderCorners {
		w.keep[i] = math.Exp(-2 * math.Pi * corner / rate)
		w.states[i] = random.NormFloat64()
	}
	w.sum()
	return w
}

func (w *wander) step(random *rand.Rand) {
	for i, keep := range w.keep {
		w.states[i] = keep*w.states[i] + math.Sqrt(1-keep*keep)*random.NormFloat64()
	}
	w.sum()
}

func (w *wander) sum() {
	total := 0.0
	for _, s := range w.states {
		total += s
	}
	w.value = total / math.Sqrt(float64(len(w.states)))
}
