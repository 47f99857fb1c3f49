package hub

import (
	"fmt"
	"math"
	"slices"

	"bellrow/hub/slide"
	"bellrow/proto/instrument"
)

// Codes of Row.SayKind.
const (
	sayMove    = "move"
	sayWait    = "wait"
	sayRoom    = "room"
	sayDone    = "done"
	sayTrouble = "trouble"
)

// say finds the one sentence that matters most now.
func (h *Hub) say() (sentence, kind string) {
	run := h.running()
	switch {
	case h.trouble != "":
		return h.trouble, sayTrouble
	case len(h.section.Chairs) == 0:
		return "Nobody has joined yet: show the players the join page.", sayWait
	case h.watching:
		return "Listening quietly while you rehearse. End it at the break: the report says how the pitch went.", sayWait
	case run == nil && len(h.rounds) == 0:
		return "Call a note to begin.", sayWait
	case run == nil:
		sec := h.sectionRow()
		return fmt.Sprintf("%d of %d set. Call the next note.", sec.Set, sec.Present), sayWait
	case h.withheld(run):
		return run.Room, sayRoom
	case run.allAtOnce():
		return h.sayTogether(run), sayWait
	case !h.done(run):
		return h.sayTurn(run)
	case run.listening():
		return h.sayListen(run), sayDone
	case run.Call.Kind == CallChord:
		if h.judgement != nil {
			return h.judgement.Sentence, sayDone
		}
		return "The chord was not heard.", sayDone
	}
	return h.sayDone(run)
}

func (h *Hub) sayTogether(run *Round) string {
	heard, here := 0, 0
	for _, id := range run.Queue {
		if h.here(id) {
			here++
			if h.gathered(h.seats[id]) {
				heard++
			}
		}
	}
	if heard == 0 {
		if run.listening() {
			return "All together now: each holds a note of the chord."
		}
		return "All together now: play and hold."
	}
	return fmt.Sprintf("%d of %d heard.", heard, here)
}

// sayTurn tells the last move and whose turn it is.
func (h *Hub) sayTurn(run *Round) (sentence, kind string) {
	id := h.turn()
	if id == 0 {
		i := slices.IndexFunc(run.Queue, func(id ChairID) bool { return h.expected(id) && !h.seats[id].warming() })
		return fmt.Sprintf("The laptop of %s is away: waiting a moment for it.", h.called(run.Queue[i])), sayWait
	}
	next := fmt.Sprintf("%s plays %s.", h.called(id), h.writtenFor(run, id))
	if run.listening() {
		next = fmt.Sprintf("%s holds a note of the chord.", h.called(id))
	}
	s := h.seats[id]
	if a := h.toMove(s); a != nil {
		return fmt.Sprintf("%s: %s Then the note again.", h.called(id), lowerFirst(a.Headline)), sayMove
	}
	if a := s.askedAfter(); a != nil {
		if len(a.Moves) > 0 {
			return fmt.Sprintf("%s plays again, with the slide moved.", h.called(id)), sayWait
		}
		return fmt.Sprintf("%s plays again: %s", h.called(id), lowerFirst(a.Headline)), sayWait
	}
	if m := h.lastAnswer(run); m != "" {
		return m + " " + next, sayMove
	}
	if run.Note != "" {
		return run.Note + " " + next, sayWait
	}
	return next, sayWait
}

// sayDone tells what remains: the worst chair first.
func (h *Hub) sayDone(run *Round) (sentence, kind string) {
	sec := h.sectionRow()
	if sec.Set == sec.Present && sec.Present > 0 {
		return "Everybody is set.", sayDone
	}
	set := fmt.Sprintf("%d of %d set.", sec.Set, sec.Present)
	var worst *Reading
	rest, cold, moved := "", "", 0
	for _, c := range h.section.seated() {
		s := h.seats[c.ID]
		if r := s.last(); r != nil && h.openAnswer(s) != nil && (worst == nil || math.Abs(float64(r.Cents)) > math.Abs(float64(worst.Cents))) {
			worst = r
		}
		if r := s.inRound; r != nil && r.Answer != nil && r.Answer.Kind == string(slide.Rest) && rest == "" {
			rest = h.called(c.ID)
		}
		if s.moved() {
			moved++
		}
		if s.warming() && cold == "" {
			cold = h.called(c.ID)
		}
	}
	switch {
	case worst != nil:
		return fmt.Sprintf("%s first: %s %s", h.called(worst.Chair), lowerFirst(worst.Answer.Headline), set), sayMove
	case rest != "" && moved > 0:
		return fmt.Sprintf("Give %s a moment of rest, then hear all again who are not set. %s", rest, set), sayDone
	case moved == 1:
		return "One has moved a slide: hear them again. " + set, sayDone
	case moved > 1:
		return fmt.Sprintf("%s have moved their slides: hear them again. %s", countWords(moved), set), sayDone
	case rest != "":
		return fmt.Sprintf("Give %s a moment of rest, then hear them again. %s", rest, set), sayDone
	}
	if cold != "" {
		return fmt.Sprintf("%s is still playing warm: call again in a while. %s", cold, set), sayDone
	}
	if n := len(run.Queue); n > 0 {
		return fmt.Sprintf("%s %s still to be heard, without a laptop here.", set, countWords(n)), sayDone
	}
	return set, sayDone
}

// lastAnswer tells the last answered chair's move, empty when it has none to make.
func (h *Hub) lastAnswer(run *Round) string {
	for _, r := range slices.Backward(h.readings) {
		if r.Round != run.ID || !r.Counted || r.Answer == nil || h.chair(r.Chair) == nil {
			continue
		}
		if h.openAnswer(h.seats[r.Chair]) == nil {
			return ""
		}
		return fmt.Sprintf("%s: %s", h.called(r.Chair), lowerFirst(r.Answer.Headline))
	}
	return ""
}

// called is how the row's sentences call a chair: by its label alone where
// names are hidden, for the wall shows them too.
func (h *Hub) called(id ChairID) string {
	c := h.chair(id)
	if h.section.HideNames {
		return c.Label
	}
	return c.display()
}

func (h *Hub) writtenFor(r *Round, id ChairID) string {
	n := r.Call.Tones[id]
	if in, err := instrument.Find(h.chair(id).Instrument); err == nil {
		return "written " + in.Written(n).Display()
	}
	return n.Display()
}

// gathered reports whether the chair's reading of the open window is in.
func (h *Hub) gathered(s *seat) bool {
	run := h.running()
	return run != nil && run.allAtOnce() && s.inRound != nil && s.inRound.Why == whyGathering
}
