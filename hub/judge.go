package hub

import (
	"context"
	"fmt"
	"math"
	"slices"

	"bellrow/hub/intonation"
	"bellrow/hub/slide"
	"bellrow/proto"
	"bellrow/proto/pitch"
)

// target is where a chair's note of a round should be.
func (h *Hub) target(r *Round, id ChairID) pitch.Hertz {
	return h.section.Reference.Frequency(r.Call.Tones[id])
}

// judge answers a reading of a player whose turn it is.
func (h *Hub) judge(s *seat, r *Reading) (followUp func()) {
	c := h.chair(s.id)
	assumed := h.assumeMoves(c)
	a := h.advise(*c, r)
	r.Counted = a.Kind != slide.Again && a.Kind != slide.Note
	if !r.Counted {
		r.Why = reasonCode(r, a)
		if s.tries+1 >= maxTries {
			a = letRest(a)
		}
	}
	r.Verdict = intonation.Verdict(r.Cents, r.ci(), h.section.Good, h.section.Watch)
	if !r.Counted {
		r.Verdict = intonation.Doubt
	}
	r.Answer = answerOf(r, a)
	run := h.running()
	if r.Counted || s.tries+1 >= maxTries {
		run.leave(s.id)
	}
	moves := h.movesOf(c, r, a)
	if r.Counted {
		h.follow(s, r)
	}
	return func() {
		for _, m := range append(assumed, moves...) {
			h.saveMove(m)
		}
		h.saveSection()
		h.saveRound()
		h.progress()
		h.room()
	}
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
	case r.Wire.Reason != "":
		return r.Wire.Reason
	case a.Code != "":
		return a.Code
	}
	return "unsettled"
}

// letRest ends the asking after maxTries: people first.
func letRest(a slide.Advice) slide.Advice {
	return slide.Advice{
		Kind: slide.Rest, Code: "tries",
		Headline: "Rest now.",
		Detail:   fmt.Sprintf("Three tries are enough for now. %s", a.Detail),
		Next:     "The others go on; you will be asked again later.",
	}
}

// answerOf freezes advice for the player.
func answerOf(r *Reading, a slide.Advice) *proto.Answer {
	ans := &proto.Answer{
		ID: r.ID, Kind: string(a.Kind),
		Headline: a.Headline, Detail: a.Detail, Next: a.Next,
	}
	if r.Counted {
		ans.Small = smallPrint(r.Cents, r.ci())
	}
	for _, st := range a.Steps {
		ans.Moves = append(ans.Moves, proto.Slide{
			ID: st.Slide, Name: st.Name, FromMM: st.FromMM, ToMM: st.ToMM, TravelMM: st.TravelMM,
		})
	}
	return ans
}

// smallPrint says cents and interval, whole cents as players are told them.
func smallPrint(c, ci pitch.Cents) string {
	return fmt.Sprintf("%s, give or take %s", offsetWords(c), centsWords(max(1, math.Ceil(float64(ci)))))
}

func offsetWords(c pitch.Cents) string {
	n := math.Round(math.Abs(float64(c)))
	switch {
	case n == 0:
		return "right on the note"
	case c < 0:
		return centsWords(n) + " flat"
	}
	return centsWords(n) + " sharp"
}

func centsWords(n float64) string {
	if n == 1 {
		return "1 cent"
	}
	return fmt.Sprintf("%.0f cents", n)
}

// movesOf records the steps of an answer.
func (h *Hub) movesOf(c *Chair, r *Reading, a slide.Advice) []MoveRecord {
	var ms []MoveRecord
	for _, st := range a.Steps {
		ms = append(ms, MoveRecord{
			ID: h.newID(), Chair: c.ID, Round: r.Round, Reading: r.ID, At: r.At,
			Slide: st.Slide, FromMM: st.FromMM, ToMM: st.ToMM, Expected: st.Expected,
		})
	}
	h.moves = append(h.moves, ms...)
	return ms
}

func (h *Hub) saveMove(m MoveRecord) {
	h.journal.put(&write{key: fmt.Sprintf("move/%d", m.ID), do: func(ctx context.Context, s Store) error {
		_, err := s.SaveMove(ctx, m)
		return err
	}})
}

// open reports whether the move waits to be carried out.
func (m *MoveRecord) open() bool { return m.Done.IsZero() && !m.Withdrawn }

// assumeMoves takes a chair's open moves as made: the player was told before
// this note, and plays again. The slide's setting follows.
func (h *Hub) assumeMoves(c *Chair) []MoveRecord {
	var ms []MoveRecord
	for i := range h.moves {
		m := &h.moves[i]
		if m.Chair != c.ID || !m.open() {
			continue
		}
		m.Done = h.now()
		h.setting(c, m.Slide, m.ToMM, "move")
		ms = append(ms, *m)
	}
	return ms
}

// moveDone closes an open move of the slide that a player says was set. Where
// it stands now counts, not where it was to go; the expectation follows.
func (h *Hub) moveDone(c *Chair, set proto.Setting) {
	for i := range h.moves {
		m := &h.moves[i]
		if m.Chair != c.ID || m.Slide != set.Slide || !m.open() {
			continue
		}
		if whole := m.ToMM - m.FromMM; whole != 0 {
			m.Expected *= pitch.Cents((set.MM - m.FromMM) / whole)
		}
		m.ToMM, m.Done = set.MM, h.now()
		h.saveMove(*m)
	}
}

// follow judges the last made move by the reading that came after it.
func (h *Hub) follow(s *seat, r *Reading) {
	before := s.last()
	if before == nil || before.Note != r.Note {
		return
	}
	for i := range slices.Backward(h.moves) {
		m := &h.moves[i]
		if m.Chair != s.id || m.Reading != before.ID || m.Done.IsZero() || m.FollowThrough != "" {
			continue
		}
		m.Measured = pitch.Between(before.hz(), r.hz())
		m.FollowThrough = followWords(m.Expected, m.Measured, before.ci(), r.ci())
		h.saveMove(*m)
		return
	}
}

// restoreMoves makes up for moves whose record was lost between the commit of
// a reading and theirs.
func (h *Hub) restoreMoves() {
	for _, r := range h.readings {
		if r.Answer == nil || len(r.Answer.Moves) == 0 || r.Answer.Kind != string(slide.Move) {
			continue
		}
		if slices.ContainsFunc(h.moves, func(m MoveRecord) bool { return m.Reading == r.ID }) {
			continue
		}
		for _, mv := range r.Answer.Moves {
			m := MoveRecord{
				ID: h.newID(), Chair: r.Chair, Round: r.Round, Reading: r.ID, At: r.At,
				Slide: mv.ID, FromMM: mv.FromMM, ToMM: mv.ToMM, Expected: -r.Cents,
			}
			h.moves = append(h.moves, m)
			h.saveMove(m)
		}
	}
}
