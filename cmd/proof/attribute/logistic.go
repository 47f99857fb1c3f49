package attribute

import (
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/optimize"
	"gonum.org/v1/gonum/stat"
)

// example is what is learned from: facts, whether they were right, and how often
// the example counts.
type example struct {
	facts  []float64
	right  bool
	counts float64
}

// logistic are the weights, constant first, of the log odds that examples speak for:
// the likeliest ones under a ridge on standardised facts (Hastie and others, The
// Elements of Statistical Learning, 2nd ed., sections 3.4.1 and 4.4.1).
func logistic(of []example, ridge float64) ([]float64, error) {
	n := len(of[0].facts)
	mean, sd := make([]float64, n), make([]float64, n)
	column := make([]float64, len(of))
	for j := range n {
		for i := range of {
			column[i] = of[i].facts[j]
		}
		mean[j], sd[j] = stat.MeanStdDev(column, nil)
		if sd[j] == 0 {
			sd[j] = 1
		}
	}
	x := make([][]float64, len(of))
	for i := range of {
		x[i] = make([]float64, n+1)
		x[i][0] = 1
		for j, f := range of[i].facts {
			x[i][j+1] = (f - mean[j]) / sd[j]
		}
	}
	problem := optimize.Problem{
		Func: func(w []float64) float64 {
			sum := ridge / 2 * floats.Dot(w[1:], w[1:])
			for i := range of {
				z := floats.Dot(w, x[i])
				if of[i].right {
					z = -z
				}
				sum += of[i].counts * (max(z, 0) + math.Log1p(math.Exp(-math.Abs(z))))
			}
			return sum
		},
		Grad: func(grad, w []float64) {
			for j := range w {
				grad[j] = ridge * w[j]
			}
			grad[0] = 0
			for i := range of {
				e := 1 / (1 + math.Exp(-floats.Dot(w, x[i])))
				if of[i].right {
					e--
				}
				floats.AddScaled(grad, of[i].counts*e, x[i])
			}
		},
	}
	res, err := optimize.Minimize(problem, make([]float64, n+1), &optimize.Settings{GradientThreshold: 1e-3, MajorIterations: 500}, &optimize.LBFGS{})
	if res == nil {
		return nil, err
	}
	w := res.X
	for j := range n {
		w[j+1] /= sd[j]
		w[0] -= w[j+1] * mean[j]
	}
	return w, nil
}
