package attribute

import "math"

// solver solves the small Hermitian systems of the gains.
type solver struct {
	chairs []int
	g      []complex128 // Gram matrix of the shapes, row by row
	l      []complex128 // its Cholesky factor with the ridge added
	rhs, x []complex128
	ridge  []float64
}

func (s *solver) size(n int) {
	if cap(s.g) < n*n {
		s.g, s.l = make([]complex128, n*n), make([]complex128, n*n)
		s.rhs, s.x, s.ridge = make([]complex128, n), make([]complex128, n), make([]float64, n)
	}
	s.g, s.l = s.g[:n*n], s.l[:n*n]
	s.rhs, s.x, s.ridge = s.rhs[:n], s.x[:n], s.ridge[:n]
}

// gram fills the lower triangle with mean conj(b_i) b_j.
func (s *solver) gram(l *line) {
	n := len(s.chairs)
	s.size(n)
	for i, a := range s.chairs {
		for j, b := range s.chairs[:i+1] {
			s.g[i*n+j] = inner(l.b[a], l.b[b])
		}
	}
}

// right fills the right-hand side for one microphone.
func (s *solver) right(l *line, y []complex128) {
	for i, a := range s.chairs {
		s.rhs[i] = inner(l.b[a], y)
	}
}

// inner is the mean of conj(a) b.
func inner(a, b []complex128) complex128 {
	var re, im float64
	for i, v := range a {
		w := b[i]
		re += real(v)*real(w) + imag(v)*imag(w)
		im += real(v)*imag(w) - imag(v)*real(w)
	}
	n := float64(len(a))
	return complex(re/n, im/n)
}

// solve factors the Gram matrix plus ridge (per frame) and solves for x.
func (s *solver) solve() {
	n := len(s.chairs)
	for i := range n {
		for j := range i + 1 {
			sum := s.g[i*n+j]
			if i == j {
				sum += complex(s.ridge[i], 0)
			}
			for k := range j {
				a, b := s.l[i*n+k], s.l[j*n+k]
				sum -= complex(real(a)*real(b)+imag(a)*imag(b), imag(a)*real(b)-real(a)*imag(b))
			}
			if i == j {
				s.l[i*n+i] = complex(math.Sqrt(max(real(sum), 1e-9)), 0)
			} else {
				s.l[i*n+j] = sum / s.l[j*n+j]
			}
		}
	}
	for i := range n {
		sum := s.rhs[i]
		for k := range i {
			sum -= s.l[i*n+k] * s.x[k]
		}
		s.x[i] = sum / s.l[i*n+i]
	}
	for i := n - 1; i >= 0; i-- {
		sum := s.x[i]
		for k := i + 1; k < n; k++ {
			a := s.l[k*n+i]
			sum -= complex(real(a), -imag(a)) * s.x[k]
		}
		s.x[i] = sum / s.l[i*n+i]
	}
}
