package estimate

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"bellrow/node/settle"
	"bellrow/proto/pitch"
)

// Options say what is known of a note before it is read.
type Options struct {
	// Call is the note called for; 0 when nothing was.
	Call pitch.Hertz
	// ClockPPM is the uncertainty of the sample clock, one standard deviation.
	ClockPPM float64
	// Without leaves stages out, to see what they buy.
	Without Stage
}

// Stage is a part of a reading, or several.
type Stage uint

// The stages.
const (
	StageOctave Stage = 1 << iota // the second look at the octave and at overtones
	StageMedian                   // the power-weighted median: the random-effects mean instead
	StageHum                      // partials that are lines of the mains
)

// Estimate is the pitch of one note.
type Estimate struct {
	// Hz is the mean pitch over the stretch, cycles over time, every moment
	// alike; the best guess where nothing rested.
	Hz pitch.Hertz
	// CI95 is the half width, in cents, of the 95 % interval of where the centre
	// of the note lies when it is continued.
	CI95 pitch.Cents
	// From and To bound the stretch, in seconds from the beginning.
	From, To float64
	// Rested says that the stretch holds no trend and no step.
	Rested bool
	// Wander is the RMS departure of the pitch from its mean, Spread the 10–90 %
	// range, in cents, and Drift its slope in cents per second.
	Wander, Spread pitch.Cents
	Drift          float64
	// Vibrato is nil without.
	Vibrato *settle.Vibrato
	// Two says that the partials are so far apart that they are of two sounds.
	Two bool
	// Octave says that the octave is doubtful; CI95 then holds either.
	Octave bool
	// Other says that the evidence is decisive for another note than the call.
	Other bool
	// Stringy says that the partials are stretched as a string's are, Hum that
	// the sound is mains hum: neither is a brass instrument.
	Stringy, Hum bool
}

const (
	// activeDB below the loud part of a note its sound ends; skipStart and
	// skipEnd, in seconds, are attack and release, and shortestActive what must be
	// left between them.
	activeDB           = 20.0
	skipStart, skipEnd = 0.10, 0.06
	shortestActive     = 0.25
	// wholeMargin seconds, wholePeriods periods, but no more than wholeShare of a
	// sound that was cut are left out at its ends, where the bands ring.
	wholeMargin, wholePeriods, wholeShare = 0.07, 5.0, 0.15
	// recentre is how far, in cents, the partials may have been cut from the pitch.
	recentre = 1.0
	// separations is how many standard errors between the partials count: Student's
	// for the few that there are.
	separations = 2.2
	// twoSounds is how far apart, in cents, the middle of the power must be for two
	// sounds.
	twoSounds = 10.0
	// leastHalf is the narrowest half width: what bands and ends leave.
	leastHalf = 0.03
)

// Whole treats all of x as one stretch.
func Whole(x []float64, rate, clockPPM float64) (Estimate, bool) {
	return whole(x, rate, 0, Options{ClockPPM: clockPPM})
}

// Refine treats all of x as one stretch whose pitch lies near hz.
func Refine(x []float64, rate, hz, clockPPM float64) (Estimate, bool) {
	if !(hz >= MinHz/2 && hz < rate/2) {
		return Estimate{}, false
	}
	return whole(x, rate, hz, Options{ClockPPM: clockPPM})
}

func whole(x []float64, rate, hz float64, o Options) (Estimate, bool) {
	s := soundOf(x, rate)
	seconds := float64(len(s.x)) / s.rate
	if seconds < 0.1 {
		return Estimate{}, false
	}
	s.without = o.Without
	n := &reading{sound: s, Options: o, spectrum: s.spectrumOf(0, seconds)}
	n.cutEnds(wholeMargin, seconds)
	if hz > 0 {
		n.hz = n.spectrum.near(hz, freeReach)
	} else if _, ok := n.findPitch(); !ok {
		return Estimate{}, false
	}
	if n.cutEnds(max(wholeMargin, wholePeriods/n.hz), seconds); n.to-n.from < 8 || !n.cutPartials() {
		return Estimate{}, false
	}
	n.rest = settle.Of(n.track, n.from, n.to, s.tick)
	return n.estimate(true)
}

// cutEnds leaves out so many seconds at either end, where the bands ring.
func (n *reading) cutEnds(margin, seconds float64) {
	n.from = int(min(margin, wholeShare*seconds) / n.tick)
	n.to = n.frames - 1 - n.from
}

// Note reads a note: x holds it from its beginning to its end.
func Note(x []float64, rate float64, o Options) (Estimate, bool) {
	s := soundOf(x, rate)
	from, to := s.active()
	s.without = o.Without
	n := &reading{sound: s, Options: o}
	n.from, n.to = int((from+skipStart)/s.tick), min(s.frames-1, int((to-skipEnd)/s.tick))
	if float64(n.to-n.from)*s.tick < shortestActive {
		return Estimate{}, false
	}
	n.spectrum = s.spectrumOf(from+skipStart/2, to-skipEnd/2)
	free, ok := n.findPitch()
	if ok && !n.cutPartials() {
		// Nothing sounds at the call: then it is another note.
		n.other, ok = o.Call > 0, !n.other && o.Call > 0
		n.hz = n.spectrum.near(n.inOctave(free), freeReach)
		ok = ok && n.cutPartials()
	}
	if !ok {
		return Estimate{}, false
	}
	rested := n.findRest()
	if o.Call == 0 && rested && n.changes() {
		rested = n.findRest()
	}
	return n.estimate(rested)
}

func (n *reading) findRest() (rested bool) {
	if n.rest, rested = settle.Find(n.track, n.from, n.to, n.tick); n.rest.To == 0 {
		n.rest = settle.Of(n.track, n.from, n.to, n.tick)
	}
	return rested
}

func soundOf(x []float64, rate float64) *sound {
	d := NewDecimator(rate)
	low := make([]float64, 0, len(x)/d.Factor()+1)
	for _, v := range x {
		if !(math.Abs(v) < 1e6) {
			v = 0
		}
		if y, ok := d.Write(v); ok {
			low = append(low, y)
		}
	}
	return newSound(low, rate/float64(d.Factor()))
}

// reading is the work on one note.
type reading struct {
	*sound
	Options
	spectrum lineSpectrum
	from, to int     // active frames
	hz       float64 // reference
	partials []partialTrack
	track    []float64 // of all partials, cents above hz
	rest     settle.Rest
	pooled   pooled
	other    bool
	doubt    bool
}

// cutPartials cuts and follows the partials, again if the reference was off.
func (n *reading) cutPartials() bool {
	for range 3 {
		n.partials = n.tracksOf(n.hz, n.from, n.to)
		p, ok := n.pool(n.partials, n.from, n.to)
		if !ok || !(math.Abs(p.centre) < 150) {
			return false
		}
		n.pooled, n.track = p, combined(n.partials)
		if math.Abs(p.centre) < recentre {
			break
		}
		n.hz *= math.Exp2(p.centre / 1200)
	}
	return true
}

func (n *reading) estimate(rested bool) (Estimate, bool) {
	a, b := n.rest.From, n.rest.To
	e := Estimate{Rested: rested}
	if p, ok := n.pool(n.partials, a, b); ok {
		n.pooled = p
		n.track = combined(n.partials)
	}
	if v, ok := settle.VibratoOf(n.track[a:b], n.tick); ok {
		e.Vibrato = &v
		whole := int(math.Floor(float64(b-a)*n.tick*v.RateHz) / v.RateHz / n.tick)
		if whole > (b-a)/2 {
			b = a + whole
			if p, ok := n.pool(n.partials, a, b); ok {
				n.pooled = p
			}
		}
	}
	t := n.rest.Half
	clock := 1.96 * 1200 / math.Ln2 * n.ClockPPM * 1e-6
	half := math.Sqrt(t*t + math.Pow(max(separations*n.pooled.separation, n.pooled.apart), 2) + leastHalf*leastHalf)
	e.Hz = pitch.Hertz(n.hz * (1 + n.pooled.centre*math.Ln2/1200))
	e.From, e.To = float64(a)*n.tick, float64(b)*n.tick
	e.describe(n.track[a:b], n.tick)
	e.Stringy = n.stringy()
	e.Hum = e.isHum()
	e.Two = e.Vibrato == nil && n.pooled.apart > twoSounds
	e.CI95 = pitch.Cents(math.Hypot(half, clock))
	if n.doubt {
		e.Octave, e.CI95 = true, max(e.CI95, octaveCents)
	}
	e.Other = n.other
	hz, ci := float64(e.Hz), float64(e.CI95)
	if !(hz > 0) || math.IsInf(hz, 0) || math.IsNaN(ci) || math.IsInf(ci, 0) {
		return Estimate{}, false
	}
	return e, true
}

// describeSeconds is over how long the pitch is averaged that Wander and Spread
// are of.
const describeSeconds = 0.03

// describe fills what the track over the stretch shows.
func (e *Estimate) describe(track []float64, tick float64) {
	var smooth []float64
	for block := range slices.Chunk(track, max(1, int(describeSeconds/tick))) {
		smooth = append(smooth, stat.Mean(block, nil))
	}
	if len(smooth) < 2 {
		return
	}
	at := make([]float64, len(track))
	for i := range at {
		at[i] = float64(i) * tick
	}
	_, e.Drift = stat.LinearRegression(at, track, nil, false)
	e.Wander = pitch.Cents(stat.PopStdDev(smooth, nil))
	slices.Sort(smooth)
	e.Spread = pitch.Cents(smooth[(len(smooth)-1)*9/10] - smooth[(len(smooth)-1)/10])
}

const (
	// mainsOff is how far the mains may be from their nominal frequency, in Hz, and
	// mainsWander the RMS wander, in cents, that hum stays below, a little noise with it,
	// and hardly a player who is so near.
	mainsOff    = 0.06
	mainsWander = 2.0
)

// isHum reports whether the reading is of hum alone: a multiple of the mains that
// does not wander as what lips drive does.
func (e *Estimate) isHum() bool {
	hz := float64(e.Hz)
	for _, mains := range [...]float64{50, 60} {
		if k := math.Round(hz / mains); float64(e.Wander) < mainsWander && k >= 1 && hz < humTop && math.Abs(hz-k*mains) < k*mainsOff {
			return true
		}
	}
	return false
}

const (
	// stringy is the least inharmonicity B that gives a string away (Fletcher and
	// Rossing 1998, chapter 12: 1e-4 to 1e-2), stringyShare how much of the
	// partials' scatter it must explain, and stringyPartials how many are needed.
	stringy         = 6e-5
	stringyShare    = 0.8
	stringyPartials = 4
)

// stringy reports whether the partials are stretched as f_k = k f √(1 + B k²).
func (n *reading) stringy() bool {
	var xs, ys, ws []float64
	for i := range n.partials {
		p := &n.partials[i]
		if mean, power := p.mean(n.rest.From, n.rest.To); power > 0 {
			xs, ys, ws = append(xs, float64(p.k*p.k)/2), append(ys, mean*math.Ln2/1200), append(ws, math.Sqrt(power))
		}
	}
	if len(xs) < stringyPartials {
		return false
	}
	base, b := stat.LinearRegression(xs, ys, ws, false)
	return b > stringy && stat.RSquared(xs, ys, ws, base, b) > stringyShare
}

// active returns the longest run, in seconds, within activeDB of the loud part.
func (s *sound) active() (from, to float64) {
	const block = 0.01
	n := int(block * s.rate)
	levels := make([]float64, len(s.x)/n)
	for i := range levels {
		for _, v := range s.x[i*n : (i+1)*n] {
			levels[i] += v * v
		}
	}
	if len(levels) == 0 {
		return 0, 0
	}
	sorted := slices.Clone(levels)
	slices.Sort(sorted)
	least := sorted[len(sorted)*9/10] * math.Pow(10, -activeDB/10)
	best, start := 0, -1
	for i := 0; i <= len(levels); i++ {
		if i < len(levels) && levels[i] > least {
			if start < 0 {
				start = i
			}
			continue
		}
		if start >= 0 && i-start > best {
			best = i - start
			from, to = float64(start)*block, float64(i)*block
		}
		start = -1
	}
	return from, to
}
