package estimate

import "math"

// The model's partials keep their strength. A player swells, and the automatic
// gain of a laptop wanders by more; what all partials do alike is taken out of
// the samples before they are fitted again. Two players' beating is not: it is
// another in each partial.

const (
	// unevenShare is how much of the energy must be left over for a gain to be
	// looked for: 1 dB either way leaves half as much.
	unevenShare = 0.02
	// evenedShare is how much of what was left over a common gain may leave for
	// it to be one: measured, 0.25 at most under a gain that wanders by 6 dB
	// either way, and 0.55 at least in 723 mixes of two players.
	evenedShare = 0.35
	// levelSeconds is the time over which the gain is averaged: automatic gains
	// and swelling notes are slower.
	levelSeconds = 0.08
	// faintestLevel bounds the gain from below: what is 20 dB down is no part
	// of a held note.
	faintestLevel = 0.1
)

// level returns the gain that all partials share at the frames, against its
// mean; ok is false where there is none or it explains too little.
func (m *model) level() (gain []float64, ok bool) {
	if m.unexplainedShare() < unevenShare {
		return nil, false
	}
	n := len(m.time)
	pull, own := make([]float64, n), make([]float64, n)
	for b := range m.bands {
		z, shape, a := m.bands[b].z, m.band(m.sources[0].shapes, b), m.sources[0].a[b]
		for f, e := range shape {
			heard := a * e
			pull[f] += real(z[f])*real(heard) + imag(z[f])*imag(heard)
			own[f] += power(heard)
		}
	}
	gain = m.smoothLevel(pull, own)
	before, after := 0.0, 0.0
	for b := range m.bands {
		z, shape, a := m.bands[b].z, m.band(m.sources[0].shapes, b), m.sources[0].a[b]
		for f, e := range shape {
			before += power(z[f] - a*e)
			after += power(z[f] - complex(gain[f], 0)*a*e)
		}
	}
	return gain, after < evenedShare*before
}

// smoothLevel is pull over own, both averaged around each frame inside.
func (m *model) smoothLevel(pull, own []float64) []float64 {
	reach := int(levelSeconds / 2 / m.tick)
	gain := make([]float64, len(pull))
	for f := range gain {
		p, o := 0.0, 0.0
		for i := max(0, f-reach); i <= min(len(pull)-1, f+reach); i++ {
			p, o = p+pull[i], o+own[i]
		}
		gain[f] = max(faintestLevel, p/max(o, 1e-300))
	}
	return gain
}

// evened returns x, at the given rate, with the gain at the frames taken out.
func (m *model) evened(x []float64, rate float64, gain []float64) []float64 {
	out := make([]float64, len(x))
	for i, v := range x {
		at := (float64(i)/rate - m.time[0]) / m.tick
		f := min(int(at), len(gain)-2)
		part := math.Min(1, at-float64(f))
		out[i] = v / (gain[f] + part*(gain[f+1]-gain[f]))
	}
	return out
}
