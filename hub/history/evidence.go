package history

import (
	"math"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Evidence is an effect with its interval: the mean over independent
// rehearsals (or moves), by Student's t.
type Evidence struct {
	N         int     // rehearsals or moves
	Mean      float64 // in the unit of the habit
	Low, High float64 // at the confidence asked for
}

// mean returns the evidence of xs at a two-sided error probability alpha.
// With fewer than two values the interval is infinite on both sides and
// nothing follows from it.
func mean(xs []float64, alpha float64) Evidence {
	e := Evidence{N: len(xs), Low: math.Inf(-1), High: math.Inf(1)}
	if len(xs) < 2 {
		return e
	}
	m, sd := stat.MeanStdDev(xs, nil)
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(len(xs) - 1)}.Quantile(1 - alpha/2)
	half := t * sd / math.Sqrt(float64(len(xs)))
	e.Mean, e.Low, e.High = m, m-half, m+half
	return e
}

// deviation returns the standard deviation of xs with its chi-square interval.
func deviation(xs []float64, alpha float64) Evidence {
	e := Evidence{N: len(xs), High: math.Inf(1)}
	if len(xs) < 2 {
		return e
	}
	nu := float64(len(xs) - 1)
	chi := distuv.ChiSquared{K: nu}
	ss := nu * stat.Variance(xs, nil)
	e.Mean = math.Sqrt(ss / nu)
	e.Low = math.Sqrt(ss / chi.Quantile(1-alpha/2))
	e.High = math.Sqrt(ss / chi.Quantile(alpha/2))
	return e
}

// slope is the least-squares slope of y over x, false without a spread of at
// least least in x.
func slope(x, y []float64, least float64) (float64, bool) {
	if len(x) < 3 {
		return 0, false
	}
	lo, hi := x[0], x[0]
	for _, v := range x {
		lo, hi = math.Min(lo, v), math.Max(hi, v)
	}
	if hi-lo < least {
		return 0, false
	}
	_, b := stat.LinearRegression(x, y, nil, false)
	return b, true
}
