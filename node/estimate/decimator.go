package estimate

import "math"

// coarseRate is the rate, in Hz, at which the coarse fundamental is sought.
// 8 kHz holds three partials of the highest brass notes and the ninth partial
// of a low one, at a sixth of the work.
const coarseRate = 12000

// decimatorZeros is the half length of the low-pass filter in output samples:
// 6 gives 50 dB of stop band with the Hann window, and aliases that low never
// move a coarse peak.
const decimatorZeros = 6

// Decimator lowers the rate by a whole factor behind a windowed-sinc low-pass
// filter. The zero value is not ready; use NewDecimator.
type Decimator struct {
	factor int
	taps   []float64
	ring   []float64 // doubled, so that a window never wraps
	at     int
	phase  int
}

// NewDecimator returns a Decimator from rate to about coarseRate.
func NewDecimator(rate float64) *Decimator {
	factor := lowFactor(rate)
	d := &Decimator{factor: factor}
	if factor == 1 {
		return d
	}
	half := decimatorZeros * factor
	d.taps = make([]float64, 2*half+1)
	const cutoff = 0.9 // of the new Nyquist frequency: the transition band lies above 3.6 kHz
	sum := 0.0
	for i := range d.taps {
		x := float64(i-half) / float64(factor)
		d.taps[i] = sinc(cutoff*x) * (0.5 + 0.5*math.Cos(math.Pi*x/(decimatorZeros+1)))
		sum += d.taps[i]
	}
	for i := range d.taps {
		d.taps[i] /= sum
	}
	d.ring = make([]float64, 2*len(d.taps))
	return d
}

func lowFactor(rate float64) int { return max(1, int(rate/coarseRate)) }

func sinc(x float64) float64 {
	if x == 0 {
		return 1
	}
	return math.Sin(math.Pi*x) / (math.Pi * x)
}

// Factor returns how many samples go in for each that comes out.
func (d *Decimator) Factor() int { return d.factor }

// Write takes one sample; ok is true when it completes an output sample.
func (d *Decimator) Write(x float64) (y float64, ok bool) {
	if d.factor == 1 {
		return x, true
	}
	n := len(d.taps)
	d.ring[d.at], d.ring[d.at+n] = x, x
	if d.at++; d.at == n {
		d.at = 0
	}
	if d.phase++; d.phase < d.factor {
		return 0, false
	}
	d.phase = 0
	window := d.ring[d.at : d.at+n]
	for i, t := range d.taps {
		y += t * window[i]
	}
	return y, true
}

// Reset forgets the past.
func (d *Decimator) Reset() {
	clear(d.ring)
	d.at, d.phase = 0, 0
}
