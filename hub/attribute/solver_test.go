package attribute

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// solveTolerance is relative to values of order one in double precision.
const solveTolerance = 1e-9

// The complex system against gonum's real solver of twice the size.
func TestSolverAgainstGonum(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	for _, n := range []int{1, 2, 5, 16} {
		const frames = 40
		l := line{b: make([][]complex128, n)}
		s := solver{}
		for c := range n {
			for range frames {
				l.b[c] = append(l.b[c], cmplx.Rect(1, 2*math.Pi*rng.Float64()))
			}
			s.chairs = append(s.chairs, c)
		}
		y := make([]complex128, frames)
		for i := range y {
			y[i] = complex(rng.NormFloat64(), rng.NormFloat64())
		}
		s.gram(&l)
		s.right(&l, y)
		a, b := mat.NewDense(2*n, 2*n, nil), mat.NewVecDense(2*n, nil)
		for i := range n {
			s.ridge[i] = 0.1 + rng.Float64()
			for j := range n {
				z := inner(l.b[i], l.b[j])
				if i == j {
					z += complex(s.ridge[i], 0)
				}
				a.Set(i, j, real(z))
				a.Set(i+n, j+n, real(z))
				a.Set(i, j+n, -imag(z))
				a.Set(i+n, j, imag(z))
			}
			b.SetVec(i, real(s.rhs[i]))
			b.SetVec(i+n, imag(s.rhs[i]))
		}
		s.factor()
		s.solve()
		var x mat.VecDense
		if err := x.SolveVec(a, b); err != nil {
			t.Fatal(err)
		}
		for i := range n {
			if d := cmplx.Abs(s.x[i] - complex(x.AtVec(i), x.AtVec(i+n))); d > solveTolerance {
				t.Errorf("%d chairs: gain %d differs by %g", n, i, d)
			}
		}
		var inverse mat.Dense
		if err := inverse.Inverse(a); err != nil {
			t.Fatal(err)
		}
		for i := range n {
			if d := math.Abs(s.inverse(i) - inverse.At(i, i)); d > solveTolerance {
				t.Errorf("%d chairs: element %d of the inverse differs by %g", n, i, d)
			}
		}
	}
}

func TestMatrixAgainstGonum(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 2))
	const n = 9
	var s matrix
	s.reset(n)
	g := mat.NewDense(n, n, nil)
	for i := range n {
		for j := range n {
			g.Set(i, j, rng.NormFloat64())
		}
	}
	var a mat.Dense
	a.Mul(g, g.T())
	b := mat.NewVecDense(n, nil)
	for i := range n {
		for j := range n {
			s.a[i*n+j] = a.At(i, j)
		}
		s.b[i] = rng.NormFloat64()
		b.SetVec(i, s.b[i])
	}
	s.solve()
	var x mat.VecDense
	if err := x.SolveVec(&a, b); err != nil {
		t.Fatal(err)
	}
	for i := range n {
		if d := math.Abs(s.b[i] - x.AtVec(i)); d > 1e-6*math.Max(1, math.Abs(x.AtVec(i))) {
			t.Errorf("unknown %d differs by %g", i, d)
		}
	}
}

// The path's own frequency is the derivative of the phase it shapes.
func TestPathIsItsOwnDerivative(t *testing.T) {
	w := &window{half: 0.5, mid: 0.5}
	l := w.gridOf(400, 1.0/400)
	p := path{f0: 233, q: []float64{1e-4, 2e-3, -1e-3, 5e-4, 3e-4}, a: []float64{0}}
	b := make([]complex128, len(l.t))
	p.trace(l)
	l.trace.partial(2, l.rotorOf(466), b)
	for i := 100; i < 300; i += 50 {
		got := cmplx.Phase(b[i+1]/b[i-1])/(2*math.Pi)*400/2/2 + 233 // of partial 2, about 466
		u := (l.t[i] + 0.5)
		want := 1 + p.q[0]
		for j := 1; j < 5; j++ {
			want += p.q[j] * math.Cos(float64(j)*math.Pi*u)
		}
		want *= 233
		if math.Abs(1200*math.Log2(got/want)) > 0.01 {
			t.Errorf("at %.3f s: %.5f Hz, want %.5f", l.t[i], got, want)
		}
	}
}
