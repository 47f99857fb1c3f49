package listen

import (
	"math"

	"bellrow/node/settle"
	"bellrow/proto/pitch"
)

// note is the note being heard.
type note struct {
	open      bool
	onset     int64 // sample of hop 0 of the rule
	rule      *settle.Rule
	reference float64 // Hz of 0 cents
	done      bool    // its reading has been given
	gap       bool
	clipped   int // hops with clipped samples
	voiced    int // hops with a pitch
	peak      float64
	last      float64 // cents
}

// begin opens a note whose first pitch hz lies at sample at.
func (n *note) begin(onset, at int64, hop int, hz, level float64) {
	n.rule.Reset()
	n.open, n.done, n.gap, n.clipped, n.voiced = true, false, false, 0, 0
	n.onset, n.reference, n.peak, n.last = onset, hz, level, 0
	for range max(0, int((at-onset)/int64(hop))) {
		n.rule.Add(settle.Point{Cents: 0, Level: level}) // the attack: never part of a rest
	}
}

// add takes the next hop.
func (n *note) add(hz, level float64) {
	n.voiced++
	n.peak = max(n.peak, level)
	n.put(n.cents(hz), level)
}

// hold keeps the track in step with time through a hop without a pitch.
func (n *note) hold(level float64) {
	n.put(n.last, level)
}

// put adds to the track, unless the note is read and its track of no more use.
func (n *note) put(cents, level float64) {
	n.last = cents
	if !n.done && n.rule.Len() < int(maxNote/hopSeconds) {
		n.rule.Add(settle.Point{Cents: cents, Level: level})
	}
}

func (n *note) cents(hz float64) float64 {
	return float64(pitch.Between(pitch.Hertz(n.reference), pitch.Hertz(hz)))
}

func (n *note) hertz(cents float64) pitch.Hertz {
	return pitch.Hertz(n.reference).Shift(pitch.Cents(cents))
}

// seconds is how long the note has sounded.
func (n *note) seconds() float64 { return float64(n.rule.Len()) * hopSeconds }

// body is the part of the note that an unsettled reading is about: without
// attack and release, and no more than longest hops of its end.
func (n *note) body(longest int) (start, end int) {
	length := n.rule.Len()
	start = min(int(settle.SkipSeconds/hopSeconds), length/3)
	end = max(start+1, length-releaseHops)
	return max(start, end-longest), end
}

// calmRun is the longest run of hops, in seconds, in which the pitch stays
// within calmCents, sought up to calmSeconds: a syllable has none, a played
// note has.
func (n *note) calmRun() float64 {
	points := n.rule.Points()
	longest, from := 0, 0
	for to := range points {
		if float64(longest)*hopSeconds >= calmSeconds {
			break // calm enough: no need to know how much calmer
		}
		for low, high := bounds(points[from : to+1]); high-low > calmCents; low, high = bounds(points[from : to+1]) {
			from++
		}
		longest = max(longest, to+1-from)
	}
	return float64(longest) * hopSeconds
}

func bounds(points []settle.Point) (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, p := range points {
		low, high = min(low, p.Cents), max(high, p.Cents)
	}
	return low, high
}
