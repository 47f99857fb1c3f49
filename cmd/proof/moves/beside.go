package moves

import (
	"math"

	"bellrow/node/listen"
	"bellrow/proto/pitch"
)

// What another who plays an octave away costs, as recorded notes in rooms with one
// at -6 dB at the same laptop were read (go run ./cmd/proof estimate -only real-odd
// -rooms 4): of 30 with the other an octave higher 29 were read, none wrong; of 28
// with it an octave lower 28, of which 6 an octave off. They were off by 1.1 to 1.2
// cents in 95 of 100 and their half width was 2.7 to 2.9 cents; alone 0.3 to 0.5 and
// 0.6. At 1.5 m from each other in a room of 600 m³, laptops at 0.6 m, -5 to -7 dB
// are usual.
const (
	besideSD     = 0.55 // cents
	besideHalf   = 2.8
	lowerRefused = 1.0 / 30
	higherWrong  = 6.0 / 28
)

// fitTime is how long after a note of many it is known who was read, in seconds.
const fitTime = 2.0

// beside is what others who play at once do to a reading. Where more than three
// play, the fit over all laptops reads some of them.
func (r *rehearsal) beside(n *note, group []int) {
	if len(group) < 2 {
		return
	}
	half := math.Max(n.half, besideHalf)
	n.shift(besideSD * r.random.NormFloat64())
	n.started *= half / n.half
	n.half = half
	n.reading.CI95 = pitch.Cents(math.Sqrt2 * half)
	lost, wrong := 1-r.pop.Read, 0.0
	if len(group) <= 3 {
		lost = 0
		for _, o := range group {
			switch d := r.chairs[o].note - r.chairs[n.chair].note; {
			case d > 0:
				lost = 1 - (1-lost)*(1-lowerRefused)
			case d < 0:
				wrong = 1 - (1-wrong)*(1-higherWrong)
			}
		}
	}
	switch x := r.random.Float64(); {
	case n.refused != "":
	case x < lost:
		n.along = len(group) > 3
		n.refused = string(listen.ReasonTwo)
		n.reading.Settled, n.reading.Reason = false, listen.ReasonTwo
	case x > 1-wrong:
		n.shift(-1200)
		n.refused = "other-note"
	}
}

// shift moves a reading by so many cents.
func (n *note) shift(cents float64) {
	n.cents += cents
	n.reading.Hz = n.reading.Hz.Shift(pitch.Cents(cents))
}
