package hub

import (
	"errors"
	"slices"

	"bellrow/hub/piece"
	"bellrow/proto/instrument"
)

// undoStep is how things stood before a command.
type undoStep struct {
	name     string // what it takes back, for people
	nextID   int64  // what has this ID or a later one came since
	section  Section
	rounds   []Round
	fresh    beginning
	current  ChairID
	watching bool
	piece    *piece.Piece
	readings []*Reading
	moves    []*MoveRecord
	settings []SettingRecord
	// command is what was asked; made, for DoSetting, the chair's moves as
	// they stood before.
	command Command
	made    []MoveRecord
}

// maxUndo is how many commands can be taken back: more than anybody
// remembers, few enough to forget.
const maxUndo = 20

// snapshot keeps what a command may change.
func (h *Hub) snapshot(c Command) undoStep {
	step := undoStep{command: c, nextID: h.ids.next, section: h.section.Clone(), rounds: slices.Clone(h.rounds), fresh: h.fresh, current: h.turn(), watching: h.watching, piece: h.piece}
	for i := range step.rounds {
		step.rounds[i] = step.rounds[i].Clone()
	}
	if c.Do == DoFresh {
		step.readings, step.moves, step.settings = h.readings, h.moves, h.settings
	}
	if s := h.seats[c.Chair]; c.Do == DoSetting && s != nil {
		for _, m := range s.moves {
			step.made = append(step.made, *m)
		}
	}
	return step
}

func (h *Hub) keep(step undoStep) {
	h.undo = append(h.undo, step)
	if n := len(h.undo) - maxUndo; n > 0 {
		h.undo = slices.Delete(h.undo, 0, n)
	}
}

// takeBack undoes the last command. What players did since stays: whoever was
// heard stays heard, who joined stays, and slides stand where players put them.
func (h *Hub) takeBack() error {
	n := len(h.undo)
	if n == 0 {
		return errors.New("hub: nothing to undo")
	}
	step := h.undo[n-1]
	h.undo = slices.Delete(h.undo, n-1, n)
	switch step.command.Do {
	case DoAbsent, DoPresent, DoSeat, DoEdit, DoRemove:
		h.restoreSection(step)
	case DoPart, DoSonority, DoNextSonority, DoDropPiece, doPiece:
		h.setPiece(step.piece)
	case DoSetting:
		h.slideBack(step)
	case DoFresh:
		h.fresh = step.fresh
		h.readings = append(step.readings, h.readings...)
		h.moves = append(step.moves, h.moves...)
		h.settings = append(step.settings, h.settings...)
		h.saveFresh()
	}
	if run := h.running(); step.command.Do == DoChoose && run != nil {
		h.unchoose(run.ID)
	}
	h.setWatching(step.watching)
	h.restoreRounds(step)
	h.progress()
	h.touch()
	return nil
}

// slideBack takes back the leader's word that a slide was moved, unless the
// slide was moved again since: it stands where it stood, and its move is open.
// A move that was heard since stays made.
func (h *Hub) slideBack(step undoStep) {
	c, id := h.chair(step.command.Chair), step.command.Slide
	if c == nil || c.Settings[id] != step.command.MM {
		return
	}
	in, err := instrument.Find(c.Instrument)
	before := slices.IndexFunc(step.section.Chairs, func(o Chair) bool { return o.ID == c.ID })
	if err != nil || before < 0 {
		return
	}
	was := in.MM(step.section.Chairs[before].Settings, id)
	h.setting(c, SettingRecord{At: h.now(), Slide: id, MM: was, Source: sourceLeader})
	h.saveChair(c)
	for _, m := range h.seats[c.ID].moves {
		i := slices.IndexFunc(step.made, func(o MoveRecord) bool { return o.ID == m.ID })
		if i >= 0 && m.FollowThrough == "" {
			*m = step.made[i]
			h.saveMove(m)
		}
	}
}

// restoreSection puts the set-up back.
func (h *Hub) restoreSection(step undoStep) {
	s := step.section.Clone()
	for i := range s.Chairs {
		c := &s.Chairs[i]
		if now := h.chair(c.ID); now != nil {
			c.Settings, c.Travel = now.Settings, now.Travel
		}
		if h.seats[c.ID] == nil {
			h.seats[c.ID] = newSeat(c.ID)
		}
	}
	for _, c := range h.section.Chairs {
		if slices.ContainsFunc(s.Chairs, func(o Chair) bool { return o.ID == c.ID }) {
			continue
		}
		if !h.seats[c.ID].away() {
			s.Chairs = append(s.Chairs, c)
			continue
		}
		h.dropSeat(c.ID)
	}
	h.section = s
	h.saveSection()
}

// restoreRounds puts the rounds back and takes from their queues who was
// heard since.
func (h *Hub) restoreRounds(step undoStep) {
	for _, r := range h.rounds {
		if !slices.ContainsFunc(step.rounds, func(o Round) bool { return o.ID == r.ID }) {
			r.Void = true
			h.saveRoundOf(r)
		}
	}
	now := h.rounds
	h.rounds = step.rounds
	h.window, h.judgement = nil, nil
	for i := range h.rounds {
		r := &h.rounds[i]
		for _, rd := range h.readings {
			if rd.Round == r.ID && rd.ID >= step.nextID && (rd.Counted || rd.Why == WhyListen) && !waitsIn(now, r.ID, rd.Chair) {
				r.leave(rd.Chair)
			}
		}
		for id := range r.Call.Tones {
			if h.chair(id) == nil {
				r.leave(id)
			}
		}
		h.saveRoundOf(*r)
	}
	if run := h.running(); run != nil && slices.Contains(run.Queue, step.current) {
		h.current = step.current
	}
	h.rebuild()
	h.joinRunning()
}

// waitsIn reports whether a chair is still to be heard in one of the rounds.
func waitsIn(rounds []Round, id RoundID, chair ChairID) bool {
	return slices.ContainsFunc(rounds, func(r Round) bool { return r.ID == id && slices.Contains(r.Queue, chair) })
}

// joinRunning lets those into the running round who came since.
func (h *Hub) joinRunning() {
	for _, c := range h.section.Chairs {
		if !h.seats[c.ID].away() {
			h.arrive(c.ID)
		}
	}
}
