package listen

import (
	"fmt"
	"math"
	"slices"

	"bellrow/node/estimate"
	"bellrow/proto/pitch"
)

// Defaults and thresholds.
const (
	// DefaultClockPPM is the tolerance of an ordinary sound card's crystal,
	// one standard deviation: 100 ppm would be 0.17 cent.
	DefaultClockPPM = 50.0
	// DefaultHoldFor is how much of a note is looked at: its attack and twice the
	// longest stretch that is read.
	DefaultHoldFor = 6.0
	// leastHold is the least of it: a rest and its attack.
	leastHold = 1.0
	// hopSeconds is the step of the pitch track.
	hopSeconds = 0.01
	// onsetHops is how many voiced hops in a row begin a note.
	onsetHops = 3
	// releaseHops is how many unvoiced hops in a row end it: 80 ms, longer
	// than a lip's hiccup, shorter than a breath. While the sound stays loud, as
	// under a drum, coveredHops may pass.
	releaseHops = 8
	coveredHops = 30
	// likelyHops is how many of them make it likely enough to begin with the
	// estimate: a note seldom comes back from more.
	likelyHops = 3
	// gateDB is how far above the quiet floor a note stands.
	gateDB = 10.0
	// softest is the level below which nothing is a note, dBFS: the noise of a
	// laptop's microphone preamplifier.
	softest pitch.Level = -75
	// Samples above flatLevel that stay within a step of 16 bits of the one before, for
	// flatSeconds, are the flat top of what was clipped before it was turned down.
	flatLevel, flatStep, flatSeconds = 0.5, 1.01 / 32768, 1.0 / 8000
	// fallDB below its loudest a note is over, though something goes on sounding:
	// the room, or somebody else. riseDB within riseHops is an attack, where a
	// neighbour had been heard before.
	fallDB, riseDB = 15.0, 9.0
	riseHops       = 20
	// floorRise is how fast the quiet floor may rise, in dB per hop: 2 dB/s.
	floorRise = 0.02
	// firstFloor is the quiet floor assumed before anything was heard, dBFS.
	firstFloor = -65.0
	// levelHops is how many hops of level are remembered, for the track lags.
	levelHops = 32
	// longestAttack is how far before its first pitch a note may begin, in
	// seconds: low notes speak slowly, and what is earlier is breath.
	longestAttack = 0.25
	// ringSlack is how much more than HoldFor of sound is kept, in seconds: the
	// attack and the release around it.
	ringSlack = 1.5
)

// A Listener turns samples into readings. One goroutine uses it. Write does not
// allocate except for a reading.
type Listener struct {
	cfg    Config
	hop    int // samples
	events []Event

	sample int64     // index of the next sample to come
	ring   []float64 // at the lowered rate
	filled int64     // lowered samples in the ring since the last gap
	lower  *estimate.Decimator

	tracker *estimate.Tracker
	energy  float64
	inHop   int
	clipped bool // in this hop
	last    float64
	flat    int // samples that stayed the same

	level   pitch.Level
	levels  [levelHops]float64
	hops    int
	floor   float64
	loudAt  int64 // sample at which the level last rose through the gate
	loud    bool
	state   State
	note    note
	seat    seat
	asked   answer // the estimate made last
	call    pitch.Hertz
	row     bool // others are asked at the same time
	voiced  int  // voiced hops in a row
	eating  eating
	tearing tearing
}

// New returns a Listener.
func New(c Config) (*Listener, error) {
	if !(c.Rate >= 8000 && c.Rate <= 192000) {
		return nil, fmt.Errorf("listen: rate of %g Hz, need 8000 to 192000", c.Rate)
	}
	c = c.withDefaults()
	if !(c.HoldFor >= leastHold && c.HoldFor <= 30) {
		return nil, fmt.Errorf("listen: hold of %g s, need %g to 30", c.HoldFor, leastHold)
	}
	l := &Listener{
		cfg:     c,
		hop:     int(math.Round(hopSeconds * c.Rate)),
		lower:   estimate.NewDecimator(c.Rate),
		tracker: estimate.NewTracker(c.Rate, hopSeconds),
		floor:   firstFloor,
		level:   pitch.Silence,
		state:   Quiet,
		events:  make([]Event, 0, 8),
		eating:  newEating(),
		tearing: newTearing(c.Rate),
	}
	l.ring = make([]float64, int((c.HoldFor+ringSlack)*c.Rate)/l.lower.Factor())
	l.note.init(c.HoldFor)
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

// Call says which note is called for from now on, as a sounding pitch; 0 is
// none. It holds for the notes that begin afterwards.
func (l *Listener) Call(hz pitch.Hertz) { l.call = hz }

// Row says whether others are asked to play at the same time from now on. What is
// loud then is not this seat's own.
func (l *Listener) Row(playing bool) { l.row = playing }

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
	l.eating, l.tearing = newEating(), newTearing(l.cfg.Rate)
	l.tracker.Reset()
	l.lower.Reset()
	if l.note.open {
		l.note.gap = true
	}
}

// Flush ends the input and closes an open note.
func (l *Listener) Flush() []Event {
	l.events = l.events[:0]
	l.end(l.sample)
	l.enter(Quiet)
	return l.events
}

func (l *Listener) take(x float64) {
	l.sample++
	if y, ok := l.lower.Write(x); ok {
		l.ring[l.filled%int64(len(l.ring))] = y
		l.filled++
		l.tracker.Write(y)
	}
	l.energy += x * x
	if math.Abs(x-l.last) > flatStep || math.Abs(x) < flatLevel {
		l.flat = 0
	}
	l.flat++
	l.last = x
	if math.Abs(x) >= 0.999 || float64(l.flat) > flatSeconds*l.cfg.Rate {
		l.clipped = true
	}
	if sharp, ago := l.tearing.hear(x); ago > 0 && l.note.open && sharp > float64(l.level)+tearDB {
		l.note.tear(l.sample - int64(ago))
	}
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
	if l.eating.hear(float64(l.level), p.Hz, l.floor) {
		l.events = append(l.events, Event{Sample: l.sample, State: l.state, Eaten: true})
	}
	if !ok {
		l.silent()
		return
	}
	l.voiced++
	level := l.levelAgo(p.Lag / l.hop)
	switch n := &l.note; {
	case !n.open && l.voiced >= onsetHops:
		l.begin(p, level)
	case n.open && float64(l.level) < n.peak-fallDB:
		l.fade()
	case n.open && l.attacked():
		l.change(l.sample-int64(riseHops*l.hop), p, level)
	case n.open && n.leaps(p):
		if n.away < leapHops {
			n.put(n.last, level)
			return
		}
		l.change(l.sample-int64(p.Lag)-int64(n.away*l.hop), p, level)
	case n.open:
		l.follow(p, level)
	}
}

// change ends the open note at a sample, where another begins.
func (l *Listener) change(at int64, p estimate.Point, level float64) {
	l.end(at)
	l.loudAt = at
	l.begin(p, level)
}

// levelAgo is the level so many hops ago.
func (l *Listener) levelAgo(hops int) float64 {
	return l.levels[(l.hops-min(levelHops-1, hops)+levelHops)%levelHops]
}

// attacked reports whether somebody nearer has begun, and goes on.
func (l *Listener) attacked() bool {
	levels := l.note.levels
	from := len(levels) - 2*riseHops
	if from < 0 || l.note.length > len(levels) {
		return false
	}
	before := slices.Max(levels[from : from+riseHops])
	return slices.Min(levels[len(levels)-riseHops/2:]) > before+riseDB
}

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
	if l.note.open {
		l.fade()
	}
}

// fade is a hop in which the open note is not heard: because it is over, or
// because another sound covers it.
func (l *Listener) fade() {
	n := &l.note
	n.unheard++
	patience := releaseHops
	if float64(l.level) > n.peak-fallDB {
		patience = coveredHops
	}
	until := l.sample - int64(n.unheard*l.hop)
	if n.unheard >= patience {
		l.end(until)
		l.voiced = 0
		l.enter(Quiet)
		return
	}
	n.put(n.last, float64(l.level))
	if n.unheard == likelyHops && patience == releaseHops {
		l.ask(until)
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
	l.note.begin(onset, int((at-onset)/int64(l.hop)), p.Hz, level)
	l.note.call, l.note.row = l.call, l.row
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
	if n.length%checkHops != 0 {
		return
	}
	if n.check() {
		l.enter(Resting)
	} else if !n.enough {
		l.enter(Sounding)
	}
	if n.enough && !n.told {
		n.told = true
		l.events = append(l.events, Event{Sample: l.sample, State: l.state, Enough: true})
	}
	if n.length >= int(l.cfg.HoldFor/hopSeconds) && l.asked.onset != n.onset {
		l.ask(l.sample) // all that will be looked at has been heard
	}
}

// end closes the note, which sounded until the given sample, and gives its
// reading.
func (l *Listener) end(until int64) {
	n := &l.note
	if !n.open {
		return
	}
	n.open = false
	if float64(n.voiced)*hopSeconds < shortestTry {
		return // a blip is nobody's try
	}
	l.ask(until)
	r := l.reading()
	if l.strange(&r) {
		l.seat.doubt(float64(r.Level), called(n.call, r.Hz))
		return
	}
	if !n.row && !r.Clipped && r.Reason != ReasonSoft {
		l.seat.hear(float64(r.Level), r.Settled)
	}
	l.events = append(l.events, Event{Sample: l.sample, State: l.state, Reading: &r})
}

func (l *Listener) enter(s State) {
	if l.state != s {
		l.state = s
		l.events = append(l.events, Event{Sample: l.sample, State: s})
	}
}

// lowered returns the lowered samples of [from, to) in the source's count, as far
// as the ring still holds them.
func (l *Listener) lowered(from, to int64) (x []float64, first int64) {
	factor := int64(l.lower.Factor())
	back := min((l.sample-from)/factor, l.filled, int64(len(l.ring)))
	n := min(back, (to-from)/factor)
	if n <= 0 {
		return nil, from
	}
	x = make([]float64, n)
	at := l.filled - back
	for i := range x {
		x[i] = l.ring[(at+int64(i))%int64(len(l.ring))]
	}
	return x, l.sample - back*factor
}
