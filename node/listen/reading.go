package listen

import (
	"math"

	"bellrow/node/estimate"
	"bellrow/node/settle"
	"bellrow/proto/pitch"
)

const (
	// widest is the half width of the interval, in cents, beyond which a rested
	// note is refused: a slide is not moved for less.
	widest = 2.0
	// equalDB is how near in level a second source may come before nobody can
	// say whose the reading is.
	equalDB = -1.5
	// presentDB is the least level of a second source that explains why a
	// pitch did not rest.
	presentDB = -14.0
	// softDB is how little above the quiet room a note may be before its
	// failure to settle is put down to that.
	softDB = 14.0
	// calmCents and calmSeconds: a played note, however bad, holds within the
	// one for the other; speech does not.
	calmCents   = 35.0
	calmSeconds = 0.12
	// overloaded is the share of hops with clipped samples beyond which an
	// unsettled pitch is put down to clipping.
	overloaded = 0.5
	// unlikelySpread is how far, in cents, the louder of two sources may itself
	// spread in a stretch whose track rests.
	unlikelySpread = 1.5 * settle.MaxSpread
	// longestBody is the most of an unsettled note that is measured, seconds.
	longestBody = 2.5
	// earlyFrom and earlyTo bound the very start of a note, in hops.
	earlyFrom, earlyTo = 12, 30
)

// reading measures the note as it stands.
func (l *Listener) reading() Reading {
	n := &l.note
	v := l.measure()
	r := Reading{
		Onset: n.onset,
		Start: l.at(v.start), End: l.at(v.end),
		Hz: v.hz, CI95: v.ci,
		Spread:  pitch.Cents(n.rule.Spread(v.start, v.end)),
		Drift:   n.rule.Slope(v.start, v.end),
		Peak:    pitch.Level(n.peak),
		Level:   v.level,
		Floor:   l.Floor(),
		Vibrato: v.vibrato,
		Second:  v.second,
		Clipped: n.clipped > 0,
	}
	if v.second != nil && v.estimated {
		r.Spread = v.spread // the track's is the beating of the two
	}
	r.Reason = l.verdict(&v, &r)
	r.Settled = r.Reason == ReasonNone
	if r.Reason == ReasonNoise {
		r.Hz, r.CI95, r.Vibrato, r.Second = 0, 0, nil, nil
	}
	if from, to := min(earlyFrom, n.rule.Len()-1), min(earlyTo, n.rule.Len()); r.Hz > 0 && from < to {
		// Track against track, which may have lain an octave beside the reading.
		r.Early = pitch.Cents(n.rule.Median(from, to) - n.rule.Median(v.start, v.end))
	}
	if l.cfg.KeepPath {
		r.Path = l.path()
	}
	return r
}

// measurement is what was found out about a note.
type measurement struct {
	start, end int // hops
	rested     bool
	estimated  bool // hz and ci are the estimator's
	hz         pitch.Hertz
	ci         pitch.Cents
	spread     pitch.Cents // of the reading's own source
	level      pitch.Level
	vibrato    *Vibrato
	second     *Second
	unplayed   bool // a string, or mains hum
}

// measure finds the stretch to measure and measures it.
func (l *Listener) measure() measurement {
	n := &l.note
	var v measurement
	v.start, v.end, v.rested = n.rule.Rest()
	if v.rested && n.rule.Passing(n.rule.Len()-releaseHops) {
		v.rested = false
	}
	if !v.rested {
		v.start, v.end = n.body(int(longestBody / hopSeconds))
		if found, ok := n.rule.Vibrato(v.start, v.end); ok {
			v.vibrato = &Vibrato{RateHz: found.RateHz, Extent: pitch.Cents(found.Extent)}
			v.start = v.end - found.Cycles // whole cycles only
		}
	}
	v.hz = n.hertz(n.rule.Median(v.start, v.end))
	v.spread = pitch.Cents(n.rule.Spread(v.start, v.end))
	v.ci = max(widest, v.spread/2)
	v.level = l.level
	if a, ok := l.ask(l.at(v.start), l.at(v.end), v.hz); ok {
		v.level = a.level
		if a.found {
			v.refine(a.estimate)
		}
	}
	return v
}

// refine takes what the estimator says about the stretch.
func (v *measurement) refine(e estimate.Estimate) {
	v.unplayed = e.Stringy || e.Hum
	if e.Second != nil {
		v.second = &Second{Offset: e.Second.Offset, LevelDB: e.Second.LevelDB}
	}
	own := pitch.Cents(spreadOfRMS * float64(e.Wander))
	if v.rested && v.second != nil && own > unlikelySpread {
		v.rested = false // what looked like a rest is two moving sounds
	}
	if !v.rested && v.vibrato == nil {
		// The beating of two sounds can hide a rest; what is left of the louder
		// once the other is taken out shows it.
		long := float64(v.end-v.start)*hopSeconds >= settle.HoldSeconds
		if v.second == nil || !long || own > settle.MaxSpread {
			return
		}
		v.rested = true
	}
	v.hz, v.ci, v.spread, v.estimated = e.Hz, e.CI95, own, true
}

// spreadOfRMS is the 10–90 % range of a Gaussian wander of RMS 1.
const spreadOfRMS = 2.56

// verdict says why the reading did not settle, or ReasonNone.
func (l *Listener) verdict(v *measurement, r *Reading) Reason {
	n := &l.note
	switch {
	case n.gap:
		return ReasonGap
	case n.calmRun() < calmSeconds || v.unplayed:
		return ReasonNoise
	case v.vibrato != nil:
		return ReasonVibrato
	case !v.rested:
		return l.unrested(v, r)
	case v.second != nil && v.second.LevelDB > equalDB:
		return ReasonTwo
	case v.ci > widest && float64(r.Level) < l.floor+softDB:
		return ReasonSoft
	case v.ci > widest:
		return ReasonWide
	}
	return ReasonNone
}

// unrested says why the pitch did not come to rest.
func (l *Listener) unrested(v *measurement, r *Reading) Reason {
	n := &l.note
	switch {
	case n.seconds() < settle.SkipSeconds+settle.HoldSeconds:
		return ReasonShort
	case float64(n.clipped) > overloaded*float64(n.rule.Len()):
		return ReasonClipping
	case v.second != nil && v.second.LevelDB > presentDB:
		return ReasonTwo
	case float64(r.Level) < l.floor+softDB:
		return ReasonSoft
	}
	return ReasonMoving
}

func (l *Listener) path() []PathPoint {
	n := &l.note
	points := n.rule.Points()
	path := make([]PathPoint, len(points))
	for i, p := range points {
		path[i] = PathPoint{Sample: l.at(i), Hz: n.hertz(p.Cents), Level: pitch.Level(p.Level)}
	}
	return path
}

func levelOf(x []float64) pitch.Level {
	sum := 0.0
	for _, v := range x {
		sum += v * v
	}
	return pitch.LevelOf(math.Sqrt(sum / float64(max(1, len(x)))))
}

// Whole treats all of samples as one settled stretch and measures it. Without
// a pitch the reading is unsettled with ReasonNoise and Hz 0.
func Whole(samples []float64, c Config) Reading {
	c = c.withDefaults()
	level := levelOf(samples)
	r := Reading{End: int64(len(samples)), Level: level, Peak: level, Floor: pitch.Silence, Reason: ReasonNoise}
	e, ok := estimate.Whole(samples, c.Rate, c.ClockPPM)
	if !ok {
		return r
	}
	r.Hz, r.CI95, r.Settled, r.Reason = e.Hz, e.CI95, true, ReasonNone
	r.Spread = pitch.Cents(spreadOfRMS * float64(e.Wander))
	if e.Second != nil {
		r.Second = &Second{Offset: e.Second.Offset, LevelDB: e.Second.LevelDB}
	}
	if e.CI95 > widest {
		r.Settled, r.Reason = false, ReasonWide
	}
	return r
}
