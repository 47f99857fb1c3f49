package estimate

import (
	"math"
	"math/cmplx"
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
	wanders int         // J: how many s_j besides s_0
	basis   [][]float64 // s_j at the frames, j = 0…J
	sources []source
	turned  [][]complex128 // exp(j k ψ) of source i and band b at [i][b*M+m]
	rest    []complex128   // residuals, by band
	overlap []complex128   // of the two sources in each band, Σ e² conj(E1) E2
	cost    float64
	energy  float64   // Σ e²
	tilt    []float64 // Σ e² s_j
}

// source is one player.
type source struct {
	c     []float64    // c_0 … c_J, cents
	a     []complex128 // by band
	sigma float64      // prior scale of the wander, cents
}

// wanderHz is the fastest wander of the pitch that is followed: vibrato ends
// at 8 Hz.
const wanderHz = 9.0

// newModel returns a model whose sources' pitches wander up to topHz.
func newModel(f *frames, topHz float64) *model {
	// The grid must hold the wander, and the stretch its half periods.
	top := min(topHz, 0.25/f.step)
	m := &model{frames: f, wanders: polynomials + max(2, int(2*top*f.seconds))}
	g := 2 * math.Pi * f.hz * math.Ln2 / 1200
	m.basis = make([][]float64, m.wanders+1)
	m.tilt = make([]float64, m.wanders+1)
	for _, e := range f.edge {
		m.energy += e * e
	}
	for j := range m.basis {
		m.basis[j] = make([]float64, len(f.time))
		for i, t := range f.time {
			m.basis[j][i] = g * phaseOf(j, t, f.seconds)
			m.tilt[j] += f.edge[i] * f.edge[i] * m.basis[j][i]
		}
	}
	m.rest = make([]complex128, len(f.bands)*len(f.time))
	m.overlap = make([]complex128, len(f.bands))
	return m
}

// polynomials is how many of the s_j come before the cosines.
const polynomials = 2

// phaseOf is s_j(t)/g over a stretch of the given length.
func phaseOf(j int, t, length float64) float64 {
	if j == 0 {
		return t - length/2
	}
	if t <= 0 || t >= length {
		return 0
	}
	x := t / length
	switch j {
	case 1: // ∫ P₁(2x - 1)
		return length * x * (x - 1)
	case 2: // ∫ P₂(2x - 1)
		return length * x * (x - 1) * (2*x - 1)
	}
	w := math.Pi * float64(j-polynomials)
	return length / w * math.Sin(w*x)
}

// order is the j of the prior of c_j, j ≥ 1: that of its slowest kin.
func order(j int) float64 { return float64(max(1, j-polynomials)) }

// wander is the RMS departure of source i's pitch from its mean, in cents.
func (m *model) wander(i int) float64 {
	g := 2 * math.Pi * m.hz * math.Ln2 / 1200
	sum, n, last := 0.0, 0, 0.0
	for f, t := range m.time {
		if t < 0 || t > m.seconds {
			continue
		}
		psi := m.phase(m.sources[i].c, f) - m.sources[i].c[0]*m.basis[0][f]
		if n > 0 {
			d := (psi - last) / (g * m.frames.step)
			sum += d * d
		}
		last = psi
		n++
	}
	return math.Sqrt(sum / float64(max(1, n-1)))
}

// setSources gives the model its sources.
func (m *model) setSources(pitches ...[]float64) {
	m.sources = m.sources[:0]
	m.turned = m.turned[:0]
	for _, c := range pitches {
		s := source{c: make([]float64, m.wanders+1), a: make([]complex128, len(m.bands))}
		copy(s.c, c)
		m.sources = append(m.sources, s)
		m.turned = append(m.turned, make([]complex128, len(m.bands)*len(m.time)))
	}
}

// phase returns ψ at frame i.
func (m *model) phase(c []float64, i int) float64 {
	psi := 0.0
	for j, v := range c {
		if v != 0 {
			psi += v * m.basis[j][i]
		}
	}
	return psi
}

// evaluate brings turned, amplitudes, residuals and cost up to date.
func (m *model) evaluate() {
	for i := range m.sources {
		m.turn(i)
	}
	m.evaluateBands()
}

func (m *model) evaluateBands() {
	m.cost = 0
	for b := range m.bands {
		m.solveBand(b)
	}
}

func (m *model) turn(i int) {
	n := len(m.time)
	for f := range m.time {
		one := cmplx.Rect(1, m.phase(m.sources[i].c, f))
		z := complex(1, 0)
		k := 0
		for b := range m.bands {
			for ; k < m.bands[b].k; k++ {
				z *= one
			}
			m.turned[i][b*n+f] = z
		}
	}
}

// solveBand finds the amplitudes of band b by least squares, with a prior as
// wide as the band's own power so that two sources that cannot be told apart
// there share it, and leaves the residual.
func (m *model) solveBand(b int) {
	n := len(m.time)
	z, rest := m.bands[b].z, m.rest[b*n:(b+1)*n]
	switch len(m.sources) {
	case 1:
		e1 := m.turned[0][b*n : (b+1)*n]
		sum := complex(0, 0)
		for f, v := range z {
			sum += v * cmplx.Conj(e1[f]) * complex(m.edge[f], 0)
		}
		a := sum / complex(m.energy, 0)
		m.sources[0].a[b] = a
		for f, v := range z {
			rest[f] = v - a*e1[f]*complex(m.edge[f], 0)
		}
	case 2:
		e1, e2 := m.turned[0][b*n:(b+1)*n], m.turned[1][b*n:(b+1)*n]
		var y1, y2, o complex128
		for f, v := range z {
			e := complex(m.edge[f], 0)
			y1 += v * cmplx.Conj(e1[f]) * e
			y2 += v * cmplx.Conj(e2[f]) * e
			o += e * e * cmplx.Conj(e1[f]) * e2[f]
		}
		m.overlap[b] = o
		g := m.gram(b)
		m.sources[0].a[b] = g.i11*y1 + g.i12*y2
		m.sources[1].a[b] = cmplx.Conj(g.i12)*y1 + g.i22*y2
		a1, a2 := m.sources[0].a[b], m.sources[1].a[b]
		for f, v := range z {
			rest[f] = v - (a1*e1[f]+a2*e2[f])*complex(m.edge[f], 0)
		}
	}
	m.cost += m.bands[b].weight * m.left(b)
}

// left is the energy of band b's residual.
func (m *model) left(b int) float64 {
	n := len(m.time)
	sum := 0.0
	for _, r := range m.rest[b*n : (b+1)*n] {
		sum += power(r)
	}
	return sum
}

// inverse is the inverse of a band's 2×2 Gram matrix of the sources.
type inverse struct{ i11, i12, i22 complex128 }

// gram returns the inverse Gram matrix of band b with the amplitudes' prior.
func (m *model) gram(b int) inverse {
	if len(m.sources) == 1 {
		return inverse{i11: complex(1/m.energy, 0)}
	}
	ridge := m.ridge(b)
	d := m.energy + ridge
	o := m.overlap[b]
	det := d*d - power(o)
	return inverse{i11: complex(d/det, 0), i12: -o / complex(det, 0), i22: complex(d/det, 0)}
}

// ridge is the precision of the amplitudes' prior in units of the Gram matrix.
func (m *model) ridge(b int) float64 {
	band := &m.bands[b]
	return m.energy / (1 + band.weight*band.power)
}

// unleak takes the other partials' leaks out of each band. The nulls of the
// window keep them out of the band's middle; at the ends of the stretch, where
// the window begins and stops, they come through.
func (m *model) unleak() {
	n := len(m.time)
	for b := range m.bands {
		band := &m.bands[b]
		copy(band.z, band.raw)
		for q := range m.bands {
			apart := band.k - m.bands[q].k
			if apart == 0 || apart > leakReach || apart < -leakReach {
				continue
			}
			leak := m.leaks[apart+leakReach]
			for i := range m.sources {
				a := m.sources[i].a[q]
				turned := m.turned[i][q*n : (q+1)*n]
				for f, v := range leak {
					band.z[f] -= a * turned[f] * v
				}
			}
		}
	}
	m.evaluateBands()
}
