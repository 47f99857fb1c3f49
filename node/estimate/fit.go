package estimate

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/floats"
)

// normal holds the Gauss–Newton equations of the pitches of all sources, the
// amplitudes projected out (Golub and Pereyra, SIAM J. Numer. Anal. 10 (1973),
// 413–432), and room to solve them.
type normal struct {
	n    symmetric
	grad []float64
	a    symmetric // scratch
	move []float64 // scratch
	old  []float64 // the parameters before a step
	// of two sources: the products of their shapes in a band, and what the
	// amplitudes of all bands can follow, by parameter
	re, im, cross []float64
	follow        []float64
}

// followed is how many numbers of a band's amplitudes two sources share.
const followed = 4

func newNormal(m *model) normal {
	p, n := m.params(), len(m.time)
	e := normal{n: newSymmetric(p), a: newSymmetric(p), grad: make([]float64, p), move: make([]float64, p), old: make([]float64, p)}
	if len(m.sources) == 2 {
		e.re, e.im, e.cross = make([]float64, n), make([]float64, n), make([]float64, n)
		e.follow = make([]float64, p*followed*len(m.bands))
	}
	return e
}

// params is the number of pitch parameters of all sources.
func (m *model) params() int { return len(m.sources) * (m.wanders + 1) }

// equations builds the normal equations at the present point.
func (m *model) equations() {
	e := &m.equation
	clear(e.grad)
	for i := range m.sources {
		m.gradient(i)
	}
	if len(m.sources) == 1 {
		// All partials bend alike: the matrix is the basis's own.
		floats.ScaleTo(e.n.v, m.stiffness(0), m.bound.v)
		return
	}
	js := m.wanders + 1
	for i := range m.sources {
		stiffness := m.stiffness(i)
		for j := range js {
			floats.ScaleTo(e.n.v[(i*js+j)*e.n.n+i*js:][:j+1], stiffness, m.gram.row(j))
		}
	}
	clear(e.cross)
	for b := range m.bands {
		m.project(b)
	}
	m.curve(js)
	width := followed * len(m.bands)
	for p := range e.n.n {
		row, x := e.n.row(p), e.follow[p*width:(p+1)*width]
		for q := range row {
			row[q] -= floats.Dot(x, e.follow[q*width:(q+1)*width])
		}
	}
}

// stiffness is Σ 2 w k² |a|² of source i over the bands.
func (m *model) stiffness(i int) float64 {
	sum := 0.0
	for b := range m.bands {
		band := &m.bands[b]
		sum += 2 * band.weight * float64(band.k*band.k) * power(m.sources[i].a[b])
	}
	return sum
}

// gradient is what the residuals pull at the pitch of source i: the derivative
// of the model by the phase is d = j k a e E, and Re(conj(d) r) is wanted.
func (m *model) gradient(i int) {
	s, pull := m.sources[i], m.psi
	clear(pull)
	for b := range m.bands {
		band := &m.bands[b]
		a := cmplx.Conj(s.a[b]) * complex(2*band.weight*float64(band.k), 0)
		re, im := real(a), imag(a)
		rest := m.band(m.rest, b)
		for f, e := range m.band(s.shapes, b) {
			r := rest[f]
			// Im(conj(a E) r)
			x, y := real(e)*real(r)+imag(e)*imag(r), real(e)*imag(r)-imag(e)*real(r)
			pull[f] += re*y + im*x
		}
	}
	js := m.wanders + 1
	for j, row := range m.rows {
		m.equation.grad[i*js+j] = floats.Dot(pull, row)
	}
}

// curve adds Σ h s_j s_q between the two sources, whose products h are in
// cross.
func (m *model) curve(js int) {
	e := &m.equation
	weighted := e.re
	for j, row := range m.rows {
		floats.MulTo(weighted, e.cross, row)
		for q := range j + 1 {
			v := floats.Dot(weighted, m.rows[q])
			e.n.v[(js+j)*e.n.n+q] = v
			e.n.v[(js+q)*e.n.n+j] = v
		}
	}
}

// project adds band b's curvature between the two sources to cross and puts
// what its amplitudes can follow into follow: with G⁻¹ = L Lᴴ, the columns of
// √2w Lᴴ x, where x_p is how the derivative by parameter p shows in the
// products with the two shapes.
func (m *model) project(b int) {
	e, band := &m.equation, &m.bands[b]
	a1, a2 := m.sources[0].a[b], m.sources[1].a[b]
	jk := complex(0, float64(band.k))
	y := m.band(m.sources[1].shapes, b)
	for f, x := range m.band(m.sources[0].shapes, b) {
		e.re[f] = real(x)*real(y[f]) + imag(x)*imag(y[f])
		e.im[f] = real(x)*imag(y[f]) - imag(x)*real(y[f])
	}
	bend := cmplx.Conj(a1) * a2 * complex(2*band.weight*float64(band.k*band.k), 0)
	floats.AddScaled(e.cross, real(bend), e.re)
	floats.AddScaled(e.cross, -imag(bend), e.im)

	d := m.energy + m.ridge(b)
	first := complex(math.Sqrt(2*band.weight*d/(d*d-power(m.overlap[b]))), 0)
	second := -cmplx.Conj(m.overlap[b]) / complex(d, 0) * first // conj: as Lᴴ
	alone := complex(math.Sqrt(2*band.weight/d), 0)
	js, width := m.wanders+1, followed*len(m.bands)
	put := func(p int, x1, x2 complex128) {
		y1, y2 := first*x1+cmplx.Conj(second)*x2, alone*x2
		copy(e.follow[p*width+followed*b:], []float64{real(y1), imag(y1), real(y2), imag(y2)})
	}
	for j, row := range m.rows {
		q := complex(floats.Dot(e.re, row), floats.Dot(e.im, row))
		tilt := complex(m.tilt[j], 0)
		put(j, jk*a1*tilt, jk*a1*cmplx.Conj(q))
		put(js+j, jk*a2*q, jk*a2*tilt)
	}
}

// withPrior fills the scratch matrix with N + Λ and returns log det Λ.
func (m *model) withPrior() (logDet float64) {
	e := &m.equation
	copy(e.a.v, e.n.v)
	js := m.wanders + 1
	for i := range m.sources {
		for j := range js {
			p := m.precision(j)
			e.a.add(i*js+j, i*js+j, p)
			logDet += math.Log(p)
		}
	}
	return logDet
}

// meanPrior is the prior width of the mean pitch, in cents: hardly a prior.
const meanPrior = 30.0

// step moves all pitches by one regularised Gauss–Newton step, shortened
// until the posterior improves. It returns the largest move in cents.
func (m *model) step() float64 {
	e := &m.equation
	m.withPrior()
	if _, ok := e.a.factorize(); !ok {
		return 0
	}
	js := m.wanders + 1
	for i, s := range m.sources {
		for j, v := range s.c {
			e.move[i*js+j] = e.grad[i*js+j] - v*m.precision(j)
		}
	}
	e.a.solve(e.move)
	before := m.cost + m.penalty()
	for i, s := range m.sources {
		copy(e.old[i*js:], s.c)
	}
	for scale := 1.0; scale > 0.02; scale /= 3 {
		largest := 0.0
		for i := range m.sources {
			for j := range js {
				d := scale * e.move[i*js+j]
				m.sources[i].c[j] = e.old[i*js+j] + d
				largest = max(largest, math.Abs(d))
			}
		}
		m.evaluate()
		if m.cost+m.penalty() <= before {
			return largest
		}
	}
	for i := range m.sources {
		copy(m.sources[i].c, e.old[i*js:])
	}
	m.evaluate()
	return 0
}

// precision is the prior's 1/variance of parameter j.
func (m *model) precision(j int) float64 {
	if j == 0 {
		return 1 / (meanPrior * meanPrior)
	}
	return order(j) / (playersWander * playersWander)
}

// penalty is the prior's part of the negative log posterior.
func (m *model) penalty() float64 {
	sum := 0.0
	for _, s := range m.sources {
		for j, v := range s.c {
			sum += 0.5 * v * v * m.precision(j)
		}
	}
	return sum
}

// reweigh sets each band's weight from its residual, so that a band that the
// model explains badly (a partial that swells and fades on its own, a
// resonance of the room) counts for less.
func (m *model) reweigh() {
	for b := range m.bands {
		band := &m.bands[b]
		free := max(2, band.dof-float64(len(m.sources)))
		band.weight = 1 / max(m.left[b]/free, band.least)
	}
	m.weighCost()
}

// fit runs to convergence and leaves the equations of where it ended.
func (m *model) fit(rounds int) *model {
	m.evaluate()
	for i := range rounds {
		m.equations()
		moved := m.step()
		m.reweigh()
		if i > 1 && moved < converged {
			break
		}
	}
	m.equations()
	return m
}

// converged is the step, in cents, below which a fit has ended: a twentieth of
// what players are known to.
const converged = 5e-4
