package estimate

import (
	"math"
	"math/cmplx"
)

// blocks is how many stretches of time the interval's robust part compares.
const blocks = 8

// deviation returns the standard error of the louder source's mean pitch in
// cents: the larger of the posterior's and the one that residuals correlated
// within blocks of time would give (the infinitesimal jackknife over blocks,
// Efron and Tibshirani, An Introduction to the Bootstrap, 1993, chapter 21).
func (m *model) deviation(e *normal) (float64, bool) {
	a, row := newSymmetric(m.params()), make([]float64, m.params())
	m.withPrior(e, a)
	if _, ok := a.factorize(); !ok {
		return 0, false
	}
	own := m.louder() * (m.wanders + 1)
	row[own] = 1
	a.solve(row)
	posterior := math.Sqrt(max(0, row[own]))
	return math.Max(posterior, m.jackknife(row)), true
}

// jackknife sums each block's pull on the mean pitch.
func (m *model) jackknife(row []float64) float64 {
	n, js := len(m.time), m.wanders+1
	sum := 0.0
	var pulls [blocks]float64
	for f, t := range m.time {
		b := min(blocks-1, max(0, int(t/m.seconds*blocks)))
		for i, s := range m.sources {
			lever := 0.0
			for j := range js {
				lever += row[i*js+j] * m.basis[j][f]
			}
			for q := range m.bands {
				d := s.a[q] * m.turned[i][q*n+f] * complex(float64(m.bands[q].k)*m.edge[f], 0)
				pulls[b] += 2 * m.bands[q].weight * lever * imag(cmplx.Conj(d)*m.rest[q*n+f])
			}
		}
	}
	for _, p := range pulls {
		sum += p * p
	}
	return math.Sqrt(sum)
}
