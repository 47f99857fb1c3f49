package estimate

import (
	"math"
	"slices"

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
	// Unexplained is the share of the energy in the partials' bands that the
	// fit leaves over.
	Unexplained float64
	// Second is a second source that the fit found and took out; nil without.
	Second *Second
	// Stringy says that the partials are stretched as a string's are: a piano
	// or a guitar, not a brass instrument.
	Stringy bool
	// Hum says that the sound is mains hum and nothing else.
	Hum bool
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
	if n := f.multiple(); n > 1 {
		if higher, ok := newFrames(x, rate, float64(n)*hz); ok {
			f = higher
		}
	}
	m := f.single()
	if c := m.sources[0].c[0]; math.Abs(c) > recentre && math.Abs(c) < farthest {
		// Bands and periods were cut for another pitch: cut again.
		if again, ok := newFrames(x, rate, float64(m.hertz(m.sources[0]))); ok {
			m = again.single()
		}
	}
	if gain, ok := m.level(); ok {
		x = m.evened(x, rate, gain)
		if again, ok := newFrames(x, rate, float64(m.hertz(m.sources[0]))); ok {
			m = again.single()
		}
	}
	if _, isString := m.inharmonicity(); isString {
		est, ok := m.estimate(clockPPM)
		est.Stringy = true
		return est, ok
	}
	m, sure := m.inOctave(x, rate)
	est, ok := m.estimate(clockPPM)
	est.Hum = ok && m.isMains()
	if !sure {
		est.CI95 = max(est.CI95, octaveCents)
	}
	return est, ok
}

const (
	// maxRounds bounds the Gauss–Newton steps of a fit; five are usual.
	maxRounds = 12
	// recentre is how far, in cents, the reference may lie from the pitch.
	recentre = 8
	// farthest is how far from the reference a fit is still believed.
	farthest = 60
)

// single returns the best fit of one source: from its traced phase, and where
// that explains little or wanders far, because two sources or noise confuse it,
// from the best steady pitch. Where both are lost, it is traced by its strongest
// partial, and taken if it explains more of the power: the evidence is for
// whoever owns the upper partials.
func (f *frames) single() *model {
	m := f.from((*model).trace)
	if m.unexplainedShare() < poorShare && m.wander(0) < farWander {
		return m
	}
	m = better(m, f.from((*model).bestSteady))
	if m.lost() {
		if strongest := f.from((*model).traceStrongest); strongest.unexplainedShare() < m.unexplainedShare() {
			return strongest
		}
	}
	return m
}

// lost reports whether one source follows nobody, or the quieter of two.
func (m *model) lost() bool { return m.unexplainedShare() > lostShare }

// from returns the fit of one source from a start.
func (f *frames) from(start func(*model) []float64) *model {
	m := newModel(f.clone(), wanderHz, nil)
	copy(m.sources[0].c, start(m))
	return m.fit(maxRounds)
}

// better returns the fit with more evidence, a where they are equal.
func better(a, b *model) *model {
	if b.score() > a.score() {
		return b
	}
	return a
}

const (
	// farWander is the RMS wander, in cents, beyond which a traced fit is not
	// taken without comparison: it is a vibrato, or the trace slipped.
	farWander = 4
	// poorShare is how much a fit may leave over before another start is tried.
	poorShare = 0.1
	// lostShare is how much a fit may leave over and yet follow the louder
	// source: a neighbour at -6 dB leaves a fifth. What leaves more follows the
	// neighbour, or has miscounted turns.
	lostShare = 0.22
)

// estimate reads the result off a fitted model.
func (m *model) estimate(clockPPM float64) (Estimate, bool) {
	s := m.sources[m.louder()]
	se, ok := m.deviation()
	clock := 1200 / math.Ln2 * clockPPM * 1e-6
	if len(m.sources) == 2 {
		se *= shared
	}
	ci := 1.96 * math.Hypot(selection*se, clock)
	if m.unexplainedShare() > failedShare && m.besidesHum() > failedShare {
		ci = max(ci, failedCents)
	}
	hz := float64(m.hertz(s))
	if !ok || !(hz > 0) || math.IsInf(hz, 0) || math.IsNaN(ci) || math.IsInf(ci, 0) {
		return Estimate{}, false
	}
	return Estimate{Hz: pitch.Hertz(hz), CI95: pitch.Cents(ci), Wander: pitch.Cents(m.wander(m.louder())), Second: m.second(), Unexplained: m.unexplainedShare()}, true
}

const (
	// selection is how much wider the interval must be because noise and
	// wander were themselves estimated from the stretch: measured, so that it
	// holds the truth in 95 of 100 noisy synthetic tones.
	selection = 1.06
	// shared is how much wider it must be beside a second source, measured
	// likewise on synthetic players in a room.
	shared = 1.1
	// failedShare is how much of the energy may be left over before the fit is
	// not believed at all, and failedCents the interval it then gets: wide
	// enough that no reading is made of it.
	failedShare = 0.12
	failedCents = 5.0
)

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
	// Never the mean of two: half way between two octaves lies neither.
	slices.Sort(found)
	return found[(len(found)-1)/2], true
}
