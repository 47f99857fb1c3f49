package estimate

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/floats"
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

// coarse finds the fundamental of a short window to within a few cents. Lags are in
// half samples: a piccolo's period is three samples.
type coarse struct {
	rate           float64
	window         int // samples looked at
	minLag, maxLag int

	fft, back *fourier.FFT // of samples, of half samples
	padded    []float64
	spectrum  []complex128
	nsdf      []float64 // normalised difference, by lag
}

// newCoarse returns a coarse for samples at the given (lowered) rate.
func newCoarse(rate float64) *coarse {
	c := &coarse{
		rate: rate, window: int(coarseWindow * rate),
		minLag: max(2, int(2*rate/MaxHz)), maxLag: int(math.Ceil(2 * rate / MinHz)),
	}
	size := smooth(c.window + c.maxLag/2 + 2)
	c.fft, c.back = fourier.NewFFT(size), fourier.NewFFT(2*size)
	c.padded, c.spectrum, c.nsdf = make([]float64, size), make([]complex128, size+1), make([]float64, 2*size)
	return c
}

// find returns the fundamental of x, which is window long, and its clarity:
// the height of the normalised difference there, 1 for a periodic sound and
// near 0 for noise. ok is false for silence and where no peak lies in range.
func (c *coarse) find(x []float64) (hz, clarity float64, ok bool) {
	clear(c.padded)
	copy(c.padded, x)
	floats.AddConst(-floats.Sum(x)/float64(len(x)), c.padded[:len(x)])
	if energy := floats.Dot(c.padded, c.padded); energy > 0 && !math.IsInf(energy, 0) {
		c.difference(energy, len(x))
		hz, clarity = c.first()
	}
	return hz, clarity, hz > 0
}

// difference fills nsdf with n'(τ) = 2 r'(τ)/m'(τ) (McLeod and Wyvill 2005, eq. 9). m'
// shrinks as the window does, by half as much for half a sample of lag.
func (c *coarse) difference(energy float64, n int) {
	size := len(c.padded)
	half := c.spectrum[:size/2+1]
	c.fft.Coefficients(half, c.padded)
	for i, v := range half {
		half[i] = complex(power(v), 0)
	}
	clear(c.spectrum[len(half):])
	c.back.Sequence(c.nsdf, c.spectrum)
	m := 2 * energy
	for lag := range c.maxLag + 2 {
		a, b := c.padded[lag/2], c.padded[n-1-lag/2]
		m -= (a*a + b*b) / 2
		c.nsdf[lag] *= 2 / float64(size) / m
	}
}

// first returns the pitch of the first peak after the first zero crossing that reaches
// firstPeak of the best, and its height; 0 without.
func (c *coarse) first() (hz, height float64) {
	lags := c.nsdf[:c.maxLag+2]
	crossing := slices.IndexFunc(lags, func(v float64) bool { return v < 0 })
	if crossing < 0 {
		return 0, 0
	}
	best := floats.Max(lags[crossing:])
	for l := max(c.minLag, crossing+1); l <= c.maxLag; l++ {
		if lags[l] < lags[l-1] || lags[l] < lags[l+1] {
			continue
		}
		off := peakOffset(lags[l-1], lags[l], lags[l+1])
		if height = lags[l] - (lags[l-1]-lags[l+1])*off/4; height > 0 && height >= firstPeak*best {
			return 2 * c.rate / (float64(l) + off), min(1, height)
		}
	}
	return 0, 0
}

// at returns the normalised difference at the period of hz in the window that
// find saw last: near its clarity when hz explains the sound as well.
func (c *coarse) at(hz float64) float64 {
	lag := min(c.maxLag, int(math.Round(2*c.rate/hz)))
	return floats.Max(c.nsdf[lag-1 : lag+2])
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
