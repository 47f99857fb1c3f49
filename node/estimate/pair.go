package estimate

import (
	"math"

	"bellrow/proto/pitch"
)

// A neighbour in the same microphone pulls a one-source fit by up to its whole
// distance, and a bright one takes it over, because the upper partials tell
// most of the pitch. So a second source is tried whenever one leaves something
// to explain, and afterwards the sources are told apart by their total power,
// never by the upper partials.

const (
	// secondReach is how far from the first the second source is sought, in
	// cents: players in one section tuning the same note are nearer.
	secondReach = 50.0
	// secondNearest is how near the second source may lie, in cents, where one
	// source is not lost: what is nearer beats slower than a stretch can tell
	// from the player's own wander.
	secondNearest = 1.0
	// secondRounds bounds the steps of the fit that is left, of which one in a
	// hundred needs more, and secondHz its wander: two vibratos at once are
	// nobody's tuning note.
	secondRounds = 20
	secondHz     = 7.0
	// secondFaintest is the share of the energy that must be left over for a
	// second source to be worth looking for: -37 dB pulls by less than a tenth
	// of a cent. It is not held against the noise: between the partials of a low
	// note the window's side lobes look like noise, and a neighbour that beats
	// less than once in the stretch leaves no more than they do.
	secondFaintest = 2e-4
	// secondGain is how much more evidence two sources need than one, in
	// nepers: a player's own unsteadiness never fits the model exactly, and
	// what is left over must not become a ghost.
	secondGain = 20.0
)

// withSecond returns the better of the one-source fit m and a two-source fit.
func (m *model) withSecond() *model {
	if m.unexplainedShare() < secondFaintest {
		return m
	}
	first := m.screen()
	if first == nil {
		return m
	}
	two := newModel(m.frames.clone(), secondHz, first.pitches...)
	two.fit(secondRounds)
	apart := math.Abs(two.sources[0].c[0] - two.sources[1].c[0])
	near := apart < secondNearest && !m.lost()
	if near || apart > 2*secondReach || two.score() < m.score()+secondGain {
		return m
	}
	return two
}

// unexplainedShare is the share of the energy that the fit leaves over.
func (m *model) unexplainedShare() float64 {
	left, all := 0.0, 0.0
	for b := range m.bands {
		left += m.left[b]
		all += m.bands[b].power
	}
	return left / max(all, 1e-300)
}

// score is the log evidence of a fit, with the noise of each band unknown: the
// likelihood with each noise at its best, what the pitches' prior costs, and
// what the amplitudes' does.
func (m *model) score() float64 {
	sum := -m.penalty()
	for b := range m.bands {
		band := &m.bands[b]
		sum -= band.dof * math.Log(max(m.left[b], band.least*band.dof))
		q := 1 / (1 + band.weight*band.power)
		if len(m.sources) == 1 {
			sum -= math.Log((1 + q) / q)
		} else {
			rho := power(m.overlap[b]) / (m.energy * m.energy)
			sum -= math.Log(((1+q)*(1+q) - rho) / (q * q))
		}
	}
	prior := m.withPrior()
	logDet, ok := m.equation.a.factorize()
	if !ok {
		return math.Inf(-1)
	}
	return sum + 0.5*(prior-logDet)
}

// loudness is the total power of source i.
func (m *model) loudness(i int) float64 {
	sum := 0.0
	for _, a := range m.sources[i].a {
		sum += power(a)
	}
	return sum
}

// louder returns which source is the louder.
func (m *model) louder() int {
	if len(m.sources) == 2 && m.loudness(1) > m.loudness(0) {
		return 1
	}
	return 0
}

// second describes the source that is not the reading's.
func (m *model) second() *Second {
	if len(m.sources) < 2 {
		return nil
	}
	i := m.louder()
	own, other := m.sources[i], m.sources[1-i]
	ratio := m.loudness(1-i) / max(m.loudness(i), 1e-300)
	return &Second{
		Offset:  pitch.Between(m.hertz(own), m.hertz(other)),
		LevelDB: 10 * math.Log10(max(ratio, 1e-12)),
	}
}

// hertz is the mean pitch of s; the model is linear in frequency.
func (m *model) hertz(s source) pitch.Hertz {
	return pitch.Hertz(m.hz * (1 + s.c[0]*math.Ln2/1200))
}
