package estimate

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/blas/cblas128"
	"gonum.org/v1/gonum/cmplxs"
	"gonum.org/v1/gonum/floats"
)

// The model of a stretch. Each source is lip-driven: one phase moves all its
// partials. Around the multiples of the reference hz,
//
//	z_k(t) = Σ_i a_ik e(t) exp(j k ψ_i(t)) + noise
//	ψ_i(t) = c_i0 s_0(t) + Σ_j c_ij s_j(t)
//	s_0(t) = g (t - T/2),  g = 2π hz ln2/1200
//
// where the s_j vanish at both ends, so that c_i0 is the mean pitch over the
// stretch in cents above hz: cycles over time, exactly. They are the integrals
// of a wander of the pitch by the Legendre polynomials P₁ and P₂, which take
// care of the ends, and by cos(π j t/T), which would be slow to: c_ij is its
// amplitude in cents. The wander has a Gaussian prior of 1/f character, var
// c_ij = σ_i²/j, whose σ is chosen by its evidence (MacKay, Bayesian
// interpolation, Neural Computation 4 (1992), 415–447): none at all in a steady
// tone, where the fit is then the maximum likelihood of Rife and Boorstyn
// (1974), as much as it takes for a player.
type model struct {
	*frames
	*basis
	wanders  int // J: how many s_j besides s_0
	sources  []source
	rest     []complex128 // residuals, by band
	left     []float64    // energy of each band's residual
	overlap  []complex128 // of the two sources in each band, Σ e² conj(E1) E2
	cost     float64
	equation normal
	psi      []float64    // scratch: a phase at the frames
	spin     []complex128 // scratch: a shape
}

// source is one player.
type source struct {
	c      []float64    // c_0 … c_J, cents
	a      []complex128 // by band
	turn   []complex128 // exp(j ψ) at the frames
	shapes []complex128 // e exp(j k ψ) of band b at [b*M+m]
}

// wanderHz is the fastest wander of the pitch that is followed: vibrato ends
// at 8 Hz.
const wanderHz = 9.0

// newModel returns a model whose sources' pitches wander up to topHz, from the
// given parameters on.
func newModel(f *frames, topHz float64, pitches ...[]float64) *model {
	m := &model{frames: f, basis: f.basisTo(topHz)}
	m.wanders = len(m.rows) - 1
	n := len(m.time)
	m.rest = make([]complex128, len(f.bands)*n)
	m.left = make([]float64, len(f.bands))
	m.overlap = make([]complex128, len(f.bands))
	m.psi, m.spin = make([]float64, n), make([]complex128, n)
	for _, c := range pitches {
		s := source{
			c: make([]float64, m.wanders+1), a: make([]complex128, len(f.bands)),
			turn: make([]complex128, n), shapes: make([]complex128, len(f.bands)*n),
		}
		copy(s.c, c)
		m.sources = append(m.sources, s)
	}
	m.equation = newNormal(m)
	return m
}

// band returns band b's part of x, which holds all bands' frames.
func (m *model) band(x []complex128, b int) []complex128 {
	n := len(m.time)
	return x[b*n : (b+1)*n]
}

// wander is the RMS departure of source i's pitch from its mean, in cents.
func (m *model) wander(i int) float64 {
	m.phase(m.psi, m.sources[i].c)
	floats.AddScaled(m.psi, -m.sources[i].c[0], m.rows[0])
	sum, n := 0.0, 0
	for f := 1; f < len(m.time); f++ {
		if m.time[f-1] < 0 || m.time[f] > m.seconds {
			continue
		}
		d := (m.psi[f] - m.psi[f-1]) / (m.perCent() * m.tick)
		sum += d * d
		n++
	}
	return math.Sqrt(sum / float64(max(1, n)))
}

// evaluate brings shapes, amplitudes, residuals and cost up to date.
func (m *model) evaluate() {
	for i := range m.sources {
		m.shape(&m.sources[i])
	}
	m.evaluateBands()
}

func (m *model) evaluateBands() {
	for b := range m.bands {
		m.solveBand(b)
		m.left[b] = energyOf(m.band(m.rest, b))
	}
	m.weighCost()
}

// weighCost brings the cost up to date with the weights.
func (m *model) weighCost() {
	m.cost = 0
	for b, left := range m.left {
		m.cost += m.bands[b].weight * left
	}
}

// shape turns what s sounds like by its phase.
func (m *model) shape(s *source) {
	m.phase(m.psi, s.c)
	z := m.spin
	for f, psi := range m.psi {
		sin, cos := math.Sincos(psi)
		s.turn[f] = complex(cos, sin)
		z[f] = complex(m.edge[f], 0)
	}
	k := 0
	for b := range m.bands {
		for ; k < m.bands[b].k; k++ {
			for f, t := range s.turn {
				z[f] *= t
			}
		}
		copy(m.band(s.shapes, b), z)
	}
}

// solveBand finds the amplitudes of band b by least squares, with a prior as
// wide as the band's own power so that two sources that cannot be told apart
// there share it, and leaves the residual.
func (m *model) solveBand(b int) {
	rest := m.band(m.rest, b)
	copy(rest, m.bands[b].z)
	if len(m.sources) == 1 {
		s := m.sources[0]
		e := m.band(s.shapes, b)
		s.a[b] = product(e, rest) / complex(m.energy, 0)
		cmplxs.AddScaled(rest, -s.a[b], e)
		return
	}
	s1, s2 := m.sources[0], m.sources[1]
	e1, e2 := m.band(s1.shapes, b), m.band(s2.shapes, b)
	y1, y2 := product(e1, rest), product(e2, rest)
	m.overlap[b] = product(e1, e2)
	g := m.gram2(b)
	s1.a[b] = g.i11*y1 + g.i12*y2
	s2.a[b] = cmplx.Conj(g.i12)*y1 + g.i22*y2
	cmplxs.AddScaled(rest, -s1.a[b], e1)
	cmplxs.AddScaled(rest, -s2.a[b], e2)
}

// product is Σ conj(x) y.
func product(x, y []complex128) complex128 {
	return cblas128.Dotc(cblas128.Vector{N: len(x), Data: x, Inc: 1}, cblas128.Vector{N: len(y), Data: y, Inc: 1})
}

// energyOf is Σ |x|².
func energyOf(x []complex128) float64 {
	sum := 0.0
	for _, v := range x {
		sum += power(v)
	}
	return sum
}

// inverse is the inverse of a band's 2×2 Gram matrix of the sources.
type inverse struct{ i11, i12, i22 complex128 }

// gram2 returns the inverse Gram matrix of two sources in band b with the
// amplitudes' prior.
func (m *model) gram2(b int) inverse {
	d := m.energy + m.ridge(b)
	o := m.overlap[b]
	det := d*d - power(o)
	return inverse{i11: complex(d/det, 0), i12: -o / complex(det, 0), i22: complex(d/det, 0)}
}

// ridge is the precision of the amplitudes' prior in units of the Gram matrix.
func (m *model) ridge(b int) float64 {
	band := &m.bands[b]
	return m.energy / (1 + band.weight*band.power)
}
