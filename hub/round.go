package hub

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"time"

	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// running returns the round that the row shows, nil when none was called or
// the leader ended it.
func (h *Hub) running() *Round {
	if len(h.rounds) == 0 {
		return nil
	}
	r := &h.rounds[len(h.rounds)-1]
	if r.Closed {
		return nil
	}
	return r
}

// call starts a round.
func (h *Hub) call(c Call, only []ChairID) error {
	if c.Kind == "" {
		c.Kind = CallNote
	}
	if c.Kind == CallNote && (c.Note < pitch.MinNote || c.Note > pitch.MaxNote) {
		return fmt.Errorf("hub: called note %d, need %d to %d", c.Note, pitch.MinNote, pitch.MaxNote)
	}
	h.closeRunning()
	r := Round{ID: RoundID(h.newID()), Section: h.section.ID, Started: h.now(), Call: c}
	tones := c.Tones
	r.Call.Tones = map[ChairID]pitch.Note{}
	for _, ch := range h.section.Chairs {
		if ch.Absent || only != nil && !slices.Contains(only, ch.ID) {
			continue
		}
		if n, ok := tones[ch.ID]; ok {
			r.Call.Tones[ch.ID] = n
		} else if !h.giveTone(&r, ch) {
			continue
		}
		r.Queue = append(r.Queue, ch.ID)
	}
	h.order(&r)
	h.rounds = append(h.rounds, r)
	h.gatherFresh()
	h.rebuild()
	h.saveRound()
	h.progress()
	return nil
}

// giveTone chooses the sounding note of a chair in its own octave.
func (h *Hub) giveTone(r *Round, c Chair) bool {
	in, err := instrument.Find(c.Instrument)
	if err != nil {
		return false
	}
	r.Call.Tones[c.ID] = in.TuningNote(r.Call.Note)
	return true
}

// order sorts the queue: low voices first, for the others build on them, or
// along the row.
func (h *Hub) order(r *Round) {
	place := map[ChairID]int{}
	for i, c := range h.section.seated() {
		place[c.ID] = i
	}
	low := h.section.Order != OrderSeating
	slices.SortStableFunc(r.Queue, func(a, b ChairID) int {
		byPlace := cmp.Compare(place[a], place[b])
		if !low {
			return byPlace
		}
		return cmp.Or(cmp.Compare(r.Call.Tones[a], r.Call.Tones[b]), cmp.Compare(h.fundamental(a), h.fundamental(b)), byPlace)
	})
}

func (h *Hub) fundamental(id ChairID) pitch.Hertz {
	c := h.chair(id)
	if c == nil {
		return 0
	}
	in, err := instrument.Find(c.Instrument)
	if err != nil {
		return 0
	}
	return in.Fundamental
}

// here reports whether a chair can play now.
func (h *Hub) here(id ChairID) bool {
	s, c := h.seats[id], h.chair(id)
	return s != nil && c != nil && !c.Absent && !s.away()
}

// turn returns whose turn it is: the first in the queue who is here; 0 when
// nobody is or when all play at once.
func (h *Hub) turn() ChairID {
	r := h.running()
	if r == nil || r.allAtOnce() {
		return 0
	}
	for _, id := range r.Queue {
		if h.here(id) {
			return id
		}
	}
	return 0
}

// allAtOnce reports whether the queue plays together now.
func (r *Round) allAtOnce() bool { return r.Call.Together && !r.InTurn }

// playing reports whether a chair is asked to play now.
func (h *Hub) playing(id ChairID) bool {
	r := h.running()
	if r == nil || !h.here(id) {
		return false
	}
	if r.allAtOnce() {
		return slices.Contains(r.Queue, id)
	}
	return h.turn() == id
}

// done reports whether all who are here have been heard.
func (h *Hub) done(r *Round) bool {
	return !slices.ContainsFunc(r.Queue, h.here)
}

// progress notes whether the running round is done now.
func (h *Hub) progress() {
	r := h.running()
	if r == nil {
		return
	}
	switch done := h.done(r); {
	case done && r.Ended.IsZero():
		r.Ended = h.now()
		h.saveRound()
	case !done && !r.Ended.IsZero():
		r.Ended = time.Time{}
		h.saveRound()
	}
}

// leave takes a chair out of the queue.
func (r *Round) leave(id ChairID) {
	r.Queue = slices.DeleteFunc(r.Queue, func(q ChairID) bool { return q == id })
}

func (h *Hub) closeRunning() {
	r := h.running()
	if r == nil {
		return
	}
	r.Closed = true
	if r.Ended.IsZero() {
		r.Ended = h.now()
	}
	h.saveRoundOf(*r)
}

// saveRound queues the running round to be stored.
func (h *Hub) saveRound() {
	if r := h.running(); r != nil {
		h.saveRoundOf(*r)
	}
}

func (h *Hub) saveRoundOf(r Round) {
	r = r.Clone()
	h.journal.put(&write{key: fmt.Sprintf("round/%d", r.ID), do: func(ctx context.Context, s Store) error {
		_, err := s.SaveRound(ctx, r)
		return err
	}})
}

// saveSection queues the section to be stored.
func (h *Hub) saveSection() {
	sec := h.section.Clone()
	h.journal.put(&write{key: fmt.Sprintf("section/%d", sec.ID), do: func(ctx context.Context, s Store) error {
		_, err := s.SaveSection(ctx, sec)
		return err
	}})
}
