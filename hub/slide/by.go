package slide

import (
	"math"

	"bellrow/proto/instrument"
)

// hardlyAny is a move, in mm, that helps too little to be worked out where much
// more would be needed.
const hardlyAny = 2

// MoveBy answers a tuning note with a move of the main slide by whole
// millimetres that the caller has worked out from more than this note, 0 for
// none. own is what is believed of the slide, theory taken out.
func MoveBy(in Input, mm float64, own Belief) Advice {
	q := newInquiry(in)
	alone := q.belief.Offset - q.expect()
	q.belief, q.facts.Own = own, own
	v := q.lever(instrument.Main)
	all := v.Step(-own.Offset)
	if st := v.Step(v.Cents(mm)); mm != 0 && st.MM() != 0 {
		if all.ShortBy != 0 && all.ToMM == st.ToMM {
			return q.sign(q.telling(q.move("limit", all)))
		}
		return q.sign(q.move("move", st))
	}
	if q.warmingUp() {
		return q.sign(q.answer(Stay, "warming"))
	}
	if !q.near(alone) {
		q.facts.Away = alone
	}
	switch {
	case q.near(own.Offset):
		return q.sign(q.answer(Stay, "in-band"))
	case all.ShortBy != 0 && math.Abs(all.MM()) < hardlyAny: // that is why no move was worked out
		return q.sign(q.atEnd(all))
	}
	return q.sign(q.answer(Stay, "in-doubt"))
}

// Again is an answer to somebody who is asked for the note again at some time,
// or not any more in this round.
func (a Advice) Again(asked bool) Advice {
	switch {
	case asked && a.Kind == Stay && a.Code != "warming": // warm air comes first
		a.Code = "once-more"
		return a
	case !asked && (a.Kind == Again || a.Kind == Note) && a.Code != "cold":
		return letRest(a) // people first
	}
	return a
}
