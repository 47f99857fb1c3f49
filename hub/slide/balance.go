package slide

import (
	"fmt"
	"math"

	"bellrow/proto/instrument"
)

// balance answers a chord tone: hand slide, valve slides or the hand in the
// bell. The main slide stays where the tuning notes put it.
func (q *inquiry) balance() Advice {
	if a, ok := q.lowNote(); ok {
		return a
	}
	if st, ok := q.playingStep(); ok {
		return q.balanceMove(st)
	}
	if _, ok := q.Instrument.Slide(instrument.Bell); ok {
		return q.bell()
	}
	if p, gain, ok := q.better(); ok {
		return Advice{Kind: Finger, Code: "alternate", Try: &p,
			Headline: fmt.Sprintf("Try %s instead of %s.", p, q.Path),
			Detail:   fmt.Sprintf("In theory it lies about %.0f cents %s.", math.Abs(float64(gain)), higher(float64(gain)))}
	}
	return q.nothingToMove()
}

// playingStep finds the slide that moves while playing and gives most of the
// wanted change; of two that reach, the third valve slide before the first.
func (q *inquiry) playingStep() (Step, bool) {
	best, found := Step{}, false
	for _, s := range q.Instrument.Slides {
		if !s.WhilePlaying || s.Legs == 0 || s.ID == instrument.Main || !q.Instrument.Serves(s.ID, q.Path) {
			continue
		}
		st := q.step(s.ID, q.want())
		if st.MM() != 0 && (!found || math.Abs(float64(st.ShortBy)) <= math.Abs(float64(best.ShortBy))) {
			best, found = st, true
		}
	}
	return best, found
}

// balanceMove words a step made while playing.
func (q *inquiry) balanceMove(st Step) Advice {
	a := Advice{Kind: Move, Code: "balance", Steps: []Step{st}, Headline: headline(st),
		Detail: "For this chord only; the main slide stays."}
	if st.ShortBy != 0 {
		a.Code = "balance-limit"
		a.Detail = fmt.Sprintf("It has only %.0f of the %.0f mm that this note needs; the main slide stays.", math.Abs(st.MM()), math.Round(math.Abs(st.MM())+q.missing(st)))
	}
	return a
}

// bell: covering lowers, opening raises (HBM Intonation notes).
func (q *inquiry) bell() Advice {
	h := "Cover the bell a little more with the hand."
	if q.want() > 0 {
		h = "Open the hand in the bell a little."
	}
	return Advice{Kind: Finger, Code: "bell", Headline: h, Detail: "For this chord only; the slides stay."}
}

// nothingToMove is the honest end: a note that nothing on the instrument moves.
func (q *inquiry) nothingToMove() Advice {
	if q.Instrument.HandSlide && q.want() > 0 {
		return Advice{Kind: Nothing, Code: "slide-closed",
			Headline: "The hand slide is all the way in already.",
			Detail:   "This note is flat in first position and has no slide left.",
			Next:     "Set the bell slide a little further in at the next tuning, so that first position can be played slightly out."}
	}
	return Advice{Kind: Nothing, Code: "nothing-moves",
		Headline: "Leave this note as it is.",
		Detail:   q.whyNothing(),
		Next:     "Let the others come to it."}
}

// whyNothing: a slide that serves the note stands at its end, or none does.
func (q *inquiry) whyNothing() string {
	for _, s := range q.Instrument.Slides {
		if s.WhilePlaying && s.Legs > 0 && s.ID != instrument.Main && q.Instrument.Serves(s.ID, q.Path) {
			end := "out"
			if q.want() > 0 {
				end = "in"
			}
			return fmt.Sprintf("The %s is all the way %s already, and the main slide stays.", s.Name, end)
		}
	}
	return fmt.Sprintf("Played %s, this note moves with the main slide alone, and that stays.", q.Path)
}

func higher(x float64) string {
	if x > 0 {
		return "higher"
	}
	return "lower"
}
