package estimate

import (
	"fmt"
	"math"

	"bellrow/node/listen"
	"bellrow/proto/pitch"
)

// verdicts counts what became of segments that a reading could miss by an
// octave or more. What the node would refuse, because the interval is wide or
// there is no pitch, is no error, but it is no reading either: it is counted
// beside.
type verdicts struct {
	n       int
	wrong   int // read, and off by more than grossCents
	refused int // no reading, or one that the node refuses
	spared  int // of those, the ones that would have been wrong
	held    int // read, and the interval holds the truth
}

// add reads s and returns a line about it if it is read wrong.
func (v *verdicts) add(s segment) (wrong string) {
	v.n++
	r := listen.Whole(s.samples, listen.Config{Rate: rate, ClockPPM: -1})
	off := float64(pitch.Between(s.truth, r.Hz))
	far := !r.Hz.Valid() || math.Abs(off) > grossCents
	switch {
	case !r.Settled:
		v.refused++
		if far {
			v.spared++
		}
	case far:
		v.wrong++
		return fmt.Sprintf("  %s: read %.2f Hz, %+.0f cents, interval %.2f", s.name, float64(r.Hz), off, float64(r.CI95))
	case math.Abs(off) <= float64(r.CI95):
		v.held++
	}
	return ""
}

func (v *verdicts) String() string {
	return fmt.Sprintf("%d of %d; refused %d, of those wrong %d; interval holds %.1f %%",
		v.wrong, v.n, v.refused, v.spared, 100*float64(v.held)/float64(max(1, v.n-v.refused)))
}
