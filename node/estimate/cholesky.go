package estimate

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

// symmetric is a symmetric positive definite matrix, its lower triangle stored
// by rows of n. It is here rather than a library's because a reading
// factorises hundreds of them, and must neither allocate nor estimate
// condition numbers for each.
type symmetric struct {
	n int
	v []float64
}

func newSymmetric(n int) symmetric { return symmetric{n: n, v: make([]float64, n*n)} }

// row returns row i up to the diagonal.
func (s symmetric) row(i int) []float64 { return s.v[i*s.n : i*s.n+i+1] }

func (s symmetric) add(i, j int, x float64) {
	if j > i {
		i, j = j, i
	}
	s.v[i*s.n+j] += x
}

// factorize turns s into its Cholesky factor and returns the logarithm of its
// determinant; ok is false where s is not positive definite.
func (s symmetric) factorize() (logDet float64, ok bool) {
	product := 1.0 // a logarithm for each pivot would cost as much as the rest
	for i := range s.n {
		ri := s.row(i)
		for j := range i {
			rj := s.row(j)
			ri[j] = (ri[j] - floats.Dot(ri[:j], rj[:j])) / rj[j]
		}
		d := ri[i] - floats.Dot(ri[:i], ri[:i])
		if !(d > 0) || math.IsInf(d, 0) {
			return 0, false
		}
		ri[i] = math.Sqrt(d)
		if product *= d; product < 1e-150 || product > 1e150 {
			logDet += math.Log(product)
			product = 1
		}
	}
	return logDet + math.Log(product), true
}

// solve replaces b by the solution of s x = b; s must have been factorised.
func (s symmetric) solve(b []float64) {
	s.forward(b)
	for i := s.n - 1; i >= 0; i-- {
		ri := s.row(i)
		b[i] /= ri[i]
		floats.AddScaled(b[:i], -b[i], ri[:i])
	}
}

// forward replaces b by L⁻¹ b, so that its square is bᵀ s⁻¹ b.
func (s symmetric) forward(b []float64) {
	for i := range s.n {
		ri := s.row(i)
		b[i] = (b[i] - floats.Dot(ri[:i], b[:i])) / ri[i]
	}
}
