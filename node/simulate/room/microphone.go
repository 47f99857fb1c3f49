package room

import (
	"math"
	"math/rand/v2"

	"bellrow/proto/pitch"
)

// microphone colours and resamples what arrives at it.
type microphone struct {
	m     Mic
	gain  float64
	hp    [2]section
	rng   *rand.Rand
	agc   float64 // present automatic gain in dB
	mean  float64 // smoothed power for the automatic gain
	decay float64
	clock resampler
}

// newMicrophone sets up microphone i.
func newMicrophone(cfg Config, i int) microphone {
	m := cfg.Mics[i]
	mic := microphone{
		m:     m,
		gain:  math.Pow(10, (m.GainDB+cfg.LevelDB)/20),
		rng:   rand.New(rand.NewPCG(cfg.Seed, 0x6d6963+uint64(i))),
		decay: math.Exp(-1 / (0.5 * cfg.Rate)),
		clock: newResampler(m.PPM, m.Start*cfg.Rate),
	}
	mic.hp[0] = highPass(m.HighPass, cfg.Rate)
	return mic
}

// Automatic gain: towards −20 dBFS, at most 6 dB either way, 3 dB a second.
const (
	agcTarget = -20.0
	agcRange  = 6.0
	agcSpeed  = 3.0
)

// feed takes a block at the room's clock.
func (m *microphone) feed(wet []float64) {
	for _, v := range wet {
		v = m.hp[0].next(v * m.gain)
		if m.m.AGC {
			v = m.automatic(v)
		}
		m.clock.push(v)
	}
}

// automatic applies slow gain; the speed is per sample at 48 kHz or near it.
func (m *microphone) automatic(v float64) float64 {
	m.mean = m.decay*m.mean + (1-m.decay)*v*v
	want := agcTarget - float64(pitch.LevelOf(math.Sqrt(m.mean)))
	want = max(-agcRange, min(agcRange, want))
	m.agc += max(-1, min(1, want-m.agc)) * agcSpeed * (1 - m.decay) / 2
	return v * math.Pow(10, m.agc/20)
}

// take delivers samples at the microphone's own clock, with its own noise,
// clipped at full scale, and returns how many there were.
func (m *microphone) take(dst []float64) int {
	n := m.clock.pull(dst)
	for i := range dst[:n] {
		if m.m.Noise > 0 {
			dst[i] += m.m.Noise * m.rng.NormFloat64()
		}
		dst[i] = max(-1, min(1, dst[i]))
	}
	return n
}

// section is a second-order filter, direct form 2 transposed.
type section struct {
	b0, b1, b2, a1, a2, z1, z2 float64
}

// highPass is a Butterworth high-pass by the bilinear transform.
func highPass(corner, rate float64) section {
	if corner <= 0 {
		return section{b0: 1}
	}
	k := math.Tan(math.Pi * corner / rate)
	norm := 1 / (1 + math.Sqrt2*k + k*k)
	return section{b0: norm, b1: -2 * norm, b2: norm, a1: 2 * (k*k - 1) * norm, a2: (1 - math.Sqrt2*k + k*k) * norm}
}

func (s *section) next(x float64) float64 {
	y := s.b0*x + s.z1
	s.z1 = s.b1*x - s.a1*y + s.z2
	s.z2 = s.b2*x - s.a2*y
	return y
}
