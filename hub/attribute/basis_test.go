package attribute

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Halves and parities against plain sums over all times, of odd and even number.
func TestBasisAgainstPlainSums(t *testing.T) {
	const half, nq = 0.5, 6
	rng := rand.New(rand.NewPCG(3, 3))
	for _, size := range []int{40, 41} {
		w := &window{half: half}
		g := w.gridOf(size, 2*half/float64(size))
		phase := func(j int, x float64) float64 {
			if j == 0 {
				return x
			}
			return math.Sin(float64(j)*math.Pi*(x+half)) / (float64(j) * math.Pi)
		}
		weights, d := make([]float64, nq), make([]float64, size)
		for j := range weights {
			weights[j] = rng.NormFloat64()
		}
		for i := range d {
			d[i] = rng.NormFloat64()
		}
		sums, got := make([]float64, size), make([]float64, len(g.phi.terms))
		g.phi.sum(sums, weights)
		g.phi.project(got, d)
		for j := range nq {
			mean, want := 0.0, 0.0
			for _, x := range g.t {
				mean += phase(j, x) / float64(size)
			}
			for i, x := range g.t {
				want += (phase(j, x) - mean) * d[i]
				sums[i] -= weights[j] * (phase(j, x) - mean)
			}
			if math.Abs(got[j]-want) > solveTolerance {
				t.Errorf("%d times: projection on term %d is %g, want %g", size, j, got[j], want)
			}
		}
		for i, left := range sums {
			if math.Abs(left) > solveTolerance {
				t.Errorf("%d times: the sum at %d is off by %g", size, i, left)
			}
		}
		amp := make([]float64, size)
		g.amp.sum(amp, []float64{5, 0, 1})
		for i, x := range g.t {
			if want := math.Cos(2 * math.Pi * (x + half)); math.Abs(amp[i]-want) > solveTolerance {
				t.Errorf("%d times: envelope at %d is %g, want %g", size, i, amp[i], want)
			}
		}
	}
}

// The short series for powers of e against the library's.
func TestSeriesAgainstTheLibrary(t *testing.T) {
	const turnTolerance, grownTolerance = 2e-7, 2e-6
	for x := -3.0; x <= 3; x += 0.01 {
		s, c := math.Sincos(2 * math.Pi * x)
		if z := turn(x); math.Hypot(real(z)-c, imag(z)-s) > turnTolerance {
			t.Errorf("turn(%.2f) is off by %g", x, math.Hypot(real(z)-c, imag(z)-s))
		}
		if e := grown(x)/math.Exp(x) - 1; math.Abs(e) > grownTolerance {
			t.Errorf("grown(%.2f) is off by %g", x, e)
		}
	}
}
