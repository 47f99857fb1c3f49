package listen

import (
	"math"
	"slices"

	"bellrow/node/estimate"
	"bellrow/node/settle"
	"bellrow/proto/pitch"
)

const (
	// leapCents is how far the pitch must leap to be another note, and leapHops
	// for how long: another sound may hide the note for a moment. Scoops are
	// glides: the track follows them.
	leapCents = 60.0
	leapHops  = 20
	// checkHops is how many hops pass between two looks at whether the pitch rests.
	checkHops = 10
	// skipHops after the onset are attack.
	skipHops = 12
	// A note has been heard enough when its centre is known to fineCents, or to
	// fairCents after fairHops, or when more would tire the player.
	fineCents, fairCents = 1.0, 3.0
	fairHops, tiredHops  = 150, 400
)

// note is the note being heard.
type note struct {
	open      bool
	onset     int64 // sample of hop 0 of the track
	call      pitch.Hertz
	row       bool      // others were asked at the same time
	reference float64   // Hz of 0 cents
	track     []float64 // cents, by hop; no more than is looked at
	levels    []float64
	length    int // hops, all of them
	gap       bool
	torn      [2 * someTears]int64 // samples at which it was torn, the first ones
	tears     int                  // of them
	clipped   int                  // hops with clipped samples
	voiced    int                  // hops with a pitch
	peak      float64
	last      float64 // cents
	away      int     // hops since the pitch leapt
	unheard   int     // hops since it was heard
	enough    bool    // heard enough
	told      bool    // and said so
}

// init makes room for a track of so many seconds.
func (n *note) init(seconds float64) {
	hops := int(seconds/hopSeconds) + 1
	n.track, n.levels = make([]float64, 0, hops), make([]float64, 0, hops)
}

// begin opens a note whose first pitch hz comes after some hops of attack.
func (n *note) begin(onset int64, attack int, hz, level float64) {
	*n = note{open: true, onset: onset, reference: hz, peak: level, track: n.track[:0], levels: n.levels[:0]}
	for range attack {
		n.put(0, level)
	}
}

// add takes the next hop.
func (n *note) add(hz, level float64) {
	n.voiced++
	n.unheard = 0
	n.peak = max(n.peak-fadeDB, level)
	n.put(n.folded(hz), level)
}

// fadeDB is how much less of its loudest moment counts with every hop: 3 dB/s.
const fadeDB = 0.03

// put adds to the track.
func (n *note) put(cents, level float64) {
	n.last = cents
	n.length++
	if len(n.track) < cap(n.track) {
		n.track, n.levels = append(n.track, cents), append(n.levels, level)
	}
}

// leaps reports whether the pitch has gone to another note; away counts for how
// long. Until it is sure, the track stays where it was.
func (n *note) leaps(p estimate.Point) bool {
	if math.Abs(n.folded(p.Hz)-n.last) <= leapCents || !p.Fresh && n.away == 0 {
		n.away = 0
		return false
	}
	n.away++
	return true
}

func (n *note) cents(hz float64) float64 {
	return float64(pitch.Between(pitch.Hertz(n.reference), pitch.Hertz(hz)))
}

// folded is cents in the octave of the pitch before: the track may change the
// octave of a note, the note does not.
func (n *note) folded(hz float64) float64 {
	c := n.cents(hz)
	if octaves := math.Round((c - n.last) / 1200); octaves != 0 && math.Abs(c-n.last-1200*octaves) < leapCents {
		c -= 1200 * octaves
	}
	return c
}

func (n *note) hertz(cents float64) pitch.Hertz {
	return pitch.Hertz(n.reference).Shift(pitch.Cents(cents))
}

// check looks at whether the pitch rests now and whether that is enough.
func (n *note) check() (resting bool) {
	r, ok := settle.Now(n.track, min(skipHops, len(n.track)), hopSeconds)
	if ok {
		half := r.Half
		n.enough = n.enough || half < fineCents || half < fairCents && n.length >= fairHops
	}
	n.enough = n.enough || n.length >= tiredHops
	return ok
}

// seconds is how long the note has sounded.
func (n *note) seconds() float64 { return float64(n.length) * hopSeconds }

// calmRun is the longest run of hops, in seconds, in which the pitch stays
// within calmCents: a syllable has none, a played note has.
func (n *note) calmRun() float64 {
	longest, from := 0, 0
	for to := range n.track {
		for spread(n.track[from:to+1]) > calmCents {
			from++
		}
		longest = max(longest, to+1-from)
	}
	return float64(longest) * hopSeconds
}

func spread(cents []float64) float64 { return slices.Max(cents) - slices.Min(cents) }
