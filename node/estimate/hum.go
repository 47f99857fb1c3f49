package estimate

import (
	"math"

	"gonum.org/v1/gonum/floats"
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
	// mainsOff is how far the mains may be from their nominal frequency, in Hz,
	// and mainsWander the RMS wander, in cents, that a second of hum stays
	// below and no player does.
	mainsOff    = 0.06
	mainsWander = 0.1
	// missingShare is how little of the energy may lie in the bands in between,
	// above hum, for the pitch to be a multiple: breath alone.
	missingShare = 0.01
	// inPlace is how near to its place a partial lies, in Hz, and lineShare how
	// much of the energy of its band lies that near to it. Breath and leaks
	// scatter over the band: a twentieth of their energy lies anywhere.
	inPlace   = 3.0
	lineShare = 0.5
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
	h := hummed{frames: f, lines: map[int]line{}}
	for i := range f.bands {
		h.strongest = max(h.strongest, f.bands[i].power)
	}
	for n := highestMultiple; n > 1; n-- {
		if float64(n)*f.hz <= MaxHz && h.missing(n) {
			return n
		}
	}
	return 1
}

// hummed looks for the partials of frames that may be hum's.
type hummed struct {
	*frames
	strongest float64      // energy of the strongest band
	lines     map[int]line // of the bands looked at so far
}

// line is the strongest line of a band.
type line struct {
	offset float64 // from the band's centre, Hz
	share  float64 // of the band's energy that lies within inPlace of the line
}

// missing reports whether the partials that are no multiples of n are missing:
// no band of theirs has a line in its place, save hum's.
func (h *hummed) missing(n int) bool {
	between, with, count := 0.0, 0.0, 0
	for b := range h.bands {
		band := &h.bands[b]
		if band.k%n == 0 {
			with += band.power
			continue
		}
		l := h.lineOf(b)
		switch {
		case h.isHum(b, l):
			continue
		case band.power > faintest*h.strongest && math.Abs(l.offset) < inPlace && l.share > lineShare:
			return false
		case float64(band.k)*h.hz > humTop:
			between += band.power
		}
		count++
	}
	return count >= missingBands && between < missingShare*with
}

// isHum reports whether the line of band b lies where mains hum does.
func (h *hummed) isHum(b int, l line) bool {
	at := float64(h.bands[b].k)*h.hz + l.offset
	if at > humTop {
		return false
	}
	for _, mains := range [...]float64{50, 60} {
		if m := math.Round(at / mains); m >= 1 && math.Abs(at-m*mains) < humNear+0.5/h.seconds {
			return true
		}
	}
	return false
}

// isMains reports whether the reading is of hum alone: a multiple of the mains
// that does not wander as what lips drive does.
func (m *model) isMains() bool {
	hz, still := float64(m.hertz(m.sources[m.louder()])), m.wander(m.louder()) < mainsWander
	for _, mains := range [...]float64{50, 60} {
		if k := math.Round(hz / mains); still && k >= 1 && hz < humTop && math.Abs(hz-k*mains) < k*mainsOff {
			return true
		}
	}
	return false
}

// besidesHum is the share of the energy that the fit leaves over beside lines
// that may be hum's: on the lowest notes those lie within the partials' bands.
func (m *model) besidesHum() float64 {
	h := hummed{frames: m.frames.clone(), lines: map[int]line{}}
	left, all := 0.0, 0.0
	for b := range h.bands {
		h.bands[b].z = m.band(m.rest, b)
		all += h.bands[b].power
		if l := h.lineOf(b); h.isHum(b, l) {
			left += (1 - l.share) * m.left[b]
		} else {
			left += m.left[b]
		}
	}
	return left / max(all, 1e-300)
}

// lineOf finds the line of band b: where its spectrum has its peak, not its
// mean, which the skirts of the partials next door pull.
func (h *hummed) lineOf(b int) line {
	if l, ok := h.lines[b]; ok {
		return l
	}
	spectrum := h.linesOf(h.bands[b].z).power
	n := len(spectrum)
	at := floats.MaxIdx(spectrum)
	peak := float64(at) + peakOffset(spectrum[(at+n-1)%n], spectrum[at], spectrum[(at+1)%n])
	if peak > float64(n)/2 {
		peak -= float64(n)
	}
	hz := 1 / (h.tick * float64(n)) // to a point
	near, reach := 0.0, int(inPlace/hz)
	for i := -reach; i <= reach; i++ {
		near += spectrum[(at+i+n)%n]
	}
	l := line{offset: peak * hz, share: near / max(floats.Sum(spectrum), 1e-300)}
	h.lines[b] = l
	return l
}
