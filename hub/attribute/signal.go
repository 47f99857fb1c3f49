package attribute

import (
	"math"

	"gonum.org/v1/gonum/blas/cblas128"
)

// tiny keeps divisions finite; it is far below one coding step of silence.
const tiny = 1e-24

const perCent = math.Ln2 / 1200 // relative frequency per cent

func meanPower(y []complex128) float64 {
	sum := 0.0
	for _, z := range y {
		sum += real(z)*real(z) + imag(z)*imag(z)
	}
	return sum / float64(len(y))
}

func power(z complex128) float64 { return real(z)*real(z) + imag(z)*imag(z) }

func db(p float64) float64 { return 10 * math.Log10(p+tiny) }

// inner is the mean of conj(a) b.
func inner(a, b []complex128) complex128 {
	return cblas128.Dotc(vector(a), vector(b)) * complex(1/float64(len(a)), 0)
}

// subtract takes g b from r.
func subtract(r, b []complex128, g complex128) { add(r, b, -g) }

// add puts g b on top of r.
func add(r, b []complex128, g complex128) { cblas128.Axpy(g, vector(b), vector(r)) }

func vector(x []complex128) cblas128.Vector { return cblas128.Vector{N: len(x), Inc: 1, Data: x} }
