package slide

import "bellrow/proto/instrument"

// MoveBy answers a tuning note with a move of the main slide by whole
// millimetres that the caller has worked out from more than this note, 0 for
// none. own is what is believed of the slide, theory taken out.
func MoveBy(in Input, mm float64, own Belief) Advice {
	q := newInquiry(in)
	alone := q.belief.Offset - q.expect()
	q.belief, q.facts.Own = own, own
	if mm != 0 {
		v := q.lever(instrument.Main)
		st := v.Step(v.Cents(mm))
		if all := v.Step(-own.Offset); all.ShortBy != 0 && all.ToMM == st.ToMM && all.MM() != 0 {
			return q.sign(q.telling(q.move("limit", all)))
		}
		if st.MM() != 0 {
			return q.sign(q.move("move", st))
		}
	}
	code := "in-doubt"
	switch {
	case q.warmingUp():
		code = "warming"
	case q.near(own.Offset):
		code = "in-band"
		if !q.near(alone) {
			q.facts.Away = alone
		}
	}
	return q.sign(q.answer(Stay, code))
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
