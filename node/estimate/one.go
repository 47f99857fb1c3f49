package estimate

import "bellrow/node/settle"

// maxRounds bounds the Gauss–Newton steps of a fit; five are usual.
const maxRounds = 12

// single returns the best fit of one source: from the pitch of all partials, and
// where that explains little or wanders far, because two sources or noise confuse it,
// from the best steady pitch. Where both are lost, from the strongest partial, which
// is nearly always the louder source's, and taken if it explains more of the power: the
// evidence is for whoever owns the upper partials.
func (f *frames) single(all, strongest []float64) *model {
	m := f.from(all)
	if m.unexplainedShare() < poorShare && m.wander(0) < farWander {
		return m
	}
	m = better(m, f.from(f.bestSteady()))
	if m.lost() {
		if s := f.from(strongest); s.unexplainedShare() < m.unexplainedShare() {
			return s
		}
	}
	return m
}

// alike returns the pitch parameters of a source whose pitch goes like track, in
// cents, over the stretch.
func (f *frames) alike(track []float64) []float64 {
	c := make([]float64, len(f.basisTo(wanderHz).rows))
	for _, v := range track {
		c[0] += v / float64(len(track))
	}
	for j := 1; polynomials+j < len(c); j++ {
		c[polynomials+j] = settle.HalfWave(track, j)
	}
	return c
}

// lost reports whether one source follows nobody, or the quieter of two.
func (m *model) lost() bool { return m.unexplainedShare() > lostShare }

// from returns the fit of one source from a start.
func (f *frames) from(start []float64) *model {
	m := newModel(f.clone(), wanderHz, start)
	return m.fit(maxRounds)
}

// better returns the fit with more evidence, a where they are equal.
func better(a, b *model) *model {
	if b.score() > a.score() {
		return b
	}
	return a
}

const (
	// farWander is the RMS wander, in cents, beyond which a traced fit is not
	// taken without comparison: it is a vibrato, or the trace slipped.
	farWander = 4
	// poorShare is how much a fit may leave over before another start is tried.
	poorShare = 0.1
	// lostShare is how much a fit may leave over and yet follow the louder
	// source: a neighbour at -6 dB leaves a fifth. What leaves more follows the
	// neighbour, or has miscounted turns.
	lostShare = 0.22
)
