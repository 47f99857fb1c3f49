package slide

import (
	"fmt"
	"math"

	"bellrow/proto/pitch"

	"gonum.org/v1/gonum/mat"
)

// Sizes of what the room filter expects, as standard deviations (from memory
// and the physics beside each; no source for sections of players).
const (
	// commonPrior: a section a few degrees off its usual room, 3 cents each
	// (D. Sipe: 0.18 % per degree).
	commonPrior = 15
	// driftPrior and driftWalk: a room warms by a degree or two in ten
	// minutes, in cents per minute and per root minute.
	driftPrior = 0.5
	driftWalk  = 0.2
	// ownPrior: most chairs stand within a small slide move of one another;
	// those that do not are taken out by surprise.
	ownPrior = 8
	// ownWalk: a chair left alone wanders a little, cents per root minute.
	ownWalk = 0.7
	// surprise is the number of standard deviations from which a reading is
	// weighted down, so that one wrong chair does not move the room (Huber's
	// tuning constant for 95 % efficiency is 1.345; the room can wait).
	surprise = 2
)

// Room tells what a whole section has in common from what is each chair's own.
//
// It is a Kalman filter whose state holds the common offset, its drift, and
// one own offset for each chair:
//
//	reading of chair i = common + own(i) + doubt,   common' = drift
//
// The own offsets have mean zero a priori, which is what makes the common
// part identifiable. Readings far outside expectation are weighted down
// (Huber). Times are minutes since any fixed moment and must not decrease. A
// Room is used by one goroutine at a time.
type Room struct {
	at    float64
	begun bool
	x     []float64 // common, drift, mark, own...
	p     *mat.SymDense
	k     *mat.VecDense // P·H' of the reading at hand
	// marked is whether stateMark holds a common offset.
	marked bool
}

const (
	stateCommon = iota
	stateDrift
	stateMark // the common offset when Mark was called, kept in the state so that its doubt is shared
	stateOwn  // the first chair
)

// NewRoom returns a filter for so many chairs.
func NewRoom(chairs int) *Room {
	n := stateOwn + max(0, chairs)
	r := &Room{x: make([]float64, n), p: mat.NewSymDense(n, nil), k: mat.NewVecDense(n, nil)}
	r.p.SetSym(stateCommon, stateCommon, commonPrior*commonPrior)
	r.p.SetSym(stateDrift, stateDrift, driftPrior*driftPrior)
	for i := stateOwn; i < n; i++ {
		r.p.SetSym(i, i, ownPrior*ownPrior)
	}
	return r
}

// widen adds to the variance of one element of the state.
func (r *Room) widen(i int, variance float64) { r.p.SetSym(i, i, r.p.At(i, i)+variance) }

// Advance lets time pass until at, in minutes.
func (r *Room) Advance(at float64) {
	dt := at - r.at
	r.at = math.Max(r.at, at)
	if !r.begun {
		r.begun = true
		return
	}
	if dt <= 0 {
		return
	}
	r.x[stateCommon] += dt * r.x[stateDrift]
	// P = F P F' + Q, where F is the identity with dt in one more place.
	common := r.p.At(stateCommon, stateCommon) + dt*(2*r.p.At(stateCommon, stateDrift)+dt*r.p.At(stateDrift, stateDrift))
	for j := range r.x {
		r.p.SetSym(stateCommon, j, r.p.At(stateCommon, j)+dt*r.p.At(stateDrift, j))
	}
	r.p.SetSym(stateCommon, stateCommon, common)
	r.widen(stateDrift, driftWalk*driftWalk*dt)
	for i := stateOwn; i < len(r.x); i++ {
		r.widen(i, ownWalk*ownWalk*dt)
	}
}

// Observe takes a believed reading of a chair at a time in minutes: its offset
// from the target and the half width of its 95 % interval, in cents.
func (r *Room) Observe(at float64, chair int, offset, ci pitch.Cents) {
	i := stateOwn + chair
	if chair < 0 || i >= len(r.x) {
		return
	}
	r.Advance(at)
	variance := math.Pow(float64(ci)/1.96, 2) + repeatCents*repeatCents
	innovation := float64(offset) - r.x[stateCommon] - r.x[i]
	if d := math.Abs(innovation) / math.Sqrt(r.expect(i)+variance); d > surprise {
		variance *= d / surprise
		r.widen(i, innovation*innovation) // the chair itself has moved
	}
	s := r.expect(i) + variance
	for a := range r.x {
		r.x[a] += r.k.AtVec(a) / s * innovation
	}
	r.p.SymRankOne(r.p, -1/s, r.k)
}

// expect fills k for a reading of state i plus the common offset, and returns
// the variance with which that sum is known.
func (r *Room) expect(i int) float64 {
	for j := range r.x {
		r.k.SetVec(j, r.p.At(stateCommon, j)+r.p.At(i, j))
	}
	return r.k.AtVec(stateCommon) + r.k.AtVec(i)
}

// Moved tells that a chair's slide was moved, which should change its own
// offset by expected cents; sd is how well that is known.
func (r *Room) Moved(chair int, expected, sd pitch.Cents) {
	i := stateOwn + chair
	if chair < 0 || i >= len(r.x) {
		return
	}
	r.x[i] += float64(expected)
	r.widen(i, float64(sd)*float64(sd))
}

// Mark keeps the present common offset as the first call's, for Since.
func (r *Room) Mark() {
	r.marked = true
	r.x[stateMark] = r.x[stateCommon]
	for j := range r.x {
		if j != stateMark {
			r.p.SetSym(stateMark, j, r.p.At(stateCommon, j))
		}
	}
	r.p.SetSym(stateMark, stateMark, r.p.At(stateCommon, stateCommon))
}

// Estimate is a value with the half width of its 95 % interval.
type Estimate struct {
	Cents pitch.Cents `json:"cents"`
	CI95  pitch.Cents `json:"ci95_cents"`
}

// Sure reports whether the interval leaves out zero.
func (e Estimate) Sure() bool { return math.Abs(float64(e.Cents)) > float64(e.CI95) }

func (r *Room) estimate(i int) Estimate {
	return Estimate{pitch.Cents(r.x[i]), pitch.Cents(1.96 * math.Sqrt(math.Max(0, r.p.At(i, i))))}
}

// Common is what the whole section has in common.
func (r *Room) Common() Estimate { return r.estimate(stateCommon) }

// Drift is how fast the common offset moves, in cents per minute.
func (r *Room) Drift() Estimate { return r.estimate(stateDrift) }

// Own is what is a chair's own, beside the common offset.
func (r *Room) Own(chair int) Estimate {
	if chair < 0 || stateOwn+chair >= len(r.x) {
		return Estimate{}
	}
	return r.estimate(stateOwn + chair)
}

// Since is the change of the common offset since Mark, zero before it. It is
// known better than the offset itself: what all chairs share today cancels.
func (r *Room) Since() Estimate {
	if !r.marked {
		return Estimate{}
	}
	v := r.p.At(stateCommon, stateCommon) + r.p.At(stateMark, stateMark) - 2*r.p.At(stateCommon, stateMark)
	return Estimate{
		Cents: pitch.Cents(r.x[stateCommon] - r.x[stateMark]),
		CI95:  pitch.Cents(1.96 * math.Sqrt(math.Max(0, v))),
	}
}

// worthSaying is the least common offset the leader is told about: half of
// the tolerance band is not a room.
const worthSaying pitch.Cents = 4

// Say is the one sentence for the leader, empty when there is nothing to say:
// the change since the first call before the offset itself.
func (r *Room) Say() string {
	if s := r.Since(); s.Sure() && math.Abs(float64(s.Cents)) >= float64(worthSaying) {
		way := "come up"
		if s.Cents < 0 {
			way = "gone down"
		}
		return fmt.Sprintf("The room has %s %s since the first call: leave the slides.", way, s.Cents.Size())
	}
	if c := r.Common(); c.Sure() && math.Abs(float64(c.Cents)) >= float64(worthSaying) {
		return fmt.Sprintf("The section is %s %s as one.", c.Cents.Size(), c.Cents.Way())
	}
	return ""
}

// SayOwn tells the leader of a chair that stands apart from the section, by
// its label; empty when it does not.
func (r *Room) SayOwn(chair int, label string) string {
	o := r.Own(chair)
	if !o.Sure() || math.Abs(float64(o.Cents)) < float64(worthSaying) {
		return ""
	}
	way := "above"
	if o.Cents < 0 {
		way = "below"
	}
	return fmt.Sprintf("%s stands %s %s the section.", label, o.Cents.Size(), way)
}
