package tuneup

import (
	"reflect"
	"slices"
	"time"

	"bellrow/hub"
)

// undoStep is what a command did, as far as it can be taken back.
type undoStep struct {
	command hub.Command
	who     hub.Chair // the chair it was about, as it was
	was, is facts     // before and after it
	asked   []hub.ChairID
	named   []hub.ChairID // who were told to be next
	nextID  int64         // what has this number or a later one came since
}

// maxUndo is how many commands can be taken back: more than anybody
// remembers, few enough to forget.
const maxUndo = 20

// undoable notes how things stand before a command.
func (s *State) undoable(c hub.Command) undoStep {
	step := undoStep{command: c, was: s.was, asked: s.asked, named: s.believed.named, nextID: s.ids.next}
	if st := s.seats[c.Chair]; st != nil {
		step.who = *st.chair
	}
	return step
}

// keep notes what a command has done.
func (s *State) keep(step undoStep) {
	step.is = s.picture()
	if run := step.is.running(); run != nil { // still to be changed in this step
		r := run.Clone()
		step.is.rounds[len(step.is.rounds)-1] = &r
	}
	s.undo = append(s.undo, step)
	s.undo = slices.Delete(s.undo, 0, max(0, len(s.undo)-maxUndo))
}

// takeBack undoes the last command: what it changed goes back where it still
// holds. What players did since stays: whoever was heard stays heard, who
// joined stays, and slides stand where players put them.
func (s *State) takeBack() error {
	n := len(s.undo)
	if n == 0 {
		return refuse("refusal.no-undo")
	}
	step := s.undo[n-1]
	s.undo = slices.Delete(s.undo, n-1, n)
	s.takeBackSetup(step)
	s.takeBackRounds(step)
	for _, c := range slices.Clone(s.chairs) {
		was, is := step.was.chair(c.ID), step.is.chair(c.ID)
		if was != nil && is != nil && was.Instrument != is.Instrument && c.Instrument == was.Instrument && s.heardSince(c.ID, is.Since) {
			s.changeChair(c.ID, func(c *hub.Chair) { c.Since = s.ids.next }) // what was heard was the other instrument
		}
	}
	s.takeBackAnswers(step)
	if step.was.piece != step.is.piece && s.piece == step.is.piece {
		s.piece = step.was.piece
	}
	if !step.was.watching.Equal(step.is.watching) {
		s.watching = step.was.watching
	}
	if step.was.begun != step.is.begun {
		s.begun = step.was.begun
		s.readings = append(slices.Clone(step.was.readings), s.readings...)
		s.moves = append(slices.Clone(step.was.moves), s.moves...)
		s.settings = append(slices.Clone(step.was.settings), s.settings...)
	}
	run := s.running()
	if step.command.Do == hub.DoChoose && run != nil {
		s.unchoose(run.ID)
	}
	s.judgement = nil
	if run == nil || run.ID != s.window.round || !allAtOnce(run) {
		s.window = window{}
	}
	s.derive()
	for _, c := range s.chairs {
		was, is := step.was.chair(c.ID), step.is.chair(c.ID)
		if st := s.seats[c.ID]; was != nil && is != nil && c.Since != was.Since && c.Since != is.Since && st.inRound == nil {
			s.askOther(st) // the round was of the instrument before
		}
	}
	if step.command.Do == hub.DoSetting {
		s.slideBack(step)
	}
	gone := func(id hub.ChairID) bool { return !slices.Contains(run.Queue, id) || !s.here(id) }
	if run != nil && len(step.asked) > 0 && !slices.ContainsFunc(step.asked, gone) {
		s.asked, s.group = step.asked, step.asked
	}
	s.believed.named = step.named
	for _, c := range s.chairs { // who came since
		if !s.seats[c.ID].away() {
			s.arrive(c.ID)
		}
	}
	if !s.window.open() {
		s.resumeWindow()
	}
	return nil
}

// takeBackSetup puts the section and its chairs back: all that the command
// changed of them but where slides stand.
func (s *State) takeBackSetup(step undoStep) {
	if step.was.section != step.is.section {
		section := s.section.Clone()
		revert(&section, *step.was.section, *step.is.section)
		s.section = &section
	}
	var chairs []*hub.Chair
	for _, was := range step.was.chairs {
		is, now := step.is.chair(was.ID), s.chair(was.ID)
		switch {
		case now == nil && is == nil: // the command took it out
			s.seats[was.ID] = &seat{chair: was}
			now = was
		case now == nil:
			continue // taken out since
		case is != nil && is != was:
			c, old := now.Clone(), was.Clone()
			if is.Instrument == was.Instrument {
				old.Settings, old.Travel = is.Settings, is.Travel
			}
			revert(&c, old, *is)
			now = &c
			s.seats[c.ID].chair = now
		}
		chairs = append(chairs, now)
	}
	for _, now := range s.chairs {
		if step.was.chair(now.ID) != nil {
			continue
		}
		if step.is.chair(now.ID) != nil && s.seats[now.ID].away() { // the command brought it in
			delete(s.seats, now.ID)
			continue
		}
		chairs = append(chairs, now)
	}
	s.chairs = chairs
}

// takeBackRounds puts rounds back. One that the command began is void, and the
// moves handed out in it are taken back.
func (s *State) takeBackRounds(step undoStep) {
	var rounds []*hub.Round
	for _, was := range step.was.rounds {
		is, now := step.is.round(was.ID), s.round(was.ID)
		r := was.Clone()
		if now != nil && is != nil {
			r = now.Clone()
			revert(&r, *was, *is)
			r.Queue = s.queueBack(r, was.Queue, is.Queue, step.nextID)
			if r.Ended.IsZero() && !s.playedSince(r.ID, step.nextID) {
				r.Ended = was.Ended // that it went on is no end of its own
			}
		}
		for id := range r.Call.Tones {
			if s.chair(id) == nil {
				leave(&r, id)
			}
		}
		rounds = append(rounds, &r)
	}
	for _, now := range s.rounds {
		if step.was.round(now.ID) == nil {
			r := now.Clone()
			r.Void = true
			s.put(hub.RoundChange{Was: now, Is: &r})
			s.withdraw(r.ID)
		}
	}
	s.rounds = rounds
}

// queueBack is a round's queue without what a command did to it. Whoever was
// heard since stays heard.
func (s *State) queueBack(now hub.Round, was, is []hub.ChairID, nextID int64) []hub.ChairID {
	heard := func(id hub.ChairID) bool {
		return slices.ContainsFunc(s.readings, func(r *hub.Reading) bool {
			return r.Chair == id && r.Round == now.ID && r.ID >= nextID && (r.Counted || r.Why == hub.WhyListen)
		})
	}
	var queue []hub.ChairID
	for _, id := range was {
		waits, taken := slices.Contains(now.Queue, id), !slices.Contains(is, id)
		if waits || taken && !heard(id) {
			queue = append(queue, id)
		}
	}
	for _, id := range now.Queue {
		if !slices.Contains(was, id) && !slices.Contains(is, id) {
			queue = append(queue, id) // came since
		}
	}
	return queue
}

// playedSince reports whether a note of a round came since a number was given.
func (s *State) playedSince(round hub.RoundID, nextID int64) bool {
	return slices.ContainsFunc(s.readings, func(r *hub.Reading) bool { return r.Round == round && r.ID >= nextID })
}

// heardSince reports whether a note of a chair came since a number was given.
func (s *State) heardSince(chair hub.ChairID, id int64) bool {
	return slices.ContainsFunc(s.readings, func(r *hub.Reading) bool { return r.Chair == chair && r.ID >= id })
}

// takeBackAnswers puts back what players were answered, and takes back the
// moves that the command gave.
func (s *State) takeBackAnswers(step undoStep) {
	for _, c := range step.is.changes(&step.was, nil) {
		switch c := c.(type) {
		case hub.ReadingChange:
			i := slices.IndexFunc(s.readings, func(r *hub.Reading) bool { return r == c.Is })
			if c.Was == nil || i < 0 {
				continue
			}
			r := c.Was.Clone()
			if r.Answer != nil {
				r.Answer.ID = s.newID() // so that the page shows it anew
			}
			s.readings[i] = &r
		case hub.MoveChange:
			if i := slices.Index(s.moves, c.Is); c.Was == nil && i >= 0 && isOpen(c.Is) {
				m := *c.Is
				m.Withdrawn = true
				s.moves[i] = &m
			}
		}
	}
}

// slideBack takes back the leader's word that a slide was moved, unless it was
// moved again since: it stands where it stood, and its move is open. A move
// that was heard since stays made.
func (s *State) slideBack(step undoStep) {
	st, id := s.seats[step.command.Chair], step.command.Slide
	if st == nil || st.chair.Settings[id] != step.command.MM {
		return
	}
	in, was := st.instrument(), step.was.chair(st.id())
	if in == nil || was == nil {
		return
	}
	s.slideStands(st, hub.SettingRecord{At: s.at, Slide: id, MM: in.MM(was.Settings, id), Source: hub.SourceLeader})
	for _, old := range step.was.moves {
		i := slices.IndexFunc(s.moves, func(m *hub.MoveRecord) bool { return m.ID == old.ID })
		if old.Chair == st.id() && i >= 0 && s.moves[i] != old && s.moves[i].FollowThrough == "" {
			s.changeMove(s.moves[i], func(m *hub.MoveRecord) { *m = *old })
		}
	}
}

// revert puts every field of now, and every entry of its maps, that differs
// between was and is and still is as in is back to what it was. The queue of a
// round is left alone: see queueBack.
func revert[T any](now *T, was, is T) {
	revertValue(reflect.ValueOf(now).Elem(), reflect.ValueOf(was), reflect.ValueOf(is))
}

func revertValue(now, was, is reflect.Value) {
	if reflect.DeepEqual(was.Interface(), is.Interface()) {
		return
	}
	switch {
	case now.Kind() == reflect.Struct && now.Type() != reflect.TypeFor[time.Time]():
		for i := range now.NumField() {
			if now.Type().Field(i).Name != "Queue" {
				revertValue(now.Field(i), was.Field(i), is.Field(i))
			}
		}
	case now.Kind() == reflect.Map:
		for _, k := range append(was.MapKeys(), is.MapKeys()...) {
			before, after, present := was.MapIndex(k), is.MapIndex(k), now.MapIndex(k)
			if same(before, after) || !same(present, after) {
				continue
			}
			if now.IsNil() {
				now.Set(reflect.MakeMap(now.Type()))
			}
			now.SetMapIndex(k, before) // the zero Value deletes
		}
	case reflect.DeepEqual(now.Interface(), is.Interface()):
		now.Set(was)
	}
}

// same compares two map entries, either of which may be missing.
func same(a, b reflect.Value) bool {
	if !a.IsValid() || !b.IsValid() {
		return a.IsValid() == b.IsValid()
	}
	return reflect.DeepEqual(a.Interface(), b.Interface())
}
