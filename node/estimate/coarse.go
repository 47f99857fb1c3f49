package estimate

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"
)

// The range of fundamentals sought. The lowest brass note is the pedal B flat
// of a BBb tuba, 29.1 Hz; the highest that a band plays the top C of a piccolo, 4186 Hz,
// two octaves above a trumpet's.
const (
	MinHz = 26.5
	MaxHz = 4200
)

const (
	// coarseWindow is the stretch looked at, in seconds: three periods of the
	// lowest note, and short against the slowest settling note.
	coarseWindow = 0.115
	// firstPeak is how high a peak must stand against the best to be taken
	// first: the factor k of McLeod and Wyvill (2005), section 5, who give 0.8
	// to 1.0; 0.92 made no octave errors on brass spectra with noise.
	firstPeak = 0.92
)

// Coarse finds the fundamental of a short window to within a few cents.
type Coarse struct {
	rate   float64
	window int // samples looked at
	minLag int // in half samples, as all lags
	maxLag int

	fft      *fourier.FFT
	back     *fourier.FFT // twice as long: lags in half samples
	padded   []float64
	spectrum []complex128
	between  []float64
	nsdf     []float64
}

// NewCoarse returns a Coarse for samples at the given (decimated) rate.
func NewCoarse(rate float64) *Coarse {
	c := &Coarse{
		rate:   rate,
		window: int(coarseWindow * rate),
		minLag: max(2, int(2*rate/MaxHz)),
		maxLag: int(math.Ceil(2 * rate / MinHz)),
	}
	size := smooth(c.window + c.maxLag/2 + 2)
	c.fft, c.back = fourier.NewFFT(size), fourier.NewFFT(2*size)
	c.padded = make([]float64, size)
	c.spectrum = make([]complex128, size+1)
	c.between = make([]float64, 2*size)
	c.nsdf = make([]float64, c.maxLag+2)
	return c
}

// Window returns how many samples Find looks at.
func (c *Coarse) Window() int { return c.window }

// Find returns the fundamental of x, whose length is Window, and its clarity:
// the height of the normalised difference there, 1 for a periodic sound and
// near 0 for noise. ok is false for silence and where no peak lies in range.
func (c *Coarse) Find(x []float64) (hz, clarity float64, ok bool) {
	if !c.difference(x) {
		return 0, 0, false
	}
	lag, clarity := c.pick()
	if lag == 0 {
		return 0, 0, false
	}
	period := float64(lag) + peakOffset(c.nsdf[lag-1], c.nsdf[lag], c.nsdf[lag+1])
	return 2 * c.rate / period, clarity, true
}

// at returns the normalised difference at the period of hz in the window that
// Find saw last: near its clarity when hz explains the sound as well.
func (c *Coarse) at(hz float64) float64 {
	lag := int(math.Round(2 * c.rate / hz))
	if lag < 1 || lag+1 >= len(c.nsdf) {
		return 0
	}
	return max(c.nsdf[lag-1], c.nsdf[lag], c.nsdf[lag+1])
}

// difference fills nsdf with n'(τ) = 2 r'(τ)/m'(τ) (McLeod and Wyvill 2005, eq. 9).
func (c *Coarse) difference(x []float64) bool {
	mean := 0.0
	for _, v := range x {
		mean += v
	}
	mean /= float64(len(x))
	clear(c.padded)
	energy := 0.0
	for i, v := range x {
		c.padded[i] = v - mean
		energy += c.padded[i] * c.padded[i]
	}
	if !(energy > 0) || math.IsInf(energy, 0) {
		return false
	}
	half := len(c.padded)/2 + 1
	c.fft.Coefficients(c.spectrum[:half], c.padded)
	for i, v := range c.spectrum[:half] {
		c.spectrum[i] = complex(real(v)*real(v)+imag(v)*imag(v), 0)
	}
	clear(c.spectrum[half:])
	c.back.Sequence(c.between, c.spectrum)
	c.normalise(energy, len(x))
	return true
}

// normalise divides by m'(τ), which shrinks as the window does.
func (c *Coarse) normalise(energy float64, n int) {
	m, scale := 2*energy, 2/float64(len(c.padded))
	for lag := range c.nsdf {
		if a := lag / 2; a < n {
			// A half sample of lag takes away half of what a sample does.
			m -= (c.padded[a]*c.padded[a] + c.padded[n-1-a]*c.padded[n-1-a]) / 2
		}
		c.nsdf[lag] = 0
		if m > 1e-12*energy {
			c.nsdf[lag] = scale * c.between[lag] / m
		}
	}
}

// pick returns the first lag whose peak reaches firstPeak of the best.
func (c *Coarse) pick() (lag int, clarity float64) {
	best := 0.0
	for pass := range 2 {
		crossed := false // only peaks after the first zero crossing count
		for l := 1; l <= c.maxLag; l++ {
			v := c.nsdf[l]
			crossed = crossed || v < 0
			if !crossed || v <= 0 || l < c.minLag || v < c.nsdf[l-1] || v < c.nsdf[l+1] {
				continue
			}
			height := peakHeight(c.nsdf[l-1], v, c.nsdf[l+1])
			if pass == 0 {
				best = max(best, height)
			} else if height >= firstPeak*best {
				return l, min(1, height)
			}
		}
	}
	return 0, 0
}

// peakOffset is where the parabola through three points has its peak, from
// the middle one, within ±1/2.
func peakOffset(a, b, c float64) float64 {
	d := a - 2*b + c
	if d >= 0 {
		return 0
	}
	return max(-0.5, min(0.5, (a-c)/(2*d)))
}

func peakHeight(a, b, c float64) float64 {
	o := peakOffset(a, b, c)
	return b - (a-c)*o/4
}

// smooth returns the smallest even number ≥ n with no prime factor above 5,
// for which the transform is quick.
func smooth(n int) int {
	for n += n % 2; ; n += 2 {
		m := n
		for _, p := range [...]int{2, 3, 5} {
			for m%p == 0 {
				m /= p
			}
		}
		if m == 1 {
			return n
		}
	}
}
