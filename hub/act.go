package hub

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"bellrow/hub/intonation"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// Command carries out what the leader asks for. An error says why nothing
// happened; a nil error means that it is on the row, and stored as soon as the
// store can.
func (h *Hub) Command(ctx context.Context, c Command) error {
	if c.Do == DoOpen {
		return h.openSaved(ctx, c.Name)
	}
	if err := h.command(c); err != nil {
		return err
	}
	h.flushLogged(ctx)
	return nil
}

func (h *Hub) command(c Command) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	if c.Do == DoUndo {
		return h.takeBack()
	}
	step := h.snapshot(c)
	name, err := h.act(c)
	if err != nil {
		return err
	}
	step.name = name
	h.keep(step)
	h.progress()
	h.touch()
	return nil
}

// act carries out one command and names it for Undo.
func (h *Hub) act(c Command) (name string, err error) {
	run := h.running()
	switch c.Do {
	case DoCall:
		if c.Call == nil {
			return "", errors.New("hub: call without a note or chord, need one")
		}
		return "the call", h.call(*c.Call, nil)
	case DoAgain:
		return "asking again", h.again(c.Chair)
	case DoListen:
		return "the listening", h.call(listenCall(), nil)
	case DoChoose:
		return "the choice of the chord", h.choose(run, c.Name)
	case DoWatch:
		return "the watch", h.watch()
	case DoEnd:
		if h.endWatch() {
			return "the end of the watch", nil
		}
		if run == nil {
			return "", errNoRound
		}
		h.closeRunning()
		return "the end of the round", nil
	case DoNext:
		if run == nil {
			return "", errNoRound
		}
		return "going on", h.next(run)
	case DoFresh:
		h.closeRunning()
		h.fresh = h.beginning()
		h.saveFresh()
		h.rounds, h.readings, h.moves, h.settings = nil, nil, nil, nil
		h.rebuild()
		return "the new tune-up", nil
	case DoEdit:
		if c.Section == nil {
			return "", errors.New("hub: edit without a section, need one")
		}
		return "the change of the set-up", h.edit(*c.Section)
	case DoMoves:
		if run == nil {
			return "", errNoRound
		}
		if run.Room == "" {
			return "", errors.New("hub: no moves are held back")
		}
		h.movesAnyway(run)
		return "giving the moves", nil
	}
	if name, mine, err := h.actOnPiece(c); mine {
		return name, err
	}
	return h.actOnChair(c, run)
}

var errNoRound = errors.New("hub: no round is running; call a note first")

// actOnChair carries out a command about one chair.
func (h *Hub) actOnChair(c Command, run *Round) (name string, err error) {
	ch := h.chair(c.Chair)
	if ch == nil {
		return "", fmt.Errorf("hub: %s for chair %d: %w", c.Do, c.Chair, ErrNotFound)
	}
	who := h.called(ch.ID)
	switch c.Do {
	case DoSkip:
		if run == nil {
			return "", errNoRound
		}
		run.leave(c.Chair)
		h.saveRound()
		return "skipping " + who, nil
	case DoAbsent, DoPresent:
		ch.Absent = c.Do == DoAbsent
		h.saveChair(ch)
		if !ch.Absent {
			h.arrive(ch.ID)
			h.saveRound()
			return who + " present", nil
		}
		return who + " absent", nil
	case DoSeat:
		if err := checkSeat(c.SeatRow, c.Place); err != nil {
			return "", err
		}
		h.reseat(ch, c.SeatRow, c.Place)
		return "moving " + who, nil
	case DoSetting:
		_, err := h.setSlide(ch, proto.Setting{Slide: c.Slide, MM: c.MM}, sourceLeader)
		return "the moved slide of " + who, err
	case DoTone:
		if run == nil {
			return "", errNoRound
		}
		if run.listening() {
			return "", errors.New("hub: choose the chord first; then every note can be changed")
		}
		if c.Note < pitch.MinNote || c.Note > pitch.MaxNote {
			return "", fmt.Errorf("hub: note %d for %s, need %d to %d", c.Note, who, pitch.MinNote, pitch.MaxNote)
		}
		run.Call.Tones[c.Chair] = c.Note
		delete(run.Call.Ways, c.Chair)
		h.reask(run, c.Chair)
		return "the note of " + who, nil
	case DoWay:
		if run == nil {
			return "", errNoRound
		}
		return "the fingering of " + who, h.setWay(run, ch, c.Name)
	case DoRemove:
		h.remove(c.Chair)
		return "removing " + who, nil
	}
	return "", fmt.Errorf("hub: command %q is not known", c.Do)
}

// reseat moves a chair; who sits there takes the place it leaves.
func (h *Hub) reseat(ch *Chair, row, place int) {
	for i := range h.section.Chairs {
		if o := &h.section.Chairs[i]; o.ID != ch.ID && o.Row == row && o.Place == place {
			o.Row, o.Place = ch.Row, ch.Place
			h.saveChair(o)
		}
	}
	ch.Row, ch.Place = row, place
	h.saveChair(ch)
}

// again asks one chair, or all that are not set, for the same call.
func (h *Hub) again(id ChairID) error {
	if len(h.rounds) == 0 {
		return errNoRound
	}
	last := h.rounds[len(h.rounds)-1]
	if last.listening() {
		if run := h.running(); run != nil && id != 0 && !run.allAtOnce() {
			return h.listenAgain(run, id)
		}
		return h.call(listenCall(), nil)
	}
	// One tone of a chord is judged with the others as they were heard, even
	// after all were.
	inChord := last.Call.Kind == CallChord
	if run := h.running(); run != nil && id != 0 && (inChord || !h.done(run)) && !run.allAtOnce() {
		if _, in := run.Call.Tones[id]; !in {
			return fmt.Errorf("hub: again for chair %d, which is not in this round", id)
		}
		h.reask(run, id)
		return nil
	}
	if inChord && id == 0 {
		return h.call(last.Call, nil) // a chord sounds only whole
	}
	only := []ChairID{id}
	if id == 0 {
		only = h.notSet()
	}
	if len(only) == 0 {
		return errors.New("hub: again, but all who are here are set")
	}
	c := last.Call
	c.Together = c.Together && len(only) > 1
	if err := h.call(c, only); err != nil {
		return err
	}
	h.running().Again = true
	h.saveRound()
	return nil
}

// reask lets a chair play once more in the running round, as the next one.
func (h *Hub) reask(run *Round, id ChairID) {
	run.leave(id)
	run.Queue = slices.Insert(run.Queue, 0, id)
	h.current = 0
	if s := h.seats[id]; s != nil && s.inRound != nil {
		run.askAnew(id, s.inRound.ID)
		if r := s.inRound; r.Why == whyGathering {
			r.Why = whyLate // what the others are waited for with is the new note
			h.saveReading(r)
		}
	}
	h.rebuild()
	h.saveRound()
}

// askAnew lets a chair's turn in this round begin anew after a reading.
func (r *Round) askAnew(id ChairID, reading int64) {
	if r.After == nil {
		r.After = map[ChairID]int64{}
	}
	r.After[id] = reading
}

// notSet lists the chairs that are here and whose last reading is not in the band.
func (h *Hub) notSet() []ChairID {
	var ids []ChairID
	for _, c := range h.section.Chairs {
		s := h.seats[c.ID]
		if c.Absent || s.last() != nil && s.last().Verdict == intonation.Set {
			continue
		}
		ids = append(ids, c.ID)
	}
	return ids
}

// next leaves the present chair; in a together round, all that were not heard.
func (h *Hub) next(run *Round) error {
	if run.allAtOnce() {
		run.Queue = nil
		h.saveRound()
		return nil
	}
	id := h.turn()
	if id == 0 {
		run.Queue = nil // only absent ones were left
	}
	run.leave(id)
	h.saveRound()
	return nil
}

// remove takes a chair out of the section.
func (h *Hub) remove(id ChairID) {
	h.section.Chairs = slices.DeleteFunc(h.section.Chairs, func(c Chair) bool { return c.ID == id })
	if run := h.running(); run != nil {
		run.leave(id)
		delete(run.Call.Tones, id)
		h.saveRound()
	}
	h.dropSeat(id)
	h.saveSection()
}

// dropSeat ends what a chair's node follows.
func (h *Hub) dropSeat(id ChairID) {
	if s := h.seats[id]; s != nil {
		for f := range s.feeds {
			f.end()
		}
		delete(h.seats, id)
	}
}

// edit replaces the set-up; chairs are matched by ID.
func (h *Hub) edit(s Section) error {
	if err := s.check(); err != nil {
		return err
	}
	s = s.Clone()
	s.Name = strings.TrimSpace(s.Name)
	s.ID = h.section.ID
	keep := map[ChairID]bool{}
	for i := range s.Chairs {
		c := &s.Chairs[i]
		if h.seats[c.ID] == nil {
			c.ID = ChairID(h.newID())
			h.seats[c.ID] = newSeat(c.ID)
		}
		if c.Label == "" {
			c.Label = labelFor(s, c.Instrument)
		}
		keep[c.ID] = true
	}
	for _, c := range slices.Clone(h.section.Chairs) {
		if !keep[c.ID] {
			h.remove(c.ID)
		}
	}
	before := h.section
	h.section = s
	h.rebuild()
	h.saveSection() // before the settings of its new chairs
	for i := range s.Chairs {
		h.noteSettings(before, &s.Chairs[i])
	}
	return nil
}

// noteSettings records where the leader says that slides stand.
func (h *Hub) noteSettings(before Section, c *Chair) {
	var was instrument.Settings
	for _, old := range before.Chairs {
		if old.ID == c.ID {
			was = old.Settings
		}
	}
	for id, mm := range c.Settings {
		if old, known := was[id]; !known || old != mm {
			h.setting(c, SettingRecord{At: h.now(), Slide: id, MM: mm, Source: sourceLeader})
		}
	}
}

// openSaved opens another saved section.
func (h *Hub) openSaved(ctx context.Context, name string) error {
	if name == "" {
		return errors.New("hub: open without a name, need one")
	}
	h.flushLogged(ctx)
	s, err := h.named(ctx, name)
	if err != nil || s.ID == h.Section().ID {
		return err
	}
	l, err := h.load(ctx, s)
	if err != nil {
		return err
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	for _, s := range h.seats {
		for f := range s.feeds {
			f.end()
		}
	}
	h.open(l)
	h.saveSection() // used last
	h.touch()
	return nil
}
