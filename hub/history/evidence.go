package history

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"bellrow/proto/pitch"
)

// Evidence is an effect with its interval over independent rehearsals (or
// moves).
type Evidence struct {
	N    int     `json:"n"`    // rehearsals or moves
	Mean float64 `json:"mean"` // in the unit of the habit
	// Low and High bound it at the error probability of one look.
	Low  float64 `json:"low"`
	High float64 `json:"high"`
}

// trimFrom is how many values it takes before one is set aside at each end.
const trimFrom = 6

// mean returns the evidence of xs at a two-sided error probability alpha: from
// six values on the mean without one at each end, with the standard error of
// the winsorized values (J. W. Tukey and D. H. McLaughlin, Sankhyā A 25:331,
// 1963; K. K. Yuen, Biometrika 61:165, 1974), so that one odd day neither
// makes a finding nor hides one. With fewer than two values the interval is
// infinite on both sides, and nothing follows from it.
func mean(xs []float64, alpha float64) Evidence {
	e := Evidence{N: len(xs), Low: math.Inf(-1), High: math.Inf(1)}
	n := len(xs)
	if n < 2 {
		return e
	}
	g := 0
	if n >= trimFrom {
		g = 1
	}
	s := slices.Clone(xs)
	slices.Sort(s)
	e.Mean = stat.Mean(s[g:n-g], nil)
	for i := range g {
		s[i], s[n-1-i] = s[g], s[n-1-g]
	}
	h := float64(n - 2*g)
	se := stat.StdDev(s, nil) * math.Sqrt(float64(n-1)/(h*(h-1)))
	half := studentsT(1-alpha/2, h-1) * se
	e.Low, e.High = e.Mean-half, e.Mean+half
	return e
}

func studentsT(p, nu float64) float64 {
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: nu}.Quantile(p)
}

// changing returns how far neighbouring values of xs differ, as the standard
// deviation that independent values would have: the mean square successive
// difference (J. von Neumann et al., Ann. Math. Stat. 12:153, 1941), which a
// slow trend leaves alone. The value farthest from the rest is brought in to
// the second farthest once there are six. Its interval is chi-square with two thirds as many degrees of
// freedom as there are differences, for neighbouring differences share a value.
func changing(xs []float64, alpha float64) Evidence {
	xs = oddestIn(xs)
	e := Evidence{N: len(xs), High: math.Inf(1)}
	if len(xs) < 3 {
		return e
	}
	ss := 0.0
	for i := range len(xs) - 1 {
		d := xs[i+1] - xs[i]
		ss += d * d / 2
	}
	n := float64(len(xs) - 1)
	nu := n * 2 / 3
	chi := distuv.ChiSquared{K: nu}
	e.Mean = math.Sqrt(ss / n)
	e.Low = math.Sqrt(ss / n * nu / chi.Quantile(1-alpha/2))
	e.High = math.Sqrt(ss / n * nu / chi.Quantile(alpha/2))
	return e
}

// oddestIn brings the value farthest from the median of six or more in to the
// distance of the second farthest.
func oddestIn(xs []float64) []float64 {
	if len(xs) < trimFrom {
		return xs
	}
	m, odd, second := pitch.Median(xs), 0, 0.0
	for i, x := range xs {
		if math.Abs(x-m) > math.Abs(xs[odd]-m) {
			odd = i
		}
	}
	for i, x := range xs {
		if i != odd {
			second = math.Max(second, math.Abs(x-m))
		}
	}
	out := slices.Clone(xs)
	out[odd] = m + math.Copysign(second, xs[odd]-m)
	return out
}

// ratio is y over x by least squares through the origin, so that large x count
// for more, with Student's interval. Of every trimFrom points, the one that
// fits worst is left out.
func ratio(ps []point, alpha float64) Evidence {
	e := Evidence{N: len(ps), Low: math.Inf(-1), High: math.Inf(1)}
	if len(ps) < 2 {
		return e
	}
	b, xx, ss := throughOrigin(ps)
	misfit := func(p point) float64 { return math.Abs(p.y - b*p.x) }
	for range len(ps) / trimFrom {
		worst := 0
		for i := range ps {
			if misfit(ps[i]) > misfit(ps[worst]) {
				worst = i
			}
		}
		ps = slices.Delete(slices.Clone(ps), worst, worst+1)
		b, xx, ss = throughOrigin(ps)
	}
	nu := float64(len(ps) - 1)
	half := studentsT(1-alpha/2, nu) * math.Sqrt(ss/nu/xx)
	e.Mean, e.Low, e.High = b, b-half, b+half
	return e
}

// throughOrigin fits y = b x and returns b, the sum of squares of x and that
// of the residuals.
func throughOrigin(ps []point) (b, xx, ss float64) {
	var xy float64
	for _, p := range ps {
		xx += p.x * p.x
		xy += p.x * p.y
	}
	b = xy / xx
	for _, p := range ps {
		ss += (p.y - b*p.x) * (p.y - b*p.x)
	}
	return b, xx, ss
}

// fewestPoints is how many readings make a slope.
const fewestPoints = 4

// point is one reading on its way into a slope.
type point struct{ x, y float64 }

// slope is the slope of y over x: the median of the slopes of all pairs, each
// weighted by its distance in x (Theil and Sen; weights after L. A. Jaeckel,
// Ann. Math. Stat. 43:1449, 1972). It is false with fewer than fewestPoints, or
// when they span less than least.
func slope(ps []point, least float64) (float64, bool) {
	type pair struct{ slope, weight float64 }
	var pairs []pair
	span, total := 0.0, 0.0
	for i, p := range ps {
		for _, q := range ps[:i] {
			dx := math.Abs(p.x - q.x)
			if dx == 0 {
				continue
			}
			pairs = append(pairs, pair{(p.y - q.y) / (p.x - q.x), dx})
			span, total = math.Max(span, dx), total+dx
		}
	}
	if len(ps) < fewestPoints || span < least {
		return 0, false
	}
	slices.SortFunc(pairs, func(a, b pair) int { return cmp.Compare(a.slope, b.slope) })
	sum := 0.0
	for _, p := range pairs {
		if sum += p.weight; sum >= total/2 {
			return p.slope, true
		}
	}
	return 0, false
}
