package hub

import (
	"fmt"
	"math"
	"slices"

	"bellrow/hub/intonation"
	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// A section is judged as one once enough of it was heard: at least
// roomChairs, and roomShare of those present unless the round is done; and
// only if roomAgree of those heard stand with the rest, within the outer band:
// two of three are no room.
const (
	roomChairs = 4
	roomShare  = 0.6
	roomAgree  = 0.8
)

// room looks whether the whole section is off together. If so it tells the
// leader once, and takes back the moves instead of sending everybody to the
// slides: the room, or the warm-up, is the cause. Next to an instrument of
// fixed pitch the slides have to follow all the same.
func (h *Hub) room() {
	run := h.running()
	if run == nil || run.Room != "" || run.MovesAnyway || run.Call.Kind == CallChord || h.section.FixedPitch {
		return
	}
	t := h.common()
	if t.Chairs < intonation.MinCommon || !t.AsOne || math.Abs(float64(t.Offset)) <= float64(h.section.Good) {
		return
	}
	if h.standingWith(t.Offset) < roomAgree*float64(t.Chairs) {
		return
	}
	present := h.sectionRow().Present
	if !h.heardOnce(run) && (t.Chairs < roomChairs || float64(t.Chairs) < roomShare*float64(present)) {
		return
	}
	run.Room = fmt.Sprintf("%s: leave the slides, play warm and call again.", capital(t.Words))
	h.withdraw(run)
	for _, r := range h.readings {
		if r.Round == run.ID && r.Counted {
			run.leave(r.Chair) // nothing was moved that would have to be heard
		}
		if r.Round == run.ID && r.Counted && r.Answer != nil && r.Answer.Kind == string(slide.Move) {
			h.reanswer(r, leaveForNow())
		}
	}
	h.saveRound()
}

// heardOnce reports whether all who are here have been heard in the round, be
// it that some wait to be heard again.
func (h *Hub) heardOnce(run *Round) bool {
	return !slices.ContainsFunc(run.Queue, func(id ChairID) bool {
		s := h.seats[id]
		return h.expected(id) && !s.warming() && (s.last() == nil || s.last().Round != run.ID)
	})
}

// mayBeRoom reports whether everybody heard in the round so far, and by r, is
// off the same way, so that the room may be the cause. Whoever is to move a
// slide is then heard again after the others and not at once.
func (h *Hub) mayBeRoom(run *Round, r *Reading) bool {
	if run.Room != "" || run.MovesAnyway || h.section.FixedPitch || h.sectionRow().Present < intonation.MinCommon {
		return false
	}
	for _, o := range append(slices.Clone(h.readings), r) {
		if o.Round == run.ID && o.Counted && (math.Abs(float64(o.Cents)) <= float64(h.section.Good) || (o.Cents > 0) != (r.Cents > 0)) {
			return false
		}
	}
	return true
}

// standingWith counts the chairs of the running round within the outer band of
// a common offset.
func (h *Hub) standingWith(common pitch.Cents) float64 {
	n := 0.0
	for _, c := range h.section.Chairs {
		r := h.seats[c.ID].last()
		if r != nil && !c.Absent && r.Round == h.running().ID && math.Abs(float64(r.Cents-common)) <= float64(h.section.Watch) {
			n++
		}
	}
	return n
}

// reanswer gives a player another answer to the same frozen reading.
func (h *Hub) reanswer(r *Reading, a slide.Advice) {
	if a.Small == "" {
		a.Small = r.Answer.Small
	}
	r.Answer = answerOf(r, a)
	r.Answer.ID = h.newID() // so that the page shows it anew
	h.saveReading(r)
}

// withheld reports whether moves are held back because the section is off as one.
func (h *Hub) withheld(run *Round) bool { return run.Room != "" && !run.MovesAnyway }

// leaveForNow is the answer in place of a move while the section is off as one.
func leaveForNow() slide.Advice {
	return slide.Advice{
		Kind: slide.Stay, Code: "room", Headline: "Leave the slides for now.",
		Detail: "The whole section is off the same way: it is the room, or everybody is cold.",
		Next:   "Blow warm air through the instrument. The leader will call again.",
	}
}

// movesAnyway gives the moves that were held back.
func (h *Hub) movesAnyway(run *Round) {
	run.MovesAnyway = true
	for _, r := range h.readings {
		if r.Round != run.ID || !r.Counted {
			continue
		}
		s := h.seats[r.Chair]
		if s == nil || s.last() != r || h.movedSince(r) {
			continue
		}
		in, ok := h.inquiry(h.chair(r.Chair), s, r)
		if !ok {
			continue
		}
		a := slide.Advise(in) // of this reading alone: the memory has taken it already
		if a.Kind != slide.Move {
			continue
		}
		h.reanswer(r, a)
		for _, m := range h.newMoves(r, a) {
			h.saveMove(m)
		}
	}
	h.saveRound()
}

// offer is a reference that would suit the section better, empty when the
// present one does as well. The leader decides.
func (h *Hub) offer() string {
	var seats []slide.Seat
	run := h.running()
	for _, c := range h.section.Chairs {
		r := h.seats[c.ID].last()
		in, err := instrument.Find(c.Instrument)
		if err != nil || r == nil || r.Round != run.ID {
			continue
		}
		seat := slide.Seat{Instrument: in, Settings: c.Settings, Travel: c.Travel, Offset: r.Cents}
		if ps := in.Paths(r.Note); len(ps) > 0 {
			seat.Path = ps[0]
		}
		seats = append(seats, seat)
	}
	if o := slide.CommonPitch(h.section.Reference, seats, nil); o.Changed {
		return o.Words
	}
	return ""
}
