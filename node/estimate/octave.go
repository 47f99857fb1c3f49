package estimate

import (
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"
)

// In a room, or clipped, every other partial of a note can be so weak that half
// its period passes for the whole: the coarse fundamental is then an octave too
// high. A quieter neighbour an octave lower puts partials into the same places,
// and can make the coarse fundamental fall to his own. What tells the two apart
// is that lips drive the air: one player's partials wander together, two
// players' do not, however well they are in tune.

const (
	// betweenShare is the least energy of the partials in between, as a share
	// of the others', that is worth a look: the coarse fundamental errs from
	// 0.014 on, and the less there is, the likelier is a neighbour.
	betweenShare = 0.01
	// weakShare is how little of the energy a note's odd partials hold before
	// they may be a neighbour's. One note in twenty is below.
	weakShare = 0.25
	// together and apart are how far the phase of the odd partials parts from
	// that of the even ones, against what either wanders: below the one it is
	// one player, above the other two, if the evidence is for two at all.
	// Measured on synthetic players: 0.24 at most where the coarse fundamental
	// was an octave too high; 1.0 in the median beside neighbours whose mean is
	// exactly in tune, with one of a hundred of them below together.
	together = 0.3
	apart    = 0.6
	// equal is the ratio of power, 1.5 dB, up to which nobody can say which of
	// two players an octave apart the reading is to be of.
	equal = 1.41
	// scattered is how much of their energy one phase may leave over before
	// there are no partials in between, but breath and other noise.
	scattered = 0.5
	// octaveCents is the interval of a reading that may be an octave off: wide
	// enough to hold either.
	octaveCents = 1200
)

// inOctave returns the fit of x in the octave of the note, a second source taken
// out, given that of one source at the coarse fundamental; sure is false where
// the octave cannot be told.
func (m *model) inOctave(x []float64, rate float64) (own *model, sure bool) {
	odd, even := m.energies()
	switch {
	case odd < weakShare*(odd+even):
		return m.orAbove(x, rate)
	case m.hz/2 > MinHz && m.between() > betweenShare*even:
		return m.orBelow(x, rate)
	}
	return m.withSecond(), true
}

// orAbove decides between the octave of m, whose odd partials are weak, and the
// one above, where those would be a neighbour's.
func (m *model) orAbove(x []float64, rate float64) (own *model, sure bool) {
	own = m.withSecond()
	p := m.parting()
	if p.noise || !p.two || p.share < together || own.ownsOdd() {
		return own, true
	}
	upper := m.powerAbove(p)
	if p.share < apart || upper < equal && upper > 1/equal {
		return own, false
	}
	if higher, ok := newFrames(x, rate, 2*float64(m.hertz(m.sources[0]))); ok && upper > equal {
		return higher.single().withSecond(), true
	}
	return own, true
}

// orBelow decides between the octave of m and the one below, whose odd partials
// there may be.
func (m *model) orBelow(x []float64, rate float64) (own *model, sure bool) {
	f, ok := newFrames(x, rate, float64(m.hertz(m.sources[0]))/2)
	if !ok {
		return m.withSecond(), true
	}
	lower := f.single()
	p := lower.parting()
	if p.share < together && !p.noise {
		return lower.withSecond(), true
	}
	return m.withSecond(), p.noise || p.two && p.share > apart
}

// ownsOdd reports whether a second source lies so near that the louder one's
// odd partials are known, and are there: the neighbour then plays the same note,
// and what parts is his share of each partial.
func (m *model) ownsOdd() bool {
	if len(m.sources) < 2 {
		return false
	}
	odd, even := 0.0, 0.0
	for b, a := range m.sources[m.louder()].a {
		if m.bands[b].k%2 == 1 {
			odd += power(a)
		} else {
			even += power(a)
		}
	}
	return odd >= betweenShare*even
}

// between is the energy half way between the partials.
func (f *frames) between() float64 {
	sum := 0.0
	for b := range f.bands {
		sum += f.bands[b].below
	}
	return sum
}

// energies returns what the odd partials and the even ones hold.
func (f *frames) energies() (odd, even float64) {
	for _, b := range f.bands {
		if b.k%2 == 1 {
			odd += b.power
		} else {
			even += b.power
		}
	}
	return odd, even
}

// parting compares the odd partials with the even ones.
type parting struct {
	share float64 // how far their phases part, of what either wanders
	two   bool    // there is more evidence for two phases than for one
	noise bool    // the odd ones are none, or too faint, or hum

	odd, even []float64 // the pitch parameters of either
}

// parting fits odd and even partials each alone and together. It does not
// change m.
func (m *model) parting() parting {
	clean := m.cleaned(true)
	odds, evens := clean.energies()
	mayBeHum := odds < betweenShare*evens
	if mayBeHum {
		clean = m.cleaned(false)
		odds, evens = clean.energies()
	}
	if odds < betweenShare*evens || evens == 0 {
		return parting{noise: true}
	}
	odd, even := clean.every(1).single(), clean.every(0).single()
	both := newModel(clean, wanderHz, m.sources[0].c).fit(maxRounds)
	c, d := odd.sources[0].c, even.sources[0].c
	gap := make([]float64, len(c))
	floats.SubTo(gap, c, d)
	return parting{
		share: both.sway(gap) / max(math.Hypot(both.sway(c[1:]), both.sway(d[1:])), 1e-300),
		two:   odd.score()+even.score() > both.score(),
		noise: odd.unexplainedShare() > scattered || mayBeHum && odd.wander(0) < stillCents,
		odd:   c, even: d,
	}
}

// powerAbove is the power of the upper of two players an octave apart, whose
// partials are the even ones, against the lower one's. His share of those shows
// in what moves with the odd ones; where that cannot be told both have half.
func (m *model) powerAbove(p parting) float64 {
	two := newModel(m.frames.clone(), secondHz, p.odd, p.even).fit(secondRounds)
	return two.loudness(1) / max(two.loudness(0), 1e-300)
}

// cleaned returns the bands without the leaks that the fit has found and, if
// that is wanted, without odd ones whose line may be hum's.
func (m *model) cleaned(ofHum bool) *frames {
	g := *m.grid
	g.leaky = nil // they are out
	h := hummed{frames: m.frames, lines: map[int]line{}}
	var bands []band
	for b, band := range m.bands {
		if !ofHum || band.k%2 == 0 || float64(band.k)*m.hz > humTop+edgeHz || !h.isHum(b, h.lineOf(b)) {
			bands = append(bands, band)
		}
	}
	return (&frames{grid: &g}).with(bands)
}

// every returns the bands of the odd partials, for 1, or the even ones.
func (f *frames) every(odd int) *frames {
	var bands []band
	for _, b := range f.bands {
		if b.k%2 == odd {
			bands = append(bands, b)
		}
	}
	return f.with(bands)
}

// sway is the standard deviation of the phase that the last len(c) parameters
// give.
func (m *model) sway(c []float64) float64 {
	clear(m.psi)
	for j, v := range c {
		floats.AddScaled(m.psi, v, m.rows[m.wanders+1-len(c)+j])
	}
	return stat.PopStdDev(m.psi, nil)
}
