package listen

import (
	"math"
	"slices"

	"bellrow/node/estimate"
	"bellrow/node/settle"
	"bellrow/proto/pitch"
)

const (
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
	// shortNote is the length, in seconds, up to which a note without a rest was
	// too short for one.
	shortNote = skipHops*hopSeconds + settle.Shortest + 0.1
	// earlyFrom and earlyTo bound the very start of a note, in hops.
	earlyFrom, earlyTo = 12, 30
)

// reading makes the reading of the note as asked.
func (l *Listener) reading() Reading {
	n, e := &l.note, &l.asked.estimate
	at := func(seconds float64) int64 {
		return min(l.sample, max(n.onset, l.asked.first+int64(seconds*l.cfg.Rate)))
	}
	r := Reading{
		Onset: n.onset, Start: at(e.From), End: at(e.To),
		Hz: e.Hz, CI95: e.CI95, Spread: e.Spread, Drift: e.Drift,
		Peak: pitch.Level(slices.Max(n.levels[:1+n.hopOf(l.asked.until, l.hop)])), Floor: l.Floor(),
		Octave: e.Octave, Other: e.Other, Clipped: n.clipped > 0,
	}
	if !l.asked.found {
		r.Start, r.End = n.onset, max(n.onset, l.asked.until)
		r.Hz, r.CI95 = n.hertz(n.median(0, len(n.track))), settle.Widest
	}
	from, to := n.hopOf(r.Start, l.hop), n.hopOf(r.End, l.hop)
	r.Level = meanLevel(n.levels[from:to])
	if e.Vibrato != nil {
		r.Vibrato = &Vibrato{RateHz: e.Vibrato.RateHz, Extent: pitch.Cents(e.Vibrato.Extent)}
	}
	r.Reason = l.verdict(&r)
	r.Settled = r.Reason == ReasonNone
	if r.Reason == ReasonNoise {
		r.Hz, r.CI95, r.Vibrato = 0, 0, nil
	}
	if first, last := min(earlyFrom, len(n.track)-1), min(earlyTo, len(n.track)); r.Hz > 0 && first < last && from < to {
		// Track against track, which may have lain an octave beside the reading.
		r.Early = pitch.Cents(n.median(first, last) - n.median(from, to))
	}
	if l.cfg.KeepPath {
		r.Path = l.path()
	}
	return r
}

// hopOf is the hop of the track at a sample.
func (n *note) hopOf(sample int64, hop int) int {
	return min(len(n.track)-1, max(0, int((sample-n.onset)/int64(hop))))
}

// median is that of the track over hops [from, to), in cents.
func (n *note) median(from, to int) float64 {
	sorted := slices.Sorted(slices.Values(n.track[from:to]))
	if len(sorted) == 0 {
		return 0
	}
	return sorted[len(sorted)/2]
}

// meanLevel is the RMS level of hops of the given levels.
func meanLevel(levels []float64) pitch.Level {
	sum := 0.0
	for _, v := range levels {
		sum += math.Pow(10, v/10)
	}
	return pitch.Level(max(float64(pitch.Silence), 10*math.Log10(sum/float64(max(1, len(levels)))+1e-30)))
}

// verdict says why the reading did not settle, or ReasonNone.
func (l *Listener) verdict(r *Reading) Reason {
	n, e := &l.note, &l.asked.estimate
	soft := float64(r.Level) < l.floor+softDB
	switch {
	case n.gap, n.isTorn(l.asked.until, int64(tearMargin*l.cfg.Rate)):
		return ReasonGap
	case n.calmRun() < calmSeconds || l.asked.found && (e.Stringy || e.Hum):
		return ReasonNoise
	case !l.asked.found && n.seconds() < shortNote:
		return ReasonShort
	case !l.asked.found:
		return ReasonNoise
	case r.Level < pitch.Quietest:
		return ReasonSoft
	case e.Vibrato != nil && e.Vibrato.Deliberate():
		return ReasonVibrato
	case !e.Rested:
		return l.unrested(soft)
	case e.Two:
		return ReasonTwo
	case r.CI95 <= settle.Widest:
		return ReasonNone
	case soft:
		return ReasonSoft
	}
	return ReasonWide
}

// unrested says why the pitch did not come to rest.
func (l *Listener) unrested(soft bool) Reason {
	n := &l.note
	switch {
	case n.seconds() < shortNote:
		return ReasonShort
	case float64(n.clipped) > overloaded*float64(n.length):
		return ReasonClipping
	case soft:
		return ReasonSoft
	}
	return ReasonMoving
}

func (l *Listener) path() []PathPoint {
	n := &l.note
	path := make([]PathPoint, len(n.track))
	for i, c := range n.track {
		path[i] = PathPoint{Sample: min(l.sample, n.onset+int64(i*l.hop)), Hz: n.hertz(c), Level: pitch.Level(n.levels[i])}
	}
	return path
}

// Whole treats all of samples as one settled stretch and measures it. Without
// a pitch the reading is unsettled with ReasonNoise and Hz 0.
func Whole(samples []float64, c Config) Reading {
	c = c.withDefaults()
	sum := 0.0
	for _, v := range samples {
		sum += v * v
	}
	level := pitch.LevelOf(math.Sqrt(sum / float64(max(1, len(samples)))))
	r := Reading{End: int64(len(samples)), Level: level, Peak: level, Floor: pitch.Silence, Reason: ReasonNoise}
	e, ok := estimate.Whole(samples, c.Rate, estimate.Options{ClockPPM: c.ClockPPM})
	if !ok {
		return r
	}
	r.Hz, r.CI95, r.Spread, r.Drift, r.Octave = e.Hz, e.CI95, e.Spread, e.Drift, e.Octave
	r.Settled, r.Reason = true, ReasonNone
	if e.CI95 > settle.Widest {
		r.Settled, r.Reason = false, ReasonWide
	}
	return r
}
