package estimate

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

const (
	// lowRate, in Hz, is about the rate at which all else looks: it holds the first
	// partial of the highest note and the tenth of most.
	lowRate = 12000
	// filterSide is the half length of the low-pass filter in samples out, passShare the
	// part of the new half rate that it lets through: what folds back below 0.7 of it is
	// 57 dB down.
	filterSide, passShare = 7.0, 0.9
)

// Decimator lowers the rate by a whole factor behind a windowed-sinc low-pass
// filter. The zero value is not ready; use NewDecimator.
type Decimator struct {
	factor int
	taps   []float64
	ring   []float64 // doubled, so that a window never wraps
	at     int
	phase  int
}

// NewDecimator returns a Decimator from rate to lowRate or a little more.
func NewDecimator(rate float64) *Decimator {
	d := &Decimator{factor: lowFactor(rate)}
	d.taps = make([]float64, 2*int(filterSide)*d.factor)
	d.ring = make([]float64, 2*len(d.taps))
	for i := range d.taps {
		x := math.Pi * ((float64(i)+0.5)/float64(d.factor) - filterSide) // never 0
		d.taps[i] = math.Sin(passShare*x) / x * (1 + math.Cos(x/filterSide))
	}
	floats.Scale(1/floats.Sum(d.taps), d.taps)
	return d
}

func lowFactor(rate float64) int { return max(1, int(rate/lowRate)) }

// Factor returns how many samples go in for each that comes out.
func (d *Decimator) Factor() int { return d.factor }

// Write takes one sample; ok is true when it completes an output sample.
func (d *Decimator) Write(x float64) (y float64, ok bool) {
	n := len(d.taps)
	d.ring[d.at], d.ring[d.at+n] = x, x
	d.at = (d.at + 1) % n
	if d.phase = (d.phase + 1) % d.factor; d.phase > 0 {
		return 0, false
	}
	return floats.Dot(d.taps, d.ring[d.at:d.at+n]), true
}

// Reset forgets the past.
func (d *Decimator) Reset() {
	clear(d.ring)
	d.at, d.phase = 0, 0
}
