package estimate

import (
	"cmp"
	"math"
	"math/cmplx"
	"slices"

	"gonum.org/v1/gonum/floats"
)

// A trace is the phase of the fundamental against the reference at each frame
// inside the stretch, put together from partials: the low ones first, whose
// phase cannot be mistaken for its neighbour turn, then each higher one against
// what is known so far, weighted as its phase tells of the pitch.

const (
	// traceSNR is the least power of a partial over its noise, per frame, to
	// take part: below it the phase slips.
	traceSNR = 10
	// tracePrior is the scale of the wander assumed when the trace is drawn
	// into the model's basis, in cents: loose.
	tracePrior = 20
)

// trace returns the start of a fit: the pitch parameters of one source that
// follow the stretch's phase.
func (m *model) trace() []float64 { return m.traceOf(m.bands) }

// traceStrongest is trace by the strongest partial alone, which is nearly
// always the louder source's: a neighbour who owns others does not mix his
// phase into it.
func (m *model) traceStrongest() []float64 {
	strongest := slices.MaxFunc(m.bands, func(a, b band) int { return cmp.Compare(a.power, b.power) })
	return m.traceOf([]band{strongest})
}

func (m *model) traceOf(bands []band) []float64 {
	psi := make([]float64, len(m.time))
	weight := 0.0
	for b := range bands {
		band := &bands[b]
		snr := band.power / (band.floor * band.dof)
		if snr < traceSNR {
			continue
		}
		w := float64(band.k*band.k) * snr
		rest, ok := m.unwrap(band, psi)
		if !ok && weight > 0 {
			continue
		}
		weight += w
		for f := range psi {
			psi[f] += rest[f] / float64(band.k) * w / weight
		}
	}
	return m.draw(psi)
}

// unwrap follows the phase of a band against k ψ; ok is false when it jumps,
// so that turns may have been miscounted.
func (m *model) unwrap(b *band, psi []float64) (rest []float64, ok bool) {
	k := float64(b.k)
	rest = make([]float64, len(psi))
	last := complex(0, 0)
	turn, jumps := 0.0, 0
	for f, z := range b.z {
		if !m.inside(f) {
			rest[f] = turn
			continue
		}
		v := z * cmplx.Rect(1, -k*psi[f])
		if last != 0 {
			d := cmplx.Phase(v * cmplx.Conj(last))
			if math.Abs(d) > 1.5 {
				jumps++
			}
			turn += d
		}
		rest[f] = turn
		last = v
	}
	// Its own beginning is no news.
	mean := 0.0
	for _, v := range rest {
		mean += v / float64(len(rest))
	}
	for f := range rest {
		rest[f] -= mean
	}
	return rest, jumps == 0
}

// phaseVariance is what a frame's phase is taken to be good to when a trace is
// drawn into the basis: a hundredth of a radian.
const phaseVariance = 1e-4

// drawing factorises the equations of draw: the regularised least squares of a
// phase by the given functions and a constant over the frames inside.
func (g *grid) drawing(rows [][]float64) symmetric {
	js := len(rows)
	a := newSymmetric(js + 1)
	masked := make([]float64, len(g.time))
	for j := range js + 1 {
		for f := range masked {
			switch {
			case !g.inside(f):
				masked[f] = 0
			case j == js:
				masked[f] = 1
			default:
				masked[f] = rows[j][f]
			}
		}
		for q := range min(j+1, js) {
			a.add(j, q, floats.Dot(masked, rows[q]))
		}
	}
	a.add(js, js, floats.Sum(masked))
	for j := 1; j < js; j++ {
		a.add(j, j, phaseVariance*order(j)/(tracePrior*tracePrior))
	}
	if _, ok := a.factorize(); !ok {
		return symmetric{}
	}
	return a
}

// draw fits the basis to a phase.
func (m *model) draw(psi []float64) []float64 {
	js := m.wanders + 1
	y := make([]float64, js+1)
	if m.drawn.n == 0 {
		return y[:js]
	}
	for f := range psi {
		if !m.inside(f) {
			psi[f] = 0
		}
	}
	for j, row := range m.rows {
		y[j] = floats.Dot(row, psi)
	}
	y[js] = floats.Sum(psi)
	m.drawn.solve(y)
	return y[:js]
}
