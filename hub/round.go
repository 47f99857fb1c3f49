package hub

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"time"

	"bellrow/hub/intonation"
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

// call starts a round; only, when not nil, lists the chairs it is for.
func (h *Hub) call(c Call, only []ChairID) error {
	c, err := h.checkCall(c)
	if err != nil {
		return err
	}
	tones := c.Tones
	c.Tones, c.Ways = map[ChairID]pitch.Note{}, maps.Clone(c.Ways)
	r := Round{Section: h.section.ID, Started: h.now(), Call: c, TemperatureC: h.section.TemperatureC}
	for _, ch := range h.section.Chairs {
		n, given := tones[ch.ID]
		if ch.Absent || only != nil && !slices.Contains(only, ch.ID) || c.Only && !given {
			continue
		}
		if given {
			c.Tones[ch.ID] = n
		}
		r.Queue = append(r.Queue, ch.ID)
	}
	h.giveTones(&r)
	if len(r.Queue) == 0 {
		return errors.New("hub: nobody here can play that call")
	}
	h.order(&r)
	h.closeRunning()
	h.endWatch()
	r.ID = RoundID(h.newID())
	h.rounds = append(h.rounds, r)
	h.window, h.judgement, h.current = nil, nil, 0
	for _, s := range h.seats {
		s.chunks = nil
	}
	h.rebuild()
	h.saveRound()
	return nil
}

// checkCall finds what cannot be played in a call, and fills in the usual.
func (h *Hub) checkCall(c Call) (Call, error) {
	for id, n := range c.Tones {
		if n < pitch.MinNote || n > pitch.MaxNote {
			return c, fmt.Errorf("hub: note %d for chair %d, need %d to %d", n, id, pitch.MinNote, pitch.MaxNote)
		}
	}
	if err := checkName("place in a piece", c.Where); err != nil {
		return c, err
	}
	switch c.Kind {
	case "", CallNote:
		c.Kind, c.Chord, c.Anchor, c.Tuning, c.Shape, c.Ways = CallNote, "", "", "", "", nil
		if c.Note < pitch.MinNote || c.Note > pitch.MaxNote {
			return c, fmt.Errorf("hub: called note %d, need %d to %d", c.Note, pitch.MinNote, pitch.MaxNote)
		}
		return c, nil
	case CallListen:
		return listenCall(), nil
	case CallChord:
		chord, err := intonation.ParseChord(c.Chord)
		if err != nil {
			return c, err
		}
		tuning := intonation.Tuning(c.Tuning)
		if c.Tuning == "" {
			tuning = h.section.chordTuning()
		}
		if tuning, err = intonation.ParseTuning(string(tuning)); err != nil {
			return c, err
		}
		anchor, err := intonation.ParseAnchor(c.Anchor)
		if err != nil {
			return c, err
		}
		if _, err := intonation.ParseShape(c.Shape); err != nil {
			return c, err
		}
		c.Chord, c.Tuning, c.Anchor = chord.Name(), string(tuning), string(anchor)
		return c, nil
	}
	return c, fmt.Errorf("hub: call of kind %q, need note, chord or listen", c.Kind)
}

// giveTones chooses the sounding note of everybody in the queue who has none:
// the called note in the chair's own octave, or a tone of the chord. Chairs
// that cannot play leave the queue.
func (h *Hub) giveTones(r *Round) {
	var spread map[ChairID]pitch.Note
	if r.Call.Kind == CallChord {
		if chord, err := chordOf(r); err == nil {
			spread = h.spread(chord, r.Queue)
		}
	}
	for _, id := range slices.Clone(r.Queue) {
		if _, has := r.Call.Tones[id]; has {
			continue
		}
		if r.Call.Kind == CallChord {
			if n, ok := spread[id]; ok {
				r.Call.Tones[id] = n
				continue
			}
		} else if in, err := instrument.Find(h.chair(id).Instrument); err == nil {
			r.Call.Tones[id] = openTone
			if !r.listening() {
				r.Call.Tones[id] = in.TuningNote(r.Call.Note)
			}
			continue
		}
		r.leave(id)
	}
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

// ready reports whether a chair can take its turn now: it is here, and not
// playing its cold instrument warm.
func (h *Hub) ready(id ChairID) bool { return h.here(id) && !h.seats[id].warming() }

// awayGrace is how long a chair whose connection broke off is waited for
// before a round is done without it: a laptop that changes its access point
// is back within a few seconds.
const awayGrace = 15 * time.Second

// expected reports whether a chair can play now or may be back in a moment.
func (h *Hub) expected(id ChairID) bool {
	if h.here(id) {
		return true
	}
	s, c := h.seats[id], h.chair(id)
	return s != nil && c != nil && !c.Absent && !s.left.IsZero() && h.now().Sub(s.left) < awayGrace
}

// turn returns whose turn it is: the first in the queue who is here; 0 when
// nobody is or when all play at once. Whoever has the turn keeps it, even if
// somebody before them comes back.
func (h *Hub) turn() ChairID {
	r := h.running()
	if r == nil || r.allAtOnce() {
		return 0
	}
	if slices.Contains(r.Queue, h.current) && h.here(h.current) {
		return h.current
	}
	if h.current != 0 {
		h.rings, h.current = h.current, 0
	}
	if i := slices.IndexFunc(r.Queue, h.ready); i >= 0 {
		h.current, h.turnAt = r.Queue[i], h.now()
	}
	if h.ringing().IsZero() {
		h.rings = 0
	}
	return h.current
}

// allAtOnce reports whether the queue plays together now.
func (r *Round) allAtOnce() bool { return r.Call.Together && !r.InTurn }

// inTurns reports whether the round is one of tuning notes that the chairs
// play one after the other, so that each can be asked again in its turn.
func (r *Round) inTurns() bool { return r.Call.Kind == CallNote && !r.allAtOnce() }

// done reports whether all who are here have been heard. Nobody waits for a
// cold instrument: it is heard as soon as it is warm, in this round or the next.
func (h *Hub) done(r *Round) bool {
	return !slices.ContainsFunc(r.Queue, func(id ChairID) bool { return h.expected(id) && !h.seats[id].warming() })
}

// progress draws the consequences of anything that changed in the running
// round: the room statement, the chord's judgement, the end.
func (h *Hub) progress() {
	r := h.running()
	if r == nil {
		return
	}
	h.room()
	h.chord()
	if done := h.done(r); done == r.Ended.IsZero() {
		r.Ended = time.Time{} // somebody came late
		if done {
			r.Ended = h.now()
		}
		h.saveRound()
	}
}

// behind sends a chair to the end of the queue. Whoever is next waits until its
// note has ended.
func (h *Hub) behind(r *Round, id ChairID) {
	r.leave(id)
	r.Queue = append(r.Queue, id)
	h.rings, h.current = id, 0
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

// saveSection queues the section to be stored, as it stands when it is written:
// a section queued early must not undo a chair that was stored meanwhile.
func (h *Hub) saveSection() {
	sec := h.section.Clone()
	h.journal.put(&write{key: fmt.Sprintf("section/%d", sec.ID), do: func(ctx context.Context, s Store) error {
		if now := h.Section(); now.ID == sec.ID {
			sec = now
		}
		_, err := s.SaveSection(ctx, sec)
		return err
	}})
}

// saveChair queues one chair to be stored, as it stands when it is written.
func (h *Hub) saveChair(ch *Chair) {
	c, section := ch.Clone(), h.section.ID
	h.journal.put(&write{key: fmt.Sprintf("chair/%d", c.ID), do: func(ctx context.Context, s Store) error {
		now, open := h.chairNow(section, c.ID)
		switch {
		case open && now == nil:
			return nil // removed meanwhile
		case open:
			c = *now
		}
		return s.SaveChair(ctx, section, c)
	}})
}

// chairNow copies a chair as it stands, nil when it was removed; open is false
// when another section is open by now.
func (h *Hub) chairNow(section int64, id ChairID) (now *Chair, open bool) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.section.ID != section {
		return nil, false
	}
	c := h.chair(id)
	if c == nil {
		return nil, true
	}
	copied := c.Clone()
	return &copied, true
}
