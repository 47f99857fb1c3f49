package slide

import (
	"math"

	"bellrow/proto/pitch"
)

// Belief is where a chair's note is thought to stand from its target, from
// all readings and moves so far. The zero value knows nothing.
type Belief struct {
	Offset pitch.Cents `json:"offset_cents"`
	SD     float64     `json:"sd_cents"` // 0 = nothing known
}

// strange is the number of standard deviations from which a reading is not
// more of the same: something has changed, and belief starts anew.
const strange = 3

// handMM is how well a slide is set by eye, as a standard deviation in mm
// (from memory).
const handMM = 0.5

// fallDoubt is the share of a fall within the note that is doubt about where
// it would have come to rest.
const fallDoubt = 0.5

// driftDoubt is for how many seconds of its own drift a reading may be away
// from where the note began to rest: half the length of a short reading.
const driftDoubt = 0.5

// wander is how far a player's place may shift from one note to the next, SD
// in cents: old readings must not outvote new ones for ever (from memory).
const wander = 0.7

// sd is how well a reading tells where its note stands, in cents: chance from
// attack to attack adds to the interval, and so does a pitch that was still on
// the move.
func (r Reading) sd() float64 {
	moving := math.Max(fallDoubt*r.fall(), driftDoubt*math.Abs(r.Drift))
	return math.Hypot(math.Hypot(r.CI95.CentreSD(), repeatCents), moving)
}

// Read takes a believed reading and its offset from the target.
func (b Belief) Read(offset pitch.Cents, r Reading) Belief {
	sd := r.sd()
	now := Belief{Offset: offset, SD: sd}
	if b.SD > 0 {
		b.SD = math.Hypot(b.SD, wander)
	}
	if b.SD <= 0 || math.Abs(float64(offset-b.Offset)) > strange*math.Hypot(sd, b.SD) {
		return now
	}
	w, v := 1/(b.SD*b.SD), 1/(sd*sd)
	return Belief{
		Offset: pitch.Cents((w*float64(b.Offset) + v*float64(offset)) / (w + v)),
		SD:     1 / math.Sqrt(w+v),
	}
}

// Moved takes a move that was made: the change it should bring, how many
// millimetres it was, and how well the player's millimetres per cent are known.
func (b Belief) Moved(expected pitch.Cents, mm float64, l Learned) Belief {
	if b.SD <= 0 {
		return b
	}
	b.Offset += expected
	b.SD = math.Hypot(b.SD, moveDoubt(expected, mm, l))
	return b
}

// moveDoubt is how well the change of pitch by a move of so many millimetres
// is known, as a standard deviation in cents.
func moveDoubt(expected pitch.Cents, mm float64, l Learned) float64 {
	sd := math.Abs(float64(expected)) * l.sd() / l.ratio()
	if mm != 0 {
		sd = math.Hypot(sd, handMM*math.Abs(float64(expected)/mm))
	}
	return sd
}

// Held forgets what a move should have done: the pitch did not go with it, so
// where it stands is open.
func (b Belief) Held() Belief { return Belief{} }
