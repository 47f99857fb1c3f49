package estimate

import (
	"math"
	"math/cmplx"
)

// Mains hum makes the coarse fundamental fall to a pitch that hum and note
// have nearly in common: a third or a quarter of the note. Its own partials
// are then missing everywhere but where hum is.

const (
	// humTop is where hum ends, in Hz; humNear how near to a multiple of the
	// mains a line must lie to be hum, besides what a short stretch blurs:
	// grids keep within a tenth of a hertz, which its multiples multiply.
	humTop  = 500.0
	humNear = 0.4
	// missingShare is how little of the energy may lie in the bands in between,
	// above hum, for the pitch to be a multiple: breath alone.
	missingShare = 0.01
	// inPlace is how near to its place the mean frequency of a band lies, in Hz,
	// when a partial stands in it; breath and leaks scatter over the band.
	inPlace = 3.0
	// faintest is the share of the strongest partial's energy below which a
	// band holds nothing to judge by.
	faintest = 1e-4
	// missingBands is how many such partials there must be to judge by.
	missingBands = 2
	// highestMultiple bounds the search.
	highestMultiple = 8
)

// multiple returns n when the note is rather n times the reference, else 1.
func (f *frames) multiple() int {
	for n := highestMultiple; n > 1; n-- {
		if float64(n)*f.hz <= MaxHz && f.missing(n) {
			return n
		}
	}
	return 1
}

// missing reports whether the partials that are no multiples of n are missing:
// no band of theirs has a line in its place, save hum's.
func (f *frames) missing(n int) bool {
	between, with, strongest, count := 0.0, 0.0, 0.0, 0
	for b := range f.bands {
		strongest = max(strongest, f.bands[b].power)
	}
	for b := range f.bands {
		band := &f.bands[b]
		switch {
		case band.k%n == 0:
			with += band.power
			continue
		case f.isHum(b):
			continue
		case band.power > faintest*strongest && math.Abs(f.offset(b)) < inPlace:
			return false
		case float64(band.k)*f.hz > humTop:
			between += band.power
		}
		count++
	}
	return count >= missingBands && between < missingShare*with
}

// isHum reports whether the line in band b lies where mains hum does.
func (f *frames) isHum(b int) bool {
	at := float64(f.bands[b].k)*f.hz + f.offset(b)
	if at > humTop {
		return false
	}
	for _, mains := range [...]float64{50, 60} {
		if m := math.Round(at / mains); m >= 1 && math.Abs(at-m*mains) < humNear+0.5/f.seconds {
			return true
		}
	}
	return false
}

// offset is the mean frequency of band b from its centre, in Hz.
func (f *frames) offset(b int) float64 {
	sum, last := complex(0, 0), complex(0, 0)
	for _, v := range f.bands[b].z {
		sum += v * cmplx.Conj(last)
		last = v
	}
	return cmplx.Phase(sum) / (2 * math.Pi * f.tick)
}
