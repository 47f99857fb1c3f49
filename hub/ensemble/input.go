package ensemble

import (
	"slices"

	"bellrow/hub/attribute"
	"bellrow/proto"
	"bellrow/proto/pitch"
	"bellrow/proto/track"
)

// Attributor answers whose sound is whose; *attribute.Fitter is one.
type Attributor interface {
	Fit(attribute.Input) attribute.Result
}

// MaxChunks bounds what is worth keeping of a chair's partial tracks: more than
// any together round uses.
const MaxChunks = 64

// Chair is what is known of one chair of a row that played at once.
type Chair struct {
	ID       int64
	Expected pitch.Hertz // where its note should be; 0 in a listening round
	// Tracks says that its laptop sends partial tracks and is connected.
	Tracks bool
	Clock  Clock
	Chunks []track.Chunk
	// Reading is what its laptop made of the note by itself, nil for none.
	Reading  *proto.Reading
	Baseline pitch.Level
	// Believed is how far from Expected earlier readings put the chair, and
	// Doubt the standard deviation of that; Doubt 0 = nothing is known.
	Believed, Doubt pitch.Cents
	// Range is what the instrument can sound, for notes that nobody called.
	Range attribute.Range
}

// Input is a row that played at once, ready to be told apart. It shares the
// chunks with whoever keeps them and changes nothing.
type Input struct {
	Chairs []Chair
	// Unknown is set when nobody knows which notes were held: they are
	// guessed from all microphones together.
	Unknown bool
	// Resting is how many more laptops are in the room whose players rest.
	Resting int
}

// The stretch that is looked at, in seconds.
const (
	settleIn = 0.3 // the start of a note, left out
	// entries is how long after the first sound the last player is at rest, if the
	// sound lasts: every laptop hears whoever begins first.
	entries      = 0.5
	longestFit   = 2.5
	shortestFit  = 1.5
	minWindow    = 0.8
	doubtfulTime = 0.05 // a clock that is no better known is none
)

// Enough is how many seconds of a chair's tracks are all that is looked at.
const Enough = settleIn + entries + longestFit

// Fit asks whose sound is whose. saw, if not nil, is told what was asked and
// what came of it.
func (in Input) Fit(a Attributor, saw func(attribute.Input, attribute.Result)) attribute.Result {
	w := in.window()
	if in.Unknown {
		in.guess(&w)
	}
	res := a.Fit(w)
	if saw != nil {
		saw(w, res)
	}
	return res
}

// window lays the chairs' sounds side by side: from where most have begun to
// where most have not ended.
func (in Input) window() attribute.Input {
	w := attribute.Input{Resting: in.Resting}
	var starts, ends []float64
	for _, c := range in.Chairs {
		ac := c.described()
		if from, to, ok := c.stretch(ac.Zero); ok {
			starts, ends = append(starts, from), append(ends, to)
		}
		w.Chairs = append(w.Chairs, ac)
	}
	from, to := commonStretch(starts, ends)
	for i, c := range in.Chairs {
		// Tracks of another time were laid there by a wrong clock.
		if a, b, ok := c.stretch(w.Chairs[i].Zero); ok && (a > to || b < from) {
			w.Chairs[i].Chunks, w.Chairs[i].Able = nil, false
		}
	}
	w.Start = from + max(0, min(entries, to-from-shortestFit))
	w.End = min(to, w.Start+longestFit)
	return w
}

// described is the chair as hub/attribute takes it.
func (c Chair) described() attribute.Chair {
	ac := attribute.Chair{ID: c.ID, Expected: c.Expected, Baseline: c.Baseline, Believed: c.Believed, Doubt: c.Doubt}
	if n := len(c.Chunks); n > 0 {
		rate := c.Chunks[n-1].Rate
		ac.Zero, ac.ClockError = c.Clock.Zero(rate)
		ac.PPM, ac.PPMError = c.Clock.PPM(rate)
		ac.Floor = c.Chunks[n-1].Floor
	}
	if ac.Able = c.Tracks && c.Timed(); c.Timed() { // without a clock the tracks cannot be laid side by side
		ac.Chunks = c.Chunks
	}
	if r := c.Reading; r != nil && r.Settled {
		ac.Own = attribute.OneMic{Hz: r.Hz, CI95: r.CI95, Spread: r.Spread, Drift: r.Drift, Level: r.Level}
	}
	return ac
}

// Timed reports whether the chair's clock is known well enough for its tracks to be
// laid beside those of the others.
func (c Chair) Timed() bool { return c.Clock.Known() && c.Clock.last.Error <= doubtfulTime }

// stretch is when a chair's tracks, or without them its reading, sounded, where
// zero is the hub time of its sample 0.
func (c Chair) stretch(zero float64) (start, end float64, ok bool) {
	if n := len(c.Chunks); n > 0 {
		first, last := c.Chunks[0], c.Chunks[n-1]
		return zero + float64(first.First)/first.Rate + settleIn, zero + float64(last.First)/last.Rate, true
	}
	if r := c.Reading; r != nil {
		return zero + r.Start, zero + r.End, true
	}
	return 0, 0, false
}

// commonStretch is where four fifths of the chairs sound at once, as far as
// their stretches tell: a few who come late or leave early do not shorten it.
func commonStretch(starts, ends []float64) (start, end float64) {
	if len(starts) == 0 {
		return 0, 0
	}
	slices.Sort(starts)
	slices.Sort(ends)
	start, end = starts[(len(starts)-1)*4/5], ends[len(ends)/5]
	if short := minWindow - (end - start); short > 0 {
		start, end = start-short/2, end+short/2
	}
	return start, end
}

// guessLength is how much sound the notes are looked for in, in seconds.
const guessLength = 1.5

// guess fills in which notes the chairs are taken to hold: what all microphones
// together say, or the chair's own laptop alone.
func (in Input) guess(w *attribute.Input) {
	first := *w
	first.End = min(w.Start+guessLength, w.End)
	ranges := make([]attribute.Range, len(in.Chairs))
	for i, c := range in.Chairs {
		ranges[i] = c.Range
	}
	for i, hz := range attribute.Notes(first, ranges) {
		w.Chairs[i].Expected = hz
		if hz == 0 {
			w.Chairs[i].Expected = w.Chairs[i].Own.Hz
		}
	}
}
