package listen

import (
	"fmt"
	"math"

	"bellrow/node/estimate"
	"bellrow/node/settle"
	"bellrow/proto/pitch"
)

// Defaults and thresholds.
const (
	// DefaultClockPPM is the tolerance of an ordinary sound card's crystal,
	// one standard deviation: 100 ppm would be 0.17 cent.
	DefaultClockPPM = 50.0
	// DefaultHoldFor is how long a resting note is measured at most: two
	// seconds are beyond what helps, and players tire.
	DefaultHoldFor = 2.0
	// hopSeconds is the step of the pitch track.
	hopSeconds = 0.01
	// onsetHops is how many voiced hops in a row begin a note.
	onsetHops = 3
	// releaseHops is how many unvoiced hops in a row end it: 80 ms, longer
	// than a lip's hiccup, shorter than a breath.
	releaseHops = 8
	// likelyHops is how many of them make it likely enough to begin with the
	// estimate: a note seldom comes back from more.
	likelyHops = 3
	// aheadHops is how many hops before a held note is read its estimate is
	// begun: as many as are never part of a rest, and longer than it takes.
	aheadHops = int(settle.FlatLag / hopSeconds)
	// gateDB is how far above the quiet floor a note stands.
	gateDB = 10.0
	// softest is the level below which nothing is a note, dBFS: the noise of a
	// laptop's microphone preamplifier.
	softest pitch.Level = -75
	// shortestNote is the least length, in seconds, of what is called a note.
	shortestNote = 0.15
	// maxNote bounds the memory of one note's track, in seconds.
	maxNote = 60.0
	// longestAttack is how far before its first pitch a note may begin, in
	// seconds: low notes speak slowly, and what is earlier is breath.
	longestAttack = 0.25
	// floorRise is how fast the quiet floor may rise, in dB per hop: 2 dB/s.
	floorRise = 0.02
	// firstFloor is the quiet floor assumed before anything was heard, dBFS.
	firstFloor = -65.0
	// levelHops is how many hops of level are remembered, for the track lags.
	levelHops = 32
	// ringSlack is how much more than HoldFor of sound is kept, in seconds: the
	// attack and the release around a stretch.
	ringSlack = 1.5
)

// A Listener turns samples into readings. One goroutine uses it. Write does not
// allocate except for a reading.
type Listener struct {
	cfg    Config
	hop    int // samples
	hold   int // hops
	events []Event

	sample int64 // index of the next sample to come
	ring   []float64
	filled int64 // samples in the ring since the last gap

	tracker *estimate.Tracker
	energy  float64
	inHop   int
	clipped bool // in this hop

	level    pitch.Level
	levels   [levelHops]float64
	hops     int
	floor    float64
	loudAt   int64 // sample at which the level last rose through the gate
	loud     bool
	state    State
	note     note
	asked    answer // the estimate made last
	voiced   int    // voiced hops in a row
	unvoiced int
}

// New returns a Listener.
func New(c Config) (*Listener, error) {
	if !(c.Rate >= 8000 && c.Rate <= 192000) {
		return nil, fmt.Errorf("listen: rate of %g Hz, need 8000 to 192000", c.Rate)
	}
	c = c.withDefaults()
	if !(c.HoldFor >= settle.HoldSeconds && c.HoldFor <= 30) {
		return nil, fmt.Errorf("listen: hold of %g s, need %g to 30", c.HoldFor, settle.HoldSeconds)
	}
	l := &Listener{
		cfg:     c,
		hop:     int(math.Round(hopSeconds * c.Rate)),
		hold:    int(math.Round(c.HoldFor / hopSeconds)),
		ring:    make([]float64, int((c.HoldFor+ringSlack)*c.Rate)),
		tracker: estimate.NewTracker(c.Rate, hopSeconds),
		floor:   firstFloor,
		level:   pitch.Silence,
		state:   Quiet,
		events:  make([]Event, 0, 8),
	}
	l.note.rule = settle.NewRule(1/hopSeconds, maxNote)
	return l, nil
}

func (c Config) withDefaults() Config {
	switch {
	case c.ClockPPM == 0:
		c.ClockPPM = DefaultClockPPM
	case c.ClockPPM < 0:
		c.ClockPPM = 0
	}
	if c.HoldFor == 0 {
		c.HoldFor = DefaultHoldFor
	}
	return c
}

// Floor returns the level of the quiet room as heard so far.
func (l *Listener) Floor() pitch.Level { return pitch.Level(l.floor) }

// Level returns the level of the last hop.
func (l *Listener) Level() pitch.Level { return l.level }

// Write takes the next samples, any number of them, and returns what
// happened. The slice is valid until the next call.
func (l *Listener) Write(samples []float64) []Event {
	l.events = l.events[:0]
	for _, x := range samples {
		if !(math.Abs(x) <= loudest) {
			x = 0 // NaN, infinite or absurd: a fault, not a sound
		}
		l.take(x)
	}
	return l.events
}

// loudest is the largest sample believed; full scale is 1.
const loudest = 16

// Gap tells the listener that samples were lost before the next Write. A note
// sounding across the gap is closed as unsettled.
func (l *Listener) Gap(lost int64) {
	l.sample += max(0, lost)
	l.filled, l.inHop, l.energy = 0, 0, 0
	l.tracker.Reset()
	if l.note.open {
		l.note.gap = true
	}
}

// Flush ends the input and closes an open note.
func (l *Listener) Flush() []Event {
	l.events = l.events[:0]
	l.end()
	l.enter(Quiet)
	return l.events
}

func (l *Listener) take(x float64) {
	l.ring[l.filled%int64(len(l.ring))] = x
	l.filled++
	l.sample++
	l.energy += x * x
	if math.Abs(x) >= 0.999 {
		l.clipped = true
	}
	l.tracker.Write(x)
	if l.inHop++; l.inHop == l.hop {
		l.level = pitch.LevelOf(math.Sqrt(l.energy / float64(l.hop)))
		l.energy, l.inHop = 0, 0
		l.onHop()
		l.clipped = false
	}
}

// onHop looks at the last hop.
func (l *Listener) onHop() {
	l.hops++
	l.levels[l.hops%levelHops] = float64(l.level)
	p, ok := estimate.Point{}, false
	if l.gate() {
		p, ok = l.tracker.Hop()
	} else {
		l.tracker.Lose()
	}
	l.moveFloor(ok)
	if !ok {
		l.silent()
		return
	}
	l.voiced++
	l.unvoiced = 0
	level := l.levels[(l.hops-min(levelHops-1, p.Lag/l.hop)+levelHops)%levelHops]
	switch {
	case !l.note.open && l.voiced >= onsetHops:
		l.begin(p, level)
	case l.note.open && p.Fresh && math.Abs(l.note.cents(p.Hz)-l.note.last) > leapCents:
		l.end()
		l.loudAt = l.sample - int64(p.Lag)
		l.begin(p, level)
	case l.note.open:
		l.follow(p, level)
	}
}

// leapCents is how far the pitch must leap to be another note. Scoops are
// glides: the track follows them.
const leapCents = 60.0

// gate reports whether the level stands above the room's.
func (l *Listener) gate() bool {
	loud := l.level > softest && float64(l.level) > l.floor+gateDB
	if loud && !l.loud {
		l.loudAt = l.sample - int64(l.hop)
	}
	l.loud = loud
	return loud
}

// silent is a hop without a pitch.
func (l *Listener) silent() {
	l.voiced = 0
	l.unvoiced++
	if !l.note.open {
		return
	}
	if l.unvoiced >= releaseHops {
		l.end()
		l.enter(Quiet)
		return
	}
	l.note.hold(float64(l.level))
	if l.unvoiced >= likelyHops {
		l.foresee(l.note.rule.Len() + releaseHops - 1 - l.unvoiced)
	}
}

// moveFloor lets the floor fall quickly and rise slowly, and not in a note.
func (l *Listener) moveFloor(voiced bool) {
	level := max(float64(l.level), -120)
	switch {
	case level < l.floor:
		l.floor += 0.2 * (level - l.floor)
	case !voiced && !l.note.open:
		l.floor = min(level, l.floor+floorRise)
	}
}

func (l *Listener) begin(p estimate.Point, level float64) {
	at := l.sample - int64(p.Lag)
	onset := min(at, max(l.loudAt, at-int64(longestAttack*l.cfg.Rate)))
	l.note.begin(onset, at, l.hop, p.Hz, level)
	l.enter(Sounding)
	l.follow(p, level)
}

// follow adds a hop to the open note.
func (l *Listener) follow(p estimate.Point, level float64) {
	n := &l.note
	n.add(p.Hz, level)
	if l.clipped {
		n.clipped++
	}
	if n.done {
		return
	}
	if n.rule.Resting() {
		l.enter(Resting)
	} else {
		l.enter(Sounding)
	}
	first, ok := n.rule.FirstRest()
	if !ok {
		return
	}
	// Counted from where the rest began, whether or not it still lasts: nobody
	// shall have to hold a note for longer.
	due := first + l.hold
	switch left := due - n.rule.Len(); {
	case left <= 0:
		l.read()
	case left <= aheadHops:
		l.foresee(due)
	}
}

// end closes the note and gives its reading if that is still due.
func (l *Listener) end() {
	n := &l.note
	if !n.open {
		return
	}
	if !n.done && float64(n.voiced)*hopSeconds >= shortestNote {
		l.read()
	}
	n.open = false
}

func (l *Listener) enter(s State) {
	if l.state != s {
		l.state = s
		l.events = append(l.events, Event{Sample: l.sample, State: s})
	}
}

// read gives the note's one reading.
func (l *Listener) read() {
	n := &l.note
	n.done = true
	r := l.reading()
	l.events = append(l.events, Event{Sample: l.sample, State: l.state, Reading: &r})
}

// at returns the sample at which a hop of the open note begins.
func (l *Listener) at(hop int) int64 { return min(l.sample, l.note.onset+int64(hop*l.hop)) }

// stretchOf returns the samples [from, to) in the source's count, if the ring
// still holds them.
func (l *Listener) stretchOf(from, to int64) ([]float64, bool) {
	back, size := l.sample-from, int64(len(l.ring))
	if back > min(l.filled, size) || from >= to || to > l.sample {
		return nil, false
	}
	out := make([]float64, to-from)
	at := l.filled - back
	for i := range out {
		out[i] = l.ring[(at+int64(i))%size]
	}
	return out, true
}
