package attribute

import (
	"math"
	"math/cmplx"
)

// lower is a Hermitian matrix up to its diagonal, row by row, or its Cholesky factor.
type lower [][]complex128

// factor puts the Cholesky factor of the matrix, with load added to its diagonal,
// in its place.
func (l lower) factor(load float64) {
	for i := range l {
		for j := 0; j <= i; j++ {
			v := l[i][j]
			if i == j {
				v += complex(load, 0)
			}
			for k := range j {
				v -= l[i][k] * cmplx.Conj(l[j][k])
			}
			if i == j {
				l[i][i] = complex(math.Sqrt(max(real(v), tiny)), 0)
			} else {
				l[i][j] = v / l[j][j]
			}
		}
	}
}

// solve puts the solution for x in its place, with the factor.
func (l lower) solve(x []complex128) {
	for i := range x {
		for k := range i {
			x[i] -= l[i][k] * x[k]
		}
		x[i] /= l[i][i]
	}
	for i := len(x) - 1; i >= 0; i-- {
		for k := i + 1; k < len(x); k++ {
			x[i] -= cmplx.Conj(l[k][i]) * x[k]
		}
		x[i] /= l[i][i]
	}
}
