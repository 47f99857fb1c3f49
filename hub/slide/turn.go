package slide

import (
	"math"

	"bellrow/proto/pitch"
)

// Most notes that one player is asked for in one turn, and how many more once
// a slide was moved in it, so that the move can be heard: people first (common
// practice, no source: about three short notes for one tuning note).
const (
	mostNotes = 3
	moreMoved = 1
)

// MostNotes is the most notes of one player in one turn.
const MostNotes = mostNotes + moreMoved

// Turn is one player's turn in a round: fresh attacks of the called note, with
// a rest and a breath between them, until it is known where the player stands,
// or until enough was asked. The zero value has not begun.
type Turn struct {
	Notes int  // heard in it
	Moved bool // a slide was to be moved in it
}

// Take counts an answered note.
func (t *Turn) Take(a Advice) {
	t.Notes++
	t.Moved = t.Moved || a.Kind == Move
}

// Answer is what a player is told to the next note of the turn, and whether
// the turn is over with it. The note is asked for once more straight away
// after a move, since only the pitch says whether it followed; after a pitch
// that the lips held; after a note that was not believed; and as long as the
// note may lie outside the tolerance band for all that was heard of it.
func (t Turn) Answer(a Advice) (told Advice, over bool) {
	t.Take(a)
	most := mostNotes
	if t.Moved {
		most += moreMoved
	}
	full := t.Notes >= most
	switch a.Kind {
	case Again, Note:
		if full && a.Code != "cold" { // who plays warm needs no rest from it
			return letRest(a), true
		}
		return a, full
	case Move, Rest:
		return a, full
	case Stay:
		if a.Doubt && !full {
			a.Code = "once-more"
			return a, false
		}
	}
	return a, true
}

// letRest ends the asking: people first.
func letRest(a Advice) Advice {
	a.Facts.Because, a.Facts.Pitched = a.Code, false
	a.Kind, a.Code, a.Steps = Rest, "tries", nil
	return a
}

// sureDoubt is by how many standard deviations a note must lie inside the
// tolerance band for no further note to be asked for. A section of twelve is in
// tune when every chair is: at 3, 99.87 % of the chairs and 98.4 % of such
// sections, as far as belief is normal.
const sureDoubt = 3

// sure reports whether a note is known to lie within the band.
func (b Belief) sure(good pitch.Cents) bool {
	return math.Abs(float64(b.Offset))+sureDoubt*b.SD <= float64(good)
}
