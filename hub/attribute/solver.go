package attribute

import (
	"math"

	"gonum.org/v1/gonum/blas/cblas128"
)

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
	return cblas128.Dotc(vector(a), vector(b)) * complex(1/float64(len(a)), 0)
}

// factor finds the Cholesky factor of the Gram matrix plus ridge (per frame).
// Its diagonal is kept as the reciprocal.
func (s *solver) factor() {
	n := len(s.chairs)
	for i := range n {
		row := s.l[i*n : i*n+i+1]
		for j := range row {
			sum := s.g[i*n+j] - product(row[:j], s.l[j*n:])
			if j < i {
				row[j] = scaled(sum, real(s.l[j*n+j]))
				continue
			}
			row[j] = complex(1/math.Sqrt(max(real(sum)+s.ridge[i], leastPivot)), 0)
		}
	}
}

// solve finds x for the right-hand side.
func (s *solver) solve() {
	n := len(s.chairs)
	s.forward(0)
	for i := n - 1; i >= 0; i-- {
		sum := s.x[i]
		for k := i + 1; k < n; k++ {
			a := s.l[k*n+i]
			sum -= complex(real(a), -imag(a)) * s.x[k]
		}
		s.x[i] = scaled(sum, real(s.l[i*n+i]))
	}
}

// forward leaves in x the right-hand side divided by the factor, from row first
// on, above which it is zero.
func (s *solver) forward(first int) {
	n := len(s.chairs)
	for i := first; i < n; i++ {
		sum := s.rhs[i]
		for k := first; k < i; k++ {
			sum -= s.l[i*n+k] * s.x[k]
		}
		s.x[i] = scaled(sum, real(s.l[i*n+i]))
	}
}

// inverse is diagonal element i of the inverse: how much larger a gain's error
// is for the others being there.
func (s *solver) inverse(i int) float64 {
	clear(s.rhs)
	s.rhs[i] = 1
	s.forward(i)
	sum := 0.0
	for _, z := range s.x[i:] {
		sum += power(z)
	}
	return sum
}

// leastPivot keeps coinciding shapes from dividing by nothing.
const leastPivot = 1e-9

// product is Σ a conj(b) over the length of a.
func product(a, b []complex128) complex128 {
	var re, im float64
	b = b[:len(a)]
	for k, v := range a {
		w := b[k]
		re += real(v)*real(w) + imag(v)*imag(w)
		im += imag(v)*real(w) - real(v)*imag(w)
	}
	return complex(re, im)
}

func scaled(z complex128, by float64) complex128 { return complex(real(z)*by, imag(z)*by) }
