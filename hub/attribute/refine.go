package attribute

import (
	"math"
	"math/cmplx"
)

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
	if !m.pull(c) {
		return 0
	}
	nq, na := m.nq, m.na
	hq, ha := &m.hq, &m.ha
	hq.reset(nq)
	ha.reset(na)
	for _, g := range m.grids {
		if p := &g.pull; p.energy > 0 {
			g.phi.project(hq.b, p.phase)
			g.amp.project(ha.b, p.level)
			g.phi.hold(hq.a, p.curvature)
			g.amp.hold(ha.a, p.energy)
		}
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

// pull is what the residuals on the lines of a grid ask of a chair's phase and
// level at each time, and how firmly. Phase and level do not disturb one
// another: one is the imaginary, the other the real part of residual over model.
type pull struct {
	phase, level      []float64
	curvature, energy float64
	sum               []complex128
}

// pull sums up what the residuals ask of chair c. The envelope is left out of
// the curvature, which only sets the length of the step.
func (m *model) pull(c int) bool {
	for _, g := range m.grids {
		g.pull.reset(len(g.t))
	}
	used := false
	for i := range m.lines[:m.use] {
		if l := &m.lines[i]; l.n[c] > 0 && m.pullOn(l, c) {
			used = true
		}
	}
	return used
}

func (m *model) pullOn(l *line, c int) bool {
	p := &l.pull
	clear(p.sum)
	energy := 0.0
	for o := range l.mics {
		h := &l.mics[o]
		if h.y == nil || h.g[c] == 0 || m.anchored && o != c || !m.focus.hears(o) {
			continue
		}
		w := 1 / h.noise
		energy += w * power(h.g[c])
		add(p.sum, h.r, complex(w, 0)*cmplx.Conj(h.g[c]))
	}
	if energy == 0 {
		return false
	}
	b := l.b[c]
	rate := 2 * math.Pi * float64(l.n[c]) * m.paths[c].f0
	for i, r := range p.sum {
		v := b[i]
		p.level[i] += real(v)*real(r) + imag(v)*imag(r)
		p.phase[i] += rate * (real(v)*imag(r) - imag(v)*real(r))
	}
	energy *= meanPower(b)
	p.energy += energy
	p.curvature += rate * rate * energy
	return true
}

func (p *pull) reset(n int) {
	if p.sum == nil {
		p.phase, p.level, p.sum = make([]float64, n), make([]float64, n), make([]complex128, n)
	}
	clear(p.phase)
	clear(p.level)
	p.curvature, p.energy = 0, 0
}

// replace recomputes chair c's shape and what the model leaves over.
func (m *model) replace(c int) {
	m.forget()
	for i := range m.lines[:m.use] {
		l := &m.lines[i]
		if l.n[c] == 0 {
			continue
		}
		old := append(m.old[:0], l.b[c]...)
		m.old = old
		m.shapeOn(l, c)
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
