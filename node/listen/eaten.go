package listen

import (
	"math"
	"slices"
)

// Programs that clean speech take what lasts for noise. A note that is held passes them
// for a second or two; then all of it falls at once to a level at which it goes on, at
// the same pitch and as far above the room as before, for the room is held down as much.
// Lips do none of that: a diminuendo goes on falling and comes nearer to the room, and a
// release leaves the room's decay.
const (
	// eatenBefore, eatenFall and eatenAfter, in hops, are how long the note stood, may
	// take to fall, and goes on.
	eatenBefore, eatenFall, eatenAfter = 40, 40, 50
	eatenHops                          = eatenBefore + eatenFall + eatenAfter
	// eatenDB is how far it falls at least, and levelDB how level it is afterwards, from
	// one half to the other. samePitch, in cents, is how near the pitch stays.
	eatenDB, levelDB, samePitch = 8.0, 2.0, 6.0
	// steepDB is how far it falls at least within steepHops, each end a mean of steepMean: a
	// diminuendo under a laptop's wandering gain comes to 7.
	steepDB, steepHops, steepMean = 8.0, 20, 5
	// aboveRoom, in dB, is how far above the room it goes on.
	aboveRoom = 18.0
	// eatenVoiced is the share of hops that must have a pitch.
	eatenVoiced = 0.85
)

// eating is what was heard last, by hop, the oldest at at.
type eating struct {
	levels [eatenHops]float64 // dBFS
	cents  [eatenHops]float64 // above 1 Hz, NaN without a pitch
	at     int
	sorted [eatenHops]float64
}

func newEating() (e eating) {
	for i := range e.cents {
		e.cents[i] = math.NaN()
	}
	return e
}

// hear takes a hop; hz is 0 without a pitch, floor the level of the quiet room. It
// reports whether a program has just eaten a note.
func (e *eating) hear(level, hz, floor float64) bool {
	e.levels[e.at], e.cents[e.at] = level, math.NaN()
	if hz > 0 {
		e.cents[e.at] = 1200 * math.Log2(hz)
	}
	if e.at = (e.at + 1) % eatenHops; hz == 0 || level < floor+aboveRoom {
		return false
	}
	const fallen, half = eatenBefore + eatenFall, eatenAfter / 2
	first, second := e.middle(&e.levels, 0, eatenBefore/2), e.middle(&e.levels, eatenBefore/2, eatenBefore)
	third, fourth := e.middle(&e.levels, fallen, fallen+half), e.middle(&e.levels, fallen+half, eatenHops)
	if (first+second-third-fourth)/2 < eatenDB || math.Abs(third-fourth) > levelDB || (third+fourth)/2 < floor+aboveRoom {
		return false
	}
	if math.IsNaN(e.middle(&e.cents, eatenBefore, fallen)) {
		return false // two notes
	}
	apart := math.Remainder(e.middle(&e.cents, 0, eatenBefore)-e.middle(&e.cents, fallen, eatenHops), 1200)
	return math.Abs(apart) < samePitch && e.steepest() > steepDB
}

// steepest is how many dB the level falls at most within steepHops.
func (e *eating) steepest() (most float64) {
	for from := eatenBefore / 2; from+steepHops+steepMean <= eatenBefore+eatenFall+steepHops; from++ {
		fell := 0.0
		for i := from; i < from+steepMean; i++ {
			fell += (e.levels[(e.at+i)%eatenHops] - e.levels[(e.at+i+steepHops)%eatenHops]) / steepMean
		}
		most = max(most, fell)
	}
	return most
}

// middle is the median of hops [from, to) of v, the oldest first, and NaN where too few
// are numbers.
func (e *eating) middle(v *[eatenHops]float64, from, to int) float64 {
	s := e.sorted[:0]
	for i := from; i < to; i++ {
		if x := v[(e.at+i)%eatenHops]; !math.IsNaN(x) {
			s = append(s, x)
		}
	}
	if float64(len(s)) < eatenVoiced*float64(to-from) {
		return math.NaN()
	}
	slices.Sort(s)
	return s[len(s)/2]
}
