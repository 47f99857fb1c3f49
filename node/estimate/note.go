package estimate

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
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
	// activeDB below the loud part of a note its sound ends, told by blocks of
	// activeSeconds; skipStart and skipEnd, in seconds, are attack and release, and
	// shortestActive what must be left between them.
	activeDB, activeSeconds = 20.0, 0.01
	skipStart, skipEnd      = 0.10, 0.06
	shortestActive          = 0.25
	// shortestWhole seconds of a sound that was cut are needed; wholeMargin seconds,
	// wholePeriods periods, but no more than wholeShare of it, are left out at its ends,
	// where the bands ring.
	shortestWhole, wholeMargin, wholePeriods, wholeShare = 0.1, 0.07, 5.0, 0.15
	// recentre is how far, in cents, the partials may have been cut from the pitch,
	// and strays how far it may then lie from what was found.
	recentre, strays = 1.0, 150.0
	// separations is how many standard errors between the partials count: Student's
	// for the few that there are.
	separations = 2.2
	// twoSounds is how far apart, in cents, the middle of the power must be for two
	// sounds.
	twoSounds = 10.0
	// leastHalf is the narrowest half width: what bands and ends leave.
	leastHalf = 0.03
	// describeSeconds is over how long the pitch is averaged that Wander and Spread
	// are of.
	describeSeconds = 0.03
	// stringy is the least inharmonicity B that gives a string away (Fletcher and
	// Rossing 1998, chapter 12: 1e-4 to 1e-2), stringyShare how much of the
	// partials' scatter it must explain, and stringyPartials how many are needed.
	stringy, stringyShare, stringyPartials = 6e-5, 0.8, 4
)

// Whole treats all of x as one stretch.
func Whole(x []float64, rate float64, o Options) (Estimate, bool) {
	s := newSound(x, rate)
	seconds := float64(len(s.x)) / s.rate
	if seconds < shortestWhole {
		return Estimate{}, false
	}
	n := &reading{sound: s, Options: o, spectrum: s.spectrumOf(0, s.frames)}
	cutEnds := func(margin float64) {
		n.from = int(min(margin, wholeShare*seconds) / s.tick)
		n.to = s.frames - 1 - n.from
	}
	if cutEnds(wholeMargin); !n.findPitch() {
		return Estimate{}, false
	}
	if cutEnds(max(wholeMargin, wholePeriods/n.hz)); !n.cutPartials() {
		return Estimate{}, false
	}
	n.rest = settle.Of(n.track, n.from, n.to, s.tick)
	return n.estimate(true)
}

// Note reads a note: x holds it from its beginning to its end.
func Note(x []float64, rate float64, o Options) (Estimate, bool) {
	s := newSound(x, rate)
	from, to := s.active()
	n := &reading{sound: s, Options: o}
	n.from, n.to = int((from+skipStart)/s.tick), min(s.frames-1, int((to-skipEnd)/s.tick))
	if float64(n.to-n.from)*s.tick < shortestActive {
		return Estimate{}, false
	}
	if n.spectrum = s.spectrumOf(n.from, n.to); !n.findPitch() || !n.cutPartials() {
		return Estimate{}, false
	}
	rested := n.findRest()
	if o.Call == 0 && rested && n.changes() {
		rested = n.findRest()
	}
	return n.estimate(rested)
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

// active returns the longest run, in seconds, within activeDB of the loud part.
func (s *sound) active() (from, to float64) {
	var levels []float64
	size := int(activeSeconds * s.rate)
	for block := range slices.Chunk(s.x[:len(s.x)/size*size], size) {
		levels = append(levels, floats.Dot(block, block))
	}
	if len(levels) == 0 {
		return 0, 0
	}
	least := slices.Sorted(slices.Values(levels))[len(levels)*9/10] * math.Pow(10, -activeDB/10)
	start, a, b := 0, 0, 0
	for i, level := range append(levels, 0) {
		if level > least {
			continue
		}
		if i-start > b-a {
			a, b = start, i
		}
		start = i + 1
	}
	return float64(a) * activeSeconds, float64(b) * activeSeconds
}

func (n *reading) findRest() (rested bool) {
	if n.rest, rested = settle.Find(n.track, n.from, n.to, n.tick); n.rest.To == 0 {
		n.rest = settle.Of(n.track, n.from, n.to, n.tick)
	}
	return rested
}

// cutPartials cuts and follows the partials, again if the reference was off.
func (n *reading) cutPartials() bool {
	for range 3 {
		n.partials = n.partialsOf(n.hz)
		if !n.centre(n.from, n.to) || !(math.Abs(n.pooled.centre) < strays) {
			return false
		}
		if math.Abs(n.pooled.centre) < recentre {
			break
		}
		n.hz *= math.Exp2(n.pooled.centre / 1200)
	}
	return true
}

// centre pools the partials over frames [a, b), and makes the track of them.
func (n *reading) centre(a, b int) (ok bool) {
	if n.pooled, ok = n.pool(n.partials, a, b); ok {
		n.track = combined(n.partials)
	}
	return ok
}

// estimate says what the rest shows.
func (n *reading) estimate(rested bool) (Estimate, bool) {
	a, b := n.rest.From, n.rest.To
	e := Estimate{Rested: rested, Octave: n.doubt, Other: n.other}
	n.centre(a, b)
	if v, ok := settle.VibratoOf(n.track[a:b], n.tick); ok {
		e.Vibrato = &v
		if cycle := 1 / v.RateHz / n.tick; int(math.Floor(float64(b-a)/cycle)*cycle) > (b-a)/2 {
			b = a + int(math.Floor(float64(b-a)/cycle)*cycle)
			n.centre(a, b)
		}
	}
	e.Hz = pitch.Hertz(n.hz * (1 + n.pooled.centre*math.Ln2/1200))
	e.From, e.To = float64(a)*n.tick, float64(b)*n.tick
	e.describe(n.track[a:b], n.tick)
	e.Stringy, e.Hum = n.stringy(), e.isHum()
	e.Two = e.Vibrato == nil && n.pooled.apart > twoSounds
	clock := 1.96 * 1200 / math.Ln2 * n.ClockPPM * 1e-6
	half := floats.Norm([]float64{n.rest.Half, max(separations*n.pooled.separation, n.pooled.apart), leastHalf, clock}, 2)
	if n.doubt {
		half = max(half, octaveCents)
	}
	e.CI95 = pitch.Cents(half)
	if hz := float64(e.Hz); !(hz > 0) || math.IsInf(hz, 0) || math.IsNaN(half) || math.IsInf(half, 0) {
		return Estimate{}, false
	}
	return e, true
}

// describe fills what the track over the stretch shows.
func (e *Estimate) describe(track []float64, tick float64) {
	var smooth []float64
	for block := range slices.Chunk(track, max(1, int(describeSeconds/tick))) {
		smooth = append(smooth, stat.Mean(block, nil))
	}
	if len(smooth) < 2 {
		return
	}
	at := floats.Span(make([]float64, len(track)), 0, float64(len(track)-1)*tick)
	_, e.Drift = stat.LinearRegression(at, track, nil, false)
	e.Wander = pitch.Cents(stat.PopStdDev(smooth, nil))
	slices.Sort(smooth)
	e.Spread = pitch.Cents(smooth[(len(smooth)-1)*9/10] - smooth[(len(smooth)-1)/10])
}

// stringy reports whether the partials are stretched as f_k = k f √(1 + B k²).
func (n *reading) stringy() bool {
	var xs, ys, ws []float64
	for i := range n.partials {
		p := &n.partials[i]
		mean, power := p.mean(n.rest.From, n.rest.To)
		xs, ys, ws = append(xs, float64(p.k*p.k)/2), append(ys, mean*math.Ln2/1200), append(ws, math.Sqrt(power))
	}
	base, b := stat.LinearRegression(xs, ys, ws, false)
	return len(xs) >= stringyPartials && b > stringy && stat.RSquared(xs, ys, ws, base, b) > stringyShare
}
