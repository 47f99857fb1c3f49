package estimate

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/floats"
)

// blocks is how many stretches of time the interval's robust part compares.
const blocks = 8

const (
	// blockExcess is how much more variance the blocks must show before they
	// are believed over the posterior: the 99th percentile of χ²/8 with eight
	// degrees of freedom, which independent noise exceeds once in a hundred.
	blockExcess = 2.51
	// quickSigmas is how significant a common wander too quick to follow must be
	// in a tone that is steady as far as it is followed. A pitch that wanders
	// does so quickly too.
	quickSigmas = 3.0
	// endsFactor is how much more than in the middle of a stretch the followed
	// phase is off at its ends, where it is known from one side only. Measured
	// on synthetic notes with jitter and on rendered notes.
	endsFactor = 3.0
	// leastError is the standard error, in cents, that no stretch goes below:
	// leaks and rounding leave clean tones off by as much.
	leastError = 0.0004
)

// deviation returns the standard error of the louder source's mean pitch in
// cents: the larger of the posterior's and the one that residuals correlated
// within blocks of time would give (the infinitesimal jackknife over blocks,
// Efron and Tibshirani, An Introduction to the Bootstrap, 1993, chapter 21).
func (m *model) deviation() (float64, bool) {
	a, row := m.equation.a, make([]float64, m.params())
	m.withPrior()
	if _, ok := a.factorize(); !ok {
		return 0, false
	}
	own := m.louder() * (m.wanders + 1)
	row[own] = 1
	a.solve(row)
	posterior := math.Sqrt(max(0, row[own]))
	se := posterior
	if j := m.jackknife(row); j*j > blockExcess*posterior*posterior {
		se = j
	}
	return math.Hypot(math.Hypot(se, leastError), m.ends()), true
}

// ends is what the wander too quick to be followed adds, in cents: the mean
// pitch is the phase at the end less the phase at the beginning, and both are
// off by as much as the common phase of all partials still moves. Its excess
// over what independent noise in the partials would give is the measure.
func (m *model) ends() float64 {
	n, own := len(m.time), m.louder()
	excess, stiffness, inside := 0.0, 0.0, 0
	for f := range n {
		if !m.inside(f) {
			continue
		}
		pull, bend := 0.0, 0.0
		for b := range m.bands {
			w := 2 * m.bands[b].weight
			d := m.sources[own].a[b] * m.sources[own].shapes[b*n+f] * complex(float64(m.bands[b].k), 0)
			pull += w * imag(cmplx.Conj(d)*m.rest[b*n+f])
			bend += w * power(d)
		}
		if bend > 0 {
			excess += pull * pull / bend
			stiffness += bend
			inside++
		}
	}
	if inside == 0 || stiffness == 0 {
		return 0
	}
	count := float64(inside)
	expected := m.bands[0].dof / m.energy
	quick, least := excess/count-expected, 0.0
	if m.sources[own].sigma <= steadySigma {
		least = quickSigmas * expected * math.Sqrt(2/count)
	}
	if quick <= least {
		return 0
	}
	return endsFactor * math.Sqrt(2*quick*count/stiffness) / (m.perCent() * m.seconds)
}

// jackknife sums each block's pull on the mean pitch.
func (m *model) jackknife(row []float64) float64 {
	n, js := len(m.time), m.wanders+1
	var pulls [blocks]float64
	lever := m.psi
	for i, s := range m.sources {
		m.phase(lever, row[i*js:(i+1)*js])
		for f, t := range m.time {
			pull := 0.0
			for q := range m.bands {
				d := s.a[q] * s.shapes[q*n+f] * complex(float64(m.bands[q].k), 0)
				pull += 2 * m.bands[q].weight * imag(cmplx.Conj(d)*m.rest[q*n+f])
			}
			pulls[min(blocks-1, max(0, int(t/m.seconds*blocks)))] += lever[f] * pull
		}
	}
	return floats.Norm(pulls[:], 2)
}
