package tone

import (
	"math"
	"math/rand/v2"
)

// breathCorner is where breath noise begins to fall, in Hz.
const breathCorner = 3000

// breath is the player's air: noise that falls off above breathCorner.
type breath struct {
	gain, keep, state float64
}

func newBreath(c Config, _ *rand.Rand) breath {
	if c.BreathDB == 0 {
		return breath{}
	}
	keep := math.Exp(-2 * math.Pi * breathCorner / c.Rate)
	// RMS relative to a tone of RMS 1/√2, corrected for the low-pass filter.
	rms := math.Pow(10, c.BreathDB/20) / math.Sqrt2
	return breath{gain: rms * math.Sqrt((1+keep)/(1-keep)), keep: keep}
}

func (b *breath) next(random *rand.Rand) float64 {
	if b.gain == 0 {
		return 0
	}
	b.state = b.keep*b.state + (1-b.keep)*random.NormFloat64()
	return b.gain * b.state
}
