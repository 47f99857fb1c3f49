package estimate

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/floats"
)

const (
	// spare is how many times the highest frequency wanted the lowered rate is
	// at least. The filter may fall over what lies between that and its mirror
	// image; a lower rate would save less than the longer filter costs.
	spare = 2.6
	// lowerDB is how far aliases are kept down. What folds down is breath and
	// the weakest partials, 40 dB below the strongest.
	lowerDB = 90.0
)

// lowered is the spectrum of a stretch at a rate that just holds its partials.
type lowered struct {
	rate     float64
	size     int // points transformed
	spectrum []complex128
}

// lower transforms x, of which frequencies up to top are wanted, padded by
// tail samples at both ends. The filter is symmetric and sample m of the
// lowered sound lies at sample m·factor of x: phases stay what they are.
func lower(x []float64, rate, top float64, tail int) lowered {
	factor := max(1, int(rate/(spare*top)))
	n := (len(x) + factor - 1) / factor
	size := smooth(n + 2*(tail/factor+1))
	y := make([]float64, size)
	if factor == 1 {
		copy(y, x)
	} else {
		taps := lowPass(rate, top, factor)
		half := len(taps) / 2
		for m := -half / factor; m <= (len(x)-1+half)/factor; m++ {
			from, to := m*factor-half, m*factor+half+1
			lo, hi := max(0, from), min(len(x), to)
			y[(m+size)%size] = floats.Dot(taps[lo-from:hi-from], x[lo:hi])
		}
	}
	return lowered{rate / float64(factor), size, fourier.NewFFT(size).Coefficients(nil, y)}
}

// lowPass returns a filter that passes up to top Hz and stops what would fold
// there, by the window of Kaiser, Nonrecursive digital filter design using the
// I0-sinh window function, Proc. IEEE ISCAS 1974, 20–23.
func lowPass(rate, top float64, factor int) []float64 {
	low := rate / float64(factor)
	half := int(math.Ceil((lowerDB - 7.95) / (2.285 * 2 * math.Pi * (low - 2*top) / rate) / 2))
	const beta = 0.1102 * (lowerDB - 8.7)
	taps := make([]float64, 2*half+1)
	for i := range taps {
		x := float64(i - half)
		r := x / float64(half)
		taps[i] = sinc(x/float64(factor)) * bessel0(beta*math.Sqrt(1-r*r))
	}
	floats.Scale(1/floats.Sum(taps), taps)
	return taps
}

// bessel0 is the modified Bessel function I0 by its power series.
func bessel0(x float64) float64 {
	sum, term := 1.0, 1.0
	for k := 1.0; term > 1e-12*sum; k++ {
		term *= x * x / (4 * k * k)
		sum += term
	}
	return sum
}
