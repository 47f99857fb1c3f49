package attribute

import "math"

// refine improves the paths by alternating: gains given paths, then one
// Gauss–Newton step for each chair's path on the residual, which is updated
// at once so that the next chair sees it.
func (m *model) refine(sweeps int) {
	for range sweeps {
		m.gains()
		moved := 0.0
		for c := range m.paths {
			if m.in[c] {
				moved = max(moved, m.step(c))
			}
		}
		m.sweeps++
		if moved < stillCents {
			break
		}
	}
	m.gains()
}

const (
	// stillCents ends the sweeps: ten times finer than the finest figure shown.
	stillCents = 0.003
	// longestStep bounds one step of the mean, in cents.
	longestStep = 6.0
)

// step moves chair c's path, and returns how far in cents.
func (m *model) step(c int) float64 {
	nq, na := m.nq, m.na
	hq, ha := &m.hq, &m.ha
	hq.reset(nq)
	ha.reset(na)
	used := false
	for i := range m.lines[:m.use] {
		if l := &m.lines[i]; l.n[c] > 0 && m.curvature(l, c, hq, ha) {
			used = true
		}
	}
	if !used {
		return 0
	}
	p := &m.paths[c]
	for j := range nq {
		v := 1 / (prior(j) * prior(j))
		hq.a[j*nq+j] += v
		hq.b[j] -= v * p.q[j]
	}
	ha.a[0] += 1 // the mean envelope belongs to the gains
	for j := 1; j < na; j++ {
		v := float64(j*j) / (swell * swell)
		ha.a[j*na+j] += v
		ha.b[j] -= v * p.a[j]
	}
	hq.solve()
	ha.solve()
	scale := min(1, longestStep*perCent/max(tiny, math.Abs(hq.b[0])))
	most := 0.0
	for j := range nq {
		d := scale * hq.b[j]
		p.q[j] += d
		most = max(most, math.Abs(d)/perCent)
	}
	for j := 1; j < na; j++ {
		p.a[j] = max(-1.5, min(1.5, p.a[j]+max(-0.3, min(0.3, ha.b[j]))))
	}
	m.replace(c)
	return most
}

// curvature adds a line's part of the normal equations of chair c's path and
// envelope, the envelope itself left out of the curvature, which only sets
// the length of the step. Phase and envelope do not disturb one another: one is the
// imaginary, the other the real part of residual over model.
func (m *model) curvature(l *line, c int, hq, ha *matrix) bool {
	b := l.b[c]
	size := len(b)
	m.grow(size)
	im, re := m.scratchIm[:size], m.scratchRe[:size]
	clear(im)
	clear(re)
	energy := 0.0
	for o := range l.mics {
		h := &l.mics[o]
		if h.y == nil || h.g[c] == 0 || m.anchored && o != c || !m.focus.hears(o) {
			continue
		}
		w := 1 / h.noise
		g := h.g[c]
		energy += w * (real(g)*real(g) + imag(g)*imag(g))
		for i, v := range b {
			z := complex(real(g)*real(v)-imag(g)*imag(v), real(g)*imag(v)+imag(g)*real(v))
			r := h.r[i]
			re[i] += w * (real(z)*real(r) + imag(z)*imag(r))
			im[i] += w * (real(z)*imag(r) - imag(z)*real(r))
		}
	}
	if energy == 0 {
		return false
	}
	rate := 2 * math.Pi * float64(l.n[c]) * m.paths[c].f0
	energy *= meanPower(b)
	hq.add(l.phi, l.phiSquares, im, rate, energy)
	ha.add(l.amp, l.ampSquares, re, 1, energy)
	return true
}

// replace recomputes chair c's shape and what the model leaves over.
func (m *model) replace(c int) {
	for i := range m.lines[:m.use] {
		l := &m.lines[i]
		if l.n[c] == 0 {
			continue
		}
		old := append(m.old[:0], l.b[c]...)
		m.old = old
		m.paths[c].shape(l, l.n[c], l.b[c])
		for j, v := range l.b[c] {
			old[j] = v - old[j]
		}
		for o := range l.mics {
			if h := &l.mics[o]; h.y != nil && h.g[c] != 0 && m.focus.hears(o) {
				subtract(h.r, old, h.g[c])
			}
		}
	}
}

func (m *model) grow(n int) {
	if cap(m.scratchIm) < n {
		m.scratchIm, m.scratchRe = make([]float64, n), make([]float64, n)
	}
}

// matrix is a small symmetric system a x = b; solve leaves x in b.
type matrix struct {
	n    int
	a, b []float64
}

func (s *matrix) reset(n int) {
	s.n = n
	if cap(s.a) < n*n {
		s.a, s.b = make([]float64, n*n), make([]float64, n)
	}
	s.a, s.b = s.a[:n*n], s.b[:n]
	clear(s.a)
	clear(s.b)
}

// add accumulates rate² energy Σ φφᵀ, the sum tabulated in squares, and
// rate Σ φ d.
func (s *matrix) add(phi [][]float64, squares, d []float64, rate, energy float64) {
	for j, p := range phi {
		p = p[:len(d)]
		dot := 0.0
		for i, v := range p {
			dot += v * d[i]
		}
		s.b[j] += rate * dot
	}
	w := rate * rate * energy
	for i, v := range squares {
		s.a[i] += w * v
	}
}

// solve is Cholesky on the lower triangle, in place.
func (s *matrix) solve() {
	n, a, b := s.n, s.a, s.b
	for i := range n {
		for j := range i + 1 {
			sum := a[i*n+j]
			for k := range j {
				sum -= a[i*n+k] * a[j*n+k]
			}
			if i == j {
				a[i*n+i] = math.Sqrt(max(sum, tiny))
			} else {
				a[i*n+j] = sum / a[j*n+j]
			}
		}
	}
	for i := range n {
		for k := range i {
			b[i] -= a[i*n+k] * b[k]
		}
		b[i] /= a[i*n+i]
	}
	for i := n - 1; i >= 0; i-- {
		for k := i + 1; k < n; k++ {
			b[i] -= a[k*n+i] * b[k]
		}
		b[i] /= a[i*n+i]
	}
}
