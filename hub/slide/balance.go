package slide

import (
	"math"

	"bellrow/proto/instrument"
)

// balance answers a chord tone: hand slide, valve slides or the hand in the
// bell. The main slide stays where the tuning notes put it, and the note is
// judged as it sounds.
func (q *inquiry) balance() Advice {
	if a, ok := q.inBand(q.belief); ok {
		return a
	}
	if a, ok := q.unlikeBefore(); ok {
		return a
	}
	if a, ok := q.lowNote(); ok {
		return a
	}
	if st, ok := q.playingStep(); ok {
		if st.ShortBy != 0 {
			return q.move("balance-limit", st)
		}
		return q.move("balance", st)
	}
	if q.Mute == Stopped {
		return q.answer(Nothing, "stopped-hand")
	}
	if _, ok := q.Instrument.Slide(instrument.Bell); ok {
		a := q.answer(Finger, "bell")
		a.Facts.Out = q.belief.Offset > 0 // sharp: cover
		return a
	}
	if p, gain, ok := q.better(); ok {
		return q.otherWay("alternate", p, gain)
	}
	return q.nothingToMove()
}

// playing lists the slides that move the note while it is played.
func (q *inquiry) playing() []Lever {
	var all []Lever
	for _, s := range q.Instrument.Slides {
		if v := q.lever(s.ID); s.WhilePlaying && s.ID != instrument.Main && v.Serves() {
			all = append(all, v)
		}
	}
	return all
}

// playingStep finds the slide that moves while playing and gives most of the
// wanted change; of two that reach, the third valve slide before the first.
func (q *inquiry) playingStep() (Step, bool) {
	best, found := Step{}, false
	for _, v := range q.playing() {
		st := v.Step(-q.belief.Offset)
		if st.MM() != 0 && (!found || math.Abs(float64(st.ShortBy)) <= math.Abs(float64(best.ShortBy))) {
			best, found = st, true
		}
	}
	return best, found
}

// nothingToMove is the honest end: a slide that serves the note stands at its
// end, or none does.
func (q *inquiry) nothingToMove() Advice {
	code := "nothing-moves"
	if q.Instrument.HandSlide {
		code = "slide-closed"
		if q.belief.Offset > 0 {
			code = "slide-out"
		}
	}
	a := q.answer(Nothing, code)
	a.Facts.Out = q.belief.Offset > 0
	for _, v := range q.playing() {
		a.Facts.Slide = v.Slide
	}
	return a
}
