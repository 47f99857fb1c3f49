package estimate

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/floats"
)

// normal holds the Gauss–Newton equations of the pitches of all sources, the
// amplitudes projected out (Golub and Pereyra, SIAM J. Numer. Anal. 10 (1973),
// 413–432).
type normal struct {
	n    symmetric
	grad []float64
}

// params is the number of pitch parameters of all sources.
func (m *model) params() int { return len(m.sources) * (m.wanders + 1) }

// equations builds the normal equations at the present point.
func (m *model) equations() *normal {
	p := m.params()
	e := &normal{n: newSymmetric(p), grad: make([]float64, p)}
	m.direct(e)
	for b := range m.bands {
		m.project(e, b)
	}
	return e
}

// direct adds gradient and curvature with the amplitudes held.
func (m *model) direct(e *normal) {
	n, js, s := len(m.time), m.wanders+1, len(m.sources)
	pull := make([]float64, s*n)
	bend := make([]float64, s*s*n)
	for b := range m.bands {
		for i := range s {
			m.pull(b, i, pull[i*n:(i+1)*n])
			for l := range i + 1 {
				m.bend(b, i, l, bend[(i*s+l)*n:(i*s+l+1)*n])
			}
		}
	}
	for i := range s {
		for j := range js {
			e.grad[i*js+j] = floats.Dot(pull[i*n:(i+1)*n], m.basis[j])
		}
		for l := range i + 1 {
			h := bend[(i*s+l)*n : (i*s+l+1)*n]
			m.curve(e, i*js, l*js, h)
		}
	}
}

// pull adds what band b's residual pulls at the phase of source i, by frame:
// the derivative of the model is d = j k a e E, and Re(conj(d) r) is wanted.
func (m *model) pull(b, i int, out []float64) {
	n := len(out)
	band := &m.bands[b]
	a := m.sources[i].a[b] * complex(2*band.weight*float64(band.k), 0)
	rest, turned := m.rest[b*n:(b+1)*n], m.turned[i][b*n:(b+1)*n]
	for f, r := range rest {
		d := a * turned[f]
		out[f] += m.edge[f] * (real(d)*imag(r) - imag(d)*real(r))
	}
}

// bend adds band b's curvature between the phases of sources i and l.
func (m *model) bend(b, i, l int, out []float64) {
	n := len(out)
	band := &m.bands[b]
	w := 2 * band.weight * float64(band.k*band.k)
	a := cmplx.Conj(m.sources[i].a[b]) * m.sources[l].a[b]
	if i == l {
		for f, e := range m.edge {
			out[f] += w * real(a) * e * e
		}
		return
	}
	x, y := m.turned[i][b*n:(b+1)*n], m.turned[l][b*n:(b+1)*n]
	for f, e := range m.edge {
		c := cmplx.Conj(x[f]) * y[f]
		out[f] += w * e * e * (real(a)*real(c) - imag(a)*imag(c))
	}
}

// curve adds Σ h s_j s_q to the block at (row, col).
func (m *model) curve(e *normal, row, col int, h []float64) {
	product := make([]float64, len(h))
	for j, bj := range m.basis {
		floats.MulTo(product, h, bj)
		for q, bq := range m.basis {
			if row == col && q > j {
				break
			}
			e.n.add(row+j, col+q, floats.Dot(product, bq))
		}
	}
}

// project takes out of the curvature what the amplitudes of band b can follow.
func (m *model) project(e *normal, b int) {
	js, s := m.wanders+1, len(m.sources)
	w := 2 * m.bands[b].weight
	g := m.gram(b)
	x := make([][2]complex128, s*js)
	for i := range s {
		jka := complex(0, float64(m.bands[b].k)) * m.sources[i].a[b]
		for j := range js {
			x[i*js+j][i] = jka * complex(m.tilt[j], 0)
		}
	}
	if s == 2 {
		q := m.cross(b)
		jk := complex(0, float64(m.bands[b].k))
		for j := range js {
			x[js+j][0] = jk * m.sources[1].a[b] * q[j]
			x[j][1] = jk * m.sources[0].a[b] * cmplx.Conj(q[j])
		}
	}
	for p, xp := range x {
		// y = G⁻¹ x_p
		y0 := g.i11*xp[0] + g.i12*xp[1]
		y1 := cmplx.Conj(g.i12)*xp[0] + g.i22*xp[1]
		for q := range p + 1 {
			v := real(cmplx.Conj(x[q][0])*y0 + cmplx.Conj(x[q][1])*y1)
			e.n.add(p, q, -w*v)
		}
	}
}

// cross returns Σ e² conj(E1) E2 s_j of band b.
func (m *model) cross(b int) []complex128 {
	n := len(m.time)
	q := make([]complex128, m.wanders+1)
	o := make([]complex128, n)
	for f := range n {
		o[f] = cmplx.Conj(m.turned[0][b*n+f]) * m.turned[1][b*n+f] * complex(m.edge[f]*m.edge[f], 0)
	}
	for j, bj := range m.basis {
		sum := complex(0, 0)
		for f, v := range o {
			sum += v * complex(bj[f], 0)
		}
		q[j] = sum
	}
	return q
}

// sigmas are the prior scales of the wander that are tried, in cents: from
// a tone without any to a wide vibrato.
var sigmas = [...]float64{0, 0.02, 0.1, 0.3, 1, 3, 10, 40}

// wanderDoubt is how much more evidence, in nepers, any wander needs than
// none: noise shows a little wander in one tone of twenty, and following it
// costs three times the error; a player's shows by hundreds.
const wanderDoubt = 4.0

// steady is the variance that stands for none, cents².
const steady = 1e-10

// choose sets the prior scales to those with the most evidence, one source
// after the other.
func (m *model) choose(e *normal) {
	right := m.rightSide(e)
	a, b := newSymmetric(m.params()), make([]float64, m.params())
	for i := range m.sources {
		best, pick := math.Inf(-1), m.sources[i].sigma
		for _, sigma := range sigmas {
			m.sources[i].sigma = sigma
			v, ok := m.evidence(e, right, a, b)
			if sigma > 0 {
				v -= wanderDoubt
			}
			if ok && v > best {
				best, pick = v, sigma
			}
		}
		m.sources[i].sigma = pick
	}
}

// rightSide is N p + g: the normal equations for the parameters themselves.
func (m *model) rightSide(e *normal) []float64 {
	p := m.params()
	all := make([]float64, 0, p)
	for _, s := range m.sources {
		all = append(all, s.c...)
	}
	right := make([]float64, p)
	for i := range right {
		right[i] = e.grad[i]
		for j, v := range all {
			right[i] += e.n.at(i, j) * v
		}
	}
	return right
}

// withPrior fills a with N + Λ and returns log det Λ.
func (m *model) withPrior(e *normal, a symmetric) (logDet float64) {
	copy(a.v, e.n.v)
	js := m.wanders + 1
	for i, s := range m.sources {
		for j := range js {
			p := m.precision(s.sigma, j)
			a.add(i*js+j, i*js+j, p)
			logDet += math.Log(p)
		}
	}
	return logDet
}

// meanPrior is the prior width of the mean pitch, in cents: hardly a prior.
const meanPrior = 30.0

// evidence is the log of the marginal likelihood of the prior scales, up to
// what they have in common. a and b are scratch.
func (m *model) evidence(e *normal, right []float64, a symmetric, b []float64) (float64, bool) {
	prior := m.withPrior(e, a)
	logDet, ok := a.factorize()
	if !ok {
		return 0, false
	}
	copy(b, right)
	a.forward(b)
	explained := 0.0
	for _, v := range b {
		explained += v * v
	}
	return 0.5 * (explained - logDet + prior), true
}

// step moves all pitches by one regularised Gauss–Newton step, shortened
// until the posterior improves. It returns the largest move in cents.
func (m *model) step(e *normal) float64 {
	a, move := newSymmetric(m.params()), make([]float64, m.params())
	m.withPrior(e, a)
	if _, ok := a.factorize(); !ok {
		return 0
	}
	js := m.wanders + 1
	for i, s := range m.sources {
		for j, v := range s.c {
			move[i*js+j] = e.grad[i*js+j] - v*m.precision(s.sigma, j)
		}
	}
	a.solve(move)
	before := m.cost + m.penalty()
	old := m.snapshot()
	for scale := 1.0; scale > 0.02; scale /= 3 {
		largest := 0.0
		for i := range m.sources {
			for j := range js {
				d := scale * move[i*js+j]
				m.sources[i].c[j] = old[i][j] + d
				largest = max(largest, math.Abs(d))
			}
		}
		m.evaluate()
		if m.cost+m.penalty() <= before {
			return largest
		}
	}
	for i := range m.sources {
		copy(m.sources[i].c, old[i])
	}
	m.evaluate()
	return 0
}

func (m *model) snapshot() [][]float64 {
	old := make([][]float64, len(m.sources))
	for i, s := range m.sources {
		old[i] = append([]float64(nil), s.c...)
	}
	return old
}

// precision is the prior's 1/variance of parameter j.
func (m *model) precision(sigma float64, j int) float64 {
	if j == 0 {
		return 1 / (meanPrior * meanPrior)
	}
	return 1 / (sigma*sigma/order(j) + steady)
}

// penalty is the prior's part of the negative log posterior.
func (m *model) penalty() float64 {
	sum := 0.0
	for _, s := range m.sources {
		for j, v := range s.c {
			sum += 0.5 * v * v * m.precision(s.sigma, j)
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
		band.weight = 1 / max(m.left(b)/free, band.least)
	}
}

// fit runs to convergence.
func (m *model) fit(rounds int) *normal {
	m.evaluate()
	var e *normal
	for i := range rounds {
		e = m.equations()
		if i%2 == 0 {
			m.choose(e)
		}
		moved := m.step(e)
		m.unleak()
		m.reweigh()
		m.evaluateBands()
		if i > 1 && moved < m.converged() {
			break
		}
	}
	return m.equations()
}

const (
	// steadyStep and wanderStep are the steps, in cents, below which a fit has
	// ended: a twentieth of what steady tones and players are known to.
	steadyStep = 2e-5
	wanderStep = 5e-4
	// steadySigma is the prior scale of wander up to which a tone is steady.
	steadySigma = 0.1
)

func (m *model) converged() float64 {
	for _, s := range m.sources {
		if s.sigma > steadySigma {
			return wanderStep
		}
	}
	return steadyStep
}
