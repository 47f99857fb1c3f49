// Package settle decides when a pitch has come to rest.
//
// A Rule is fed one track point per hop of one note and is a pure state
// machine: no clock, no goroutine, no I/O. Pitch is in cents above any fixed
// reference, time in hops.
//
// The rule follows what held brass notes do. Measured on single-note
// recordings without vibrato, half a second within 5 cents is reached by
// 85 % of them, 0.7 s after the onset in the median; a second within 3 cents is
// not a natural state of a brass note.
package settle

import (
	"math"
	"slices"
)

// The rule's thresholds.
const (
	// HoldSeconds is how long the pitch must have rested: long enough for a
	// reading good to a tenth of a cent, short enough for most notes.
	HoldSeconds = 0.5
	// MaxSpread is the 10–90 % range, in cents, within which a pitch rests.
	MaxSpread = 5.0
	// MaxSlope is the steepest drift at rest, in cents per second.
	MaxSlope = 6.0
	// SkipSeconds after the onset are never part of a rest: the attack.
	SkipSeconds = 0.12
	// MaxDrop is how far below the note's peak level a rest may lie, in dB.
	MaxDrop = 25.0
	// CheckEvery is how many hops pass between two looks at the rule: 20 ms is
	// finer than any player notices and keeps the cost low.
	CheckEvery = 2
	// TailSeconds is the end of a rest that must itself lie within MaxSpread of
	// the rest's middle: what falls off in the last tenth of a long rest would
	// hide in its 10–90 % range.
	TailSeconds = 0.1
	// ShortRest, in seconds, is how long a rest must last to count whatever the
	// note does afterwards. A shorter one does not count if the note goes on
	// for AwaySeconds with its middle more than AwayCents from it, or moved for
	// longer than it rested with its middle as far away: a player's own wander
	// brings every glide to a stop for half a second now and then.
	ShortRest   = 0.8
	AwaySeconds = 0.3
	AwayCents   = 6.0
	// FlatLag is how much of the newest track is never part of a rest, in
	// seconds: the release begins before it shows.
	FlatLag = 0.03
)

// Point is one hop of a track.
type Point struct {
	Cents float64 // above a fixed reference
	Level float64 // dBFS
}

// Rule watches one note.
type Rule struct {
	hops   float64 // per second
	hold   int     // hops
	skip   int
	points []Point
	peak   float64

	now     stretch // the rest that lasts or lasted last
	best    stretch // the longest
	first   int     // where the first began
	resting bool
	rested  bool

	scratch []float64
	slopes  []float64
}

// stretch is a run of hops; end is exclusive.
type stretch struct{ start, end int }

// NewRule returns a Rule for the given number of hops per second, with room
// for maxSeconds of note before memory has to grow.
func NewRule(hopsPerSecond, maxSeconds float64) *Rule {
	return &Rule{
		hops:    hopsPerSecond,
		hold:    int(HoldSeconds * hopsPerSecond),
		skip:    int(SkipSeconds * hopsPerSecond),
		points:  make([]Point, 0, int(maxSeconds*hopsPerSecond)),
		scratch: make([]float64, 0, int(maxSeconds*hopsPerSecond)),
		slopes:  make([]float64, 0, int(maxSeconds*hopsPerSecond)),
	}
}

// Reset begins a new note.
func (r *Rule) Reset() {
	r.points = r.points[:0]
	r.peak = math.Inf(-1)
	r.now, r.best, r.first = stretch{}, stretch{}, 0
	r.resting, r.rested = false, false
}

// Add takes the next hop.
func (r *Rule) Add(p Point) {
	r.points = append(r.points, p)
	r.peak = max(r.peak, p.Level)
	if len(r.points)%CheckEvery == 0 {
		r.check()
	}
}

// check begins, extends or ends the present rest. A later rest takes an
// earlier one's place when it is longer: a scoop may pause before it arrives.
func (r *Rule) check() {
	n := len(r.points)
	from := n - r.hold
	switch {
	case from < r.skip:
	case !r.calm(from, n):
		r.leave(n)
	case !r.resting:
		r.resting = true
		r.now = stretch{from, n}
		if !r.rested {
			r.rested, r.first = true, from
		}
		r.keep()
	case r.calm(r.now.start, n) && r.tailHolds(n):
		r.now.end = max(r.now.end, n-int(FlatLag*r.hops))
		r.keep()
	default:
		r.leave(n)
	}
}

// leave ends the present rest; its tail may have moved already.
func (r *Rule) leave(n int) {
	if !r.resting {
		return
	}
	r.resting = false
	same := r.best.start == r.now.start
	r.now.end = min(n, max(r.now.start+r.hold/2, min(r.now.end, n-int(TailSeconds*r.hops))))
	if same {
		r.best = r.now
	}
}

// keep takes the present rest for the note's if it is the longest.
func (r *Rule) keep() { r.best = r.longer(r.now) }

// longer returns the present rest, as now, if it is the note's longest, and
// the longest otherwise.
func (r *Rule) longer(now stretch) stretch {
	if now.start == r.best.start || now.end-now.start > r.best.end-r.best.start {
		return now
	}
	return r.best
}

// tailHolds reports whether the newest hops lie near the rest's middle.
func (r *Rule) tailHolds(n int) bool {
	middle := r.Median(r.now.start, n)
	return math.Abs(r.Median(n-int(TailSeconds*r.hops), n)-middle) <= MaxSpread
}

// calm reports whether hops [from, to) rest.
func (r *Rule) calm(from, to int) bool {
	for _, p := range r.points[from:to] {
		if p.Level < r.peak-MaxDrop {
			return false
		}
	}
	return r.Spread(from, to) <= MaxSpread && math.Abs(r.Slope(from, to)) <= MaxSlope
}

// Resting reports whether the pitch is at rest now.
func (r *Rule) Resting() bool { return r.resting }

// Rest returns the longest rest in hops since the onset, [start, end).
func (r *Rule) Rest() (start, end int, ok bool) { return r.best.start, r.best.end, r.rested }

// RestAt returns the rest as Rest will return it when the note is length hops
// long, if until then it goes on as it does now. It is not ok while such a rest
// would end in hops that have not come.
func (r *Rule) RestAt(length int) (start, end int, ok bool) {
	s := r.best
	if r.resting {
		seen := length - length%CheckEvery - int(FlatLag*r.hops)
		s = r.longer(stretch{r.now.start, max(r.now.end, seen)})
	}
	return s.start, s.end, r.rested && s.end <= len(r.points)
}

// FirstRest returns the hop at which the pitch first came to rest.
func (r *Rule) FirstRest() (hop int, ok bool) { return r.first, r.rested }

// Passing reports whether a short rest was but a slow place in a moving note:
// the pitch came from elsewhere for longer than it rested, or has since gone
// elsewhere and stayed away.
func (r *Rule) Passing(until int) bool {
	if !r.rested || float64(r.best.end-r.best.start) >= ShortRest*r.hops {
		return false
	}
	if math.Abs(r.Slope(r.best.start, r.best.end)) > MaxSlope || r.Spread(r.best.start, r.best.end) > MaxSpread {
		return true // what was left of it when its tail moved off
	}
	if r.best.start-r.skip > r.best.end-r.best.start && r.away(r.skip, r.best.start) {
		return true
	}
	return float64(until-r.best.end) >= AwaySeconds*r.hops && r.away(r.best.end, until)
}

// away reports whether hops [from, to) lie elsewhere than the longest rest.
func (r *Rule) away(from, to int) bool {
	return math.Abs(r.Median(from, to)-r.Median(r.best.start, r.best.end)) > AwayCents
}

// Len returns the number of hops of the note so far.
func (r *Rule) Len() int { return len(r.points) }

// Points returns the note's track; it is valid until the next Add or Reset.
func (r *Rule) Points() []Point { return r.points }

// Spread returns the 10–90 % range over hops [from, to), in cents.
func (r *Rule) Spread(from, to int) float64 {
	r.sorted(from, to)
	n := len(r.scratch)
	if n == 0 {
		return 0
	}
	return r.scratch[(n-1)*9/10] - r.scratch[(n-1)/10]
}

// Median returns the median pitch over hops [from, to), in cents.
func (r *Rule) Median(from, to int) float64 {
	r.sorted(from, to)
	if len(r.scratch) == 0 {
		return 0
	}
	return r.scratch[len(r.scratch)/2]
}

func (r *Rule) sorted(from, to int) {
	r.scratch = r.scratch[:0]
	for _, p := range r.points[from:to] {
		r.scratch = append(r.scratch, p.Cents)
	}
	slices.Sort(r.scratch)
}

// Slope returns the drift over hops [from, to) in cents per second: the median
// of the slopes between each hop and the one half the stretch later, the
// incomplete form of the estimator of Theil (1950) and Sen (1968), J. Am.
// Stat. Assoc. 63, 1379–1389.
func (r *Rule) Slope(from, to int) float64 {
	half := (to - from) / 2
	if half == 0 {
		return 0
	}
	r.slopes = r.slopes[:0]
	for i := from; i+half < to; i++ {
		r.slopes = append(r.slopes, r.points[i+half].Cents-r.points[i].Cents)
	}
	slices.Sort(r.slopes)
	return r.slopes[len(r.slopes)/2] * r.hops / float64(half)
}
