package estimate

import (
	"math"

	"bellrow/proto/pitch"
)

// Estimate is the pitch of one stretch.
type Estimate struct {
	// Hz is the mean pitch over the stretch: cycles over time.
	Hz pitch.Hertz
	// CI95 is the half width of the 95 % interval, in cents.
	CI95 pitch.Cents
	// Wander is the RMS departure of the pitch from its mean, in cents.
	Wander pitch.Cents
	// Second is a second source that the fit found and took out; nil without.
	Second *Second
	// Stringy says that the partials are stretched as a string's are: a piano
	// or a guitar, not a brass instrument.
	Stringy bool
}

// Second is a second source in the stretch.
type Second struct {
	Offset  pitch.Cents // from the reading
	LevelDB float64     // relative to it, at most 0
}

// Refine measures the pitch of x near the coarse fundamental hz. clockPPM is
// the uncertainty of the sample clock (one standard deviation).
func Refine(x []float64, rate, hz, clockPPM float64) (Estimate, bool) {
	if !(hz >= MinHz/2 && hz < rate/2) {
		return Estimate{}, false
	}
	f, ok := newFrames(x, rate, hz)
	if !ok {
		return Estimate{}, false
	}
	m := newModel(f, wanderHz)
	m.setSources(m.trace())
	e := m.fit(maxRounds)
	if math.Abs(m.sources[0].c[0]) > recentre {
		// Bands and periods were cut for another pitch: cut again.
		moved := hz * (1 + m.sources[0].c[0]*math.Ln2/1200)
		if math.Abs(m.sources[0].c[0]) < 60 {
			if f2, ok := newFrames(x, rate, moved); ok {
				hz = moved
				m = newModel(f2, wanderHz)
				m.setSources(m.trace())
				e = m.fit(maxRounds)
			}
		}
	}
	if _, isString := m.inharmonicity(); isString {
		est, ok := m.estimate(e, clockPPM)
		est.Stringy = true
		return est, ok
	}
	m, e = m.withSecond(e)
	return m.estimate(e, clockPPM)
}

const (
	// maxRounds bounds the Gauss–Newton steps of a fit; five are usual.
	maxRounds = 12
	// recentre is how far, in cents, the reference may lie from the pitch.
	recentre = 8
)

// estimate reads the result off a fitted model.
func (m *model) estimate(e *normal, clockPPM float64) (Estimate, bool) {
	s := m.sources[m.louder()]
	se, ok := m.deviation(e)
	clock := 1200 / math.Ln2 * clockPPM * 1e-6
	ci := 1.96 * math.Hypot(se, clock)
	hz := float64(m.hertz(s))
	if !ok || !(hz > 0) || math.IsInf(hz, 0) || math.IsNaN(ci) || math.IsInf(ci, 0) {
		return Estimate{}, false
	}
	wander := 0.0
	for _, c := range s.c[1:] {
		wander += c * c / 2
	}
	return Estimate{Hz: pitch.Hertz(hz), CI95: pitch.Cents(ci), Wander: pitch.Cents(math.Sqrt(wander)), Second: m.second()}, true
}

// Whole treats all of x as one settled stretch.
func Whole(x []float64, rate, clockPPM float64) (Estimate, bool) {
	hz, ok := CoarseOf(x, rate)
	if !ok {
		return Estimate{}, false
	}
	return Refine(x, rate, hz, clockPPM)
}

// CoarseOf returns the median coarse fundamental of x.
func CoarseOf(x []float64, rate float64) (float64, bool) {
	d := NewDecimator(rate)
	low := make([]float64, 0, len(x)/d.Factor()+1)
	for _, v := range x {
		if y, ok := d.Write(v); ok {
			low = append(low, y)
		}
	}
	c := NewCoarse(rate / float64(d.Factor()))
	var found []float64
	step := max(c.Window()/2, (len(low)-c.Window())/40)
	for at := 0; at+c.Window() <= len(low); at += max(1, step) {
		if hz, clarity, ok := c.Find(low[at : at+c.Window()]); ok && clarity > 0.5 {
			found = append(found, hz)
		}
	}
	if len(found) == 0 {
		return 0, false
	}
	return median(found), true
}
