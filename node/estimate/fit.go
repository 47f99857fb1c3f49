package estimate

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/mat"
)

// normal holds the Gauss–Newton equations of the pitches of all sources, the
// amplitudes projected out (Golub and Pereyra, SIAM J. Numer. Anal. 10 (1973),
// 413–432).
type normal struct {
	n    *mat.SymDense
	grad []float64
}

// params is the number of pitch parameters of all sources.
func (m *model) params() int { return len(m.sources) * (m.wanders + 1) }

// equations builds the normal equations at the present point.
func (m *model) equations() *normal {
	p := m.params()
	e := &normal{n: mat.NewSymDense(p, nil), grad: make([]float64, p)}
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
		w := 2 * m.bands[b].weight
		k := float64(m.bands[b].k)
		for f := range n {
			edge := m.edge[f]
			r := m.rest[b*n+f]
			var d [2]complex128
			for i := range s {
				d[i] = m.sources[i].a[b] * m.turned[i][b*n+f] * complex(k*edge, 0)
				// Re(conj(j d) r) = Im(conj(d) r)
				pull[i*n+f] += w * imag(cmplx.Conj(d[i])*r)
			}
			for i := range s {
				for l := range i + 1 {
					bend[(i*s+l)*n+f] += w * real(cmplx.Conj(d[i])*d[l])
				}
			}
		}
	}
	for i := range s {
		for j := range js {
			sum := 0.0
			for f := range n {
				sum += pull[i*n+f] * m.basis[j][f]
			}
			e.grad[i*js+j] = sum
		}
		for l := range i + 1 {
			h := bend[(i*s+l)*n : (i*s+l+1)*n]
			m.curve(e, i*js, l*js, h)
		}
	}
}

// curve adds Σ h s_j s_q to the block at (row, col).
func (m *model) curve(e *normal, row, col int, h []float64) {
	product := make([]float64, len(h))
	for j, bj := range m.basis {
		for f, v := range h {
			product[f] = v * bj[f]
		}
		for q, bq := range m.basis {
			if row == col && q > j {
				break
			}
			sum := 0.0
			for f, v := range product {
				sum += v * bq[f]
			}
			e.n.SetSym(row+j, col+q, e.n.At(row+j, col+q)+sum)
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
			e.n.SetSym(p, q, e.n.At(p, q)-w*v)
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

// steady is the variance that stands for none, cents².
const steady = 1e-10

// choose sets the prior scales to those with the most evidence.
func (m *model) choose(e *normal) {
	best, pick := math.Inf(-1), [2]float64{}
	right := m.rightSide(e)
	others := sigmas[:]
	if len(m.sources) == 1 {
		others = sigmas[:1]
	}
	for _, s1 := range sigmas {
		for _, s2 := range others {
			if v, ok := m.evidence(e, right, [2]float64{s1, s2}); ok && v > best {
				best, pick = v, [2]float64{s1, s2}
			}
		}
	}
	for i := range m.sources {
		m.sources[i].sigma = pick[i]
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
			right[i] += e.n.At(i, j) * v
		}
	}
	return right
}

// withPrior returns N + Λ and log det Λ.
func (m *model) withPrior(e *normal, sigma [2]float64) (*mat.SymDense, float64) {
	a := mat.NewSymDense(m.params(), nil)
	a.CopySym(e.n)
	js := m.wanders + 1
	logDet := 0.0
	for i := range m.sources {
		// The mean pitch may lie anywhere within the search: hardly a prior.
		a.SetSym(i*js, i*js, a.At(i*js, i*js)+1.0/(meanPrior*meanPrior))
		logDet -= 2 * math.Log(meanPrior)
		for j := 1; j < js; j++ {
			variance := sigma[i]*sigma[i]/float64(j) + steady
			a.SetSym(i*js+j, i*js+j, a.At(i*js+j, i*js+j)+1/variance)
			logDet -= math.Log(variance)
		}
	}
	return a, logDet
}

// meanPrior is the prior width of the mean pitch, in cents.
const meanPrior = 30.0

// evidence is the log of the marginal likelihood of the prior scales, up to
// what they have in common.
func (m *model) evidence(e *normal, right []float64, sigma [2]float64) (float64, bool) {
	a, logDet := m.withPrior(e, sigma)
	var c mat.Cholesky
	if !c.Factorize(a) {
		return 0, false
	}
	b := mat.NewVecDense(len(right), right)
	var x mat.VecDense
	if c.SolveVecTo(&x, b) != nil && c.Cond() > 1e15 {
		return 0, false
	}
	return 0.5*mat.Dot(b, &x) - 0.5*c.LogDet() + 0.5*logDet, true
}

// step moves all pitches by one regularised Gauss–Newton step, shortened
// until the posterior improves. It returns the largest move in cents.
func (m *model) step(e *normal) float64 {
	a, _ := m.withPrior(e, m.scales())
	var c mat.Cholesky
	if !c.Factorize(a) {
		return 0
	}
	js := m.wanders + 1
	g := mat.NewVecDense(m.params(), nil)
	for i, s := range m.sources {
		for j, v := range s.c {
			g.SetVec(i*js+j, e.grad[i*js+j]-v*m.precision(s.sigma, j))
		}
	}
	var move mat.VecDense
	_ = c.SolveVecTo(&move, g) // near-singular is fine: the step is tested below
	before := m.cost + m.penalty()
	old := m.snapshot()
	for scale := 1.0; scale > 0.02; scale /= 3 {
		largest := 0.0
		for i := range m.sources {
			for j := range js {
				d := scale * move.AtVec(i*js+j)
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

func (m *model) scales() (s [2]float64) {
	for i := range m.sources {
		s[i] = m.sources[i].sigma
	}
	return s
}

// precision is the prior's 1/variance of parameter j.
func (m *model) precision(sigma float64, j int) float64 {
	if j == 0 {
		return 1 / (meanPrior * meanPrior)
	}
	return 1 / (sigma*sigma/float64(j) + steady)
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
		band.weight = 1 / max(m.left(b)/free, band.floor)
	}
}

// fit runs to convergence.
func (m *model) fit(rounds int) *normal {
	m.evaluate()
	var e *normal
	for i := range rounds {
		e = m.equations()
		m.choose(e)
		moved := m.step(e)
		m.unleak()
		m.reweigh()
		m.evaluate()
		if i > 1 && moved < converged {
			break
		}
	}
	e = m.equations()
	return e
}

// converged is the step, in cents, below which a fit has ended.
const converged = 1e-5
