package hub

import (
	"context"
	"fmt"
	"slices"
	"time"

	"bellrow/hub/intonation"
	"bellrow/hub/slide"
	"bellrow/proto"
	"bellrow/proto/pitch"
)

// target is where a chair's note of a round should be. A chord stands at the
// reference until it has been heard.
func (h *Hub) target(r *Round, id ChairID) pitch.Hertz {
	if r.Call.Kind == CallChord {
		if q, ok := h.tones(r); ok {
			return q[id]
		}
	}
	if r.listening() {
		return 0
	}
	return h.section.Reference.Frequency(r.Call.Tones[id])
}

// offset is how far the reading stands from its target, 0 where it has none.
func (r *Reading) offset() pitch.Cents {
	if !r.Target.Valid() {
		return 0
	}
	return pitch.Between(r.Target, r.hz())
}

// codeCold is hub/slide's code for an instrument that has to warm up first.
const codeCold = "cold"

// judge answers a reading that was asked for. It fills in the reading and the
// records; what it returns has to run once the reading is queued to be stored,
// so that the store sees them in this order.
func (h *Hub) judge(s *seat, r *Reading) (followUp func()) {
	c, run := h.chair(s.id), h.running()
	assumed := h.assumeMoves(c, r.At)
	a, follow := h.advise(c, s, r)
	r.Counted = a.Kind != slide.Again && a.Kind != slide.Note
	told, over := a, true
	if !r.Counted || run.inTurns() {
		told, over = s.turn.Answer(a)
	}
	var moves []*MoveRecord
	switch {
	case !r.Counted:
		r.Why, r.Verdict = Reason(reasonCode(r, a)), intonation.Doubt
	case run.listening():
		r.Counted, r.Why, told = false, WhyListen, waitForChord()
	case run.Call.Kind == CallChord:
		r.Why, told = "", waitForChord()
	default:
		r.Why, r.Verdict = "", h.verdict(r, a)
		if h.withheld(run) && a.Kind == slide.Move {
			told, over = leaveForNow(), true
		}
		moves = h.newMoves(r, told)
	}
	if follow != nil {
		h.judgeMove(s, *follow)
	}
	r.Answer = answerOf(r, told)
	switch {
	case over:
		run.leave(s.id)
	case !run.allAtOnce() && (a.Code == codeCold || len(moves) > 0 && h.mayBeRoom(run, r)):
		h.behind(run, s.id) // warms up, or waits with the slide set, while the others play
	case !run.allAtOnce():
		h.rings, h.turnAt = s.id, h.now() // what is left of this note is no fresh attack
	}
	return func() {
		for _, m := range append(assumed, moves...) {
			h.saveMove(m)
		}
		if len(assumed) > 0 {
			h.saveChair(c)
		}
		h.saveRound()
	}
}

// verdict says where a counted reading stands. A chair whose slide is still
// to move is not set, however near it is.
func (h *Hub) verdict(r *Reading, a slide.Advice) string {
	v := intonation.Verdict(r.Cents, r.ci(), h.section.Good, h.section.Watch)
	if v == intonation.Set && a.Kind == slide.Move {
		return intonation.Near
	}
	return v
}

// ci returns the half width that holds for the reading's pitch.
func (r *Reading) ci() pitch.Cents {
	if r.Heard != nil {
		return r.Heard.CI95
	}
	return r.Wire.CI95
}

// hz returns the pitch that holds for the reading.
func (r *Reading) hz() pitch.Hertz {
	if r.Heard != nil {
		return r.Heard.Hz
	}
	return r.Wire.Hz
}

// reasonCode names why a reading does not count.
func reasonCode(r *Reading, a slide.Advice) string {
	switch {
	case a.Code != "":
		return a.Code
	case r.Wire.Reason != "":
		return r.Wire.Reason
	}
	return "unsettled"
}

// answerOf freezes advice for the player.
func answerOf(r *Reading, a slide.Advice) *proto.Answer {
	ans := &proto.Answer{
		ID: r.ID, Kind: string(a.Kind), Code: a.Code,
		Headline: a.Headline, Detail: a.Detail, Next: a.Next, Small: a.Small,
	}
	for _, st := range a.Steps {
		ans.Moves = append(ans.Moves, proto.Slide{
			ID: st.Slide, Name: st.Name, FromMM: st.FromMM, ToMM: st.ToMM, TravelMM: st.TravelMM,
		})
	}
	return ans
}

// newMoves records the steps of an answer.
func (h *Hub) newMoves(r *Reading, a slide.Advice) (ms []*MoveRecord) {
	for _, st := range a.Steps {
		ms = append(ms, h.addMove(MoveRecord{
			ID: h.newID(), Chair: r.Chair, Round: r.Round, Reading: r.ID, At: r.At,
			Slide: st.Slide, FromMM: st.FromMM, ToMM: st.ToMM, Expected: st.Expected,
		}))
	}
	return ms
}

// saveMove queues a move to be stored as it stands now.
func (h *Hub) saveMove(move *MoveRecord) {
	m := *move
	h.journal.put(&write{key: fmt.Sprintf("move/%d", m.ID), do: func(ctx context.Context, s Store) error {
		_, err := s.SaveMove(ctx, m)
		return err
	}})
}

// saveReading stores what the hub made of a reading after it was stored.
func (h *Hub) saveReading(r *Reading) {
	c := r.Clone()
	h.journal.put(&write{key: fmt.Sprintf("reading/%d", r.ID), do: func(ctx context.Context, s Store) error {
		return s.SaveReading(ctx, c)
	}})
}

// open reports whether the move waits to be carried out.
func (m *MoveRecord) open() bool { return m.Done.IsZero() && !m.Withdrawn }

// assumeMoves takes a chair's open moves as made: the player was told before
// this note, and plays again. The slide's setting follows.
func (h *Hub) assumeMoves(c *Chair, at time.Time) (ms []*MoveRecord) {
	for _, m := range h.seats[c.ID].moves {
		if !m.open() {
			continue
		}
		m.Done, m.Assumed = at, true
		h.setting(c, SettingRecord{At: at, Slide: m.Slide, MM: m.ToMM, Source: sourceMove})
		ms = append(ms, m)
	}
	return ms
}

// moveDone closes an open move of the slide that a player says was set. Where
// it stands now counts, not where it was to go; the expectation follows.
func (h *Hub) moveDone(c *Chair, set proto.Setting) {
	for _, m := range h.seats[c.ID].moves {
		if m.Slide != set.Slide || !m.open() {
			continue
		}
		if all := m.ToMM - m.FromMM; all != 0 {
			m.Expected *= pitch.Cents((set.MM - m.FromMM) / all)
		}
		m.ToMM, m.Done = set.MM, h.now()
		h.saveMove(m)
	}
}

// withdraw takes back the open moves of a round.
func (h *Hub) withdraw(run *Round) {
	for _, m := range h.moves {
		if m.Round == run.ID && m.open() {
			m.Withdrawn = true
			h.saveMove(m)
		}
	}
}

// restoreMoves makes up for moves whose record was lost between the commit of
// a reading and theirs.
func (h *Hub) restoreMoves() {
	for _, r := range h.readings {
		if r.Answer == nil || !r.Counted || r.Answer.Kind != string(slide.Move) ||
			slices.ContainsFunc(h.moves, func(m *MoveRecord) bool { return m.Reading == r.ID }) {
			continue
		}
		for _, mv := range r.Answer.Moves {
			h.saveMove(h.addMove(MoveRecord{
				ID: h.newID(), Chair: r.Chair, Round: r.Round, Reading: r.ID, At: r.At,
				Slide: mv.ID, FromMM: mv.FromMM, ToMM: mv.ToMM, Expected: -r.Cents,
			}))
		}
	}
}
