package listen

import "math"

// Samples lost without notice tear the waveform: within one sample it leaps as it never
// does nearby. Lips, tongues, valves, strings and drums ring for longer, and what a
// clipped or brassy note does sharply it does in every period. Where the ends happen
// to meet, nothing is torn and no phase lost.
const (
	// tearSeconds is the length of a block, and tearAside how many on either side of one
	// are compared with it: a period of the lowest note.
	tearSeconds, tearAside = 0.25e-3, 160
	tearBlocks             = 2*tearAside + 1
	// tearTimes is how many times as sharp as anything there a tear is: 2.7 at most in 190
	// recordings of notes with nothing lost, in rooms, beside speech, drums, a piano and
	// other players.
	tearTimes = 3.0
	// tearDB is how sharp it is at least, against the sound's level, and tearSteps in
	// steps of 16 bits. What is struck leaves more than afterTimes as much sharpness after
	// it as there was before.
	tearDB, tearSteps, afterTimes = -12.0, 8.0, 2.0
	// What was lost may come as zeros, for zeroLeast to zeroMost seconds.
	zeroLeast, zeroMost = 2e-3, 0.08
	// someTears in a note are no chance. Within tearMargin seconds of its ends it may
	// begin or end so, as where a recording was cut.
	someTears, tearMargin = 2, 0.05
)

// tearing listens for tears.
type tearing struct {
	rate   float64
	past   [3]float64 // samples, the last first
	block  int        // samples
	in     int        // samples of the open block
	sharps [tearBlocks]float64
	at     int     // the open block, later the oldest
	zeros  int     // in a row
	before float64 // the sample before them
}

func newTearing(rate float64) tearing {
	return tearing{rate: rate, block: max(2, int(tearSeconds*rate))}
}

// hear takes a sample and returns how sharp a tear is that was found, in dBFS, and
// so many samples ago; 0 for none. Sharp is the third difference, which leaves steps as
// they are and little of what is smooth, or how high the ends of zeros are.
func (t *tearing) hear(x float64) (sharp float64, ago int) {
	p := &t.past
	if x == 0 {
		if t.zeros++; t.zeros == 1 {
			t.before = p[0]
		}
	} else if t.zeros > 0 {
		seconds, ends := float64(t.zeros)/t.rate, max(math.Abs(t.before), math.Abs(x))
		t.zeros = 0
		if seconds > zeroLeast && seconds < zeroMost && ends > tearSteps/32768 {
			return 20 * math.Log10(ends), 1
		}
	}
	t.sharps[t.at] = max(t.sharps[t.at], math.Abs(x-3*(p[0]-p[1])-p[2]))
	p[0], p[1], p[2] = x, p[0], p[1]
	if t.in++; t.in < t.block {
		return 0, 0
	}
	t.in, t.at = 0, (t.at+1)%tearBlocks
	if top, ok := t.middle(); ok {
		sharp, ago = 20*math.Log10(top), tearAside*t.block
	}
	t.sharps[t.at] = 0
	return sharp, ago
}

// middle returns how sharp the block in the middle of the past ones is, and whether
// that is a tear.
func (t *tearing) middle() (top float64, torn bool) {
	of := func(away int) float64 { return t.sharps[(t.at+tearAside+away)%tearBlocks] }
	top = of(0)
	if top < tearSteps/32768 || top < of(-1) || top <= of(1) {
		return top, false
	}
	before, after := 0.0, 0.0
	for away := 2; away <= tearAside; away++ {
		before, after = max(before, of(-away)), max(after, of(away))
		if tearTimes*max(before, after) > top {
			return top, false
		}
	}
	return top, after <= afterTimes*before
}

// tear takes a tear at a sample.
func (n *note) tear(at int64) {
	if n.tears < len(n.torn) {
		n.torn[n.tears] = at
		n.tears++
	}
}

// isTorn reports whether samples were lost in the note, which sounded until the given
// one; margin is tearMargin in samples.
func (n *note) isTorn(until, margin int64) bool {
	count := 0
	for _, at := range n.torn[:n.tears] {
		if at > n.onset+margin && at < until-margin {
			count++
		}
	}
	return count >= someTears
}
