package tuneup

import (
	"fmt"
	"time"

	"bellrow/hub"
	"bellrow/hub/slide"
	"bellrow/proto"
	"bellrow/proto/pitch"
)

var errNoRound = refuse("refusal.no-round")

// step carries out what the leader asks for. It can be undone, unless it is an
// undo.
func (e Command) step(s *State) error {
	c := hub.Command(e)
	if c.Do == hub.DoUndo {
		return s.takeBack()
	}
	step := s.undoable(c)
	if err := s.act(c); err != nil {
		return err
	}
	s.keep(step)
	return nil
}

// act carries out one command.
func (s *State) act(c hub.Command) error {
	run := s.running()
	switch c.Do {
	case hub.DoCall:
		if c.Call == nil {
			return nonsense("tuneup: call without a note or chord, need one")
		}
		return s.call(*c.Call, nil)
	case hub.DoAgain:
		return s.again(c.Chair)
	case hub.DoBend:
		return s.callBend()
	case hub.DoListen:
		return s.call(listenCall(), nil)
	case hub.DoChoose:
		return s.choose(run, c.Name)
	case hub.DoWatch:
		if !s.watching.IsZero() {
			return refuse("refusal.watched")
		}
		s.closeRound(run)
		s.watching = s.at
		return nil
	case hub.DoEnd:
		if s.watching.IsZero() && run == nil {
			return errNoRound
		}
		if !s.watching.IsZero() {
			s.watching = time.Time{}
			return nil
		}
		s.closeRound(run)
		return nil
	case hub.DoFresh:
		s.beginAnew()
		return nil
	case hub.DoEdit:
		if c.Section == nil {
			return nonsense("tuneup: edit without a section, need one")
		}
		return s.edit(*c.Section)
	case hub.DoPart, hub.DoPartFor, hub.DoSonority, hub.DoNextSonority, hub.DoDropPiece:
		return s.actOnPiece(c)
	case hub.DoNext, hub.DoMoves, hub.DoWarmUp, hub.DoAllMove, hub.DoFollow, hub.DoHearAgain:
		if run == nil {
			return errNoRound
		}
		return s.actOnRound(c.Do, run)
	}
	return s.actOnChair(c, run)
}

// actOnRound carries out what needs a running round and no more.
func (s *State) actOnRound(do string, run *hub.Round) error {
	switch do {
	case hub.DoNext:
		s.passOver(run)
		return nil
	case hub.DoMoves:
		return s.movesAnyway(run)
	}
	return s.decide(run, slide.Deed(do))
}

// actOnChair carries out a command about one chair.
func (s *State) actOnChair(c hub.Command, run *hub.Round) error {
	st := s.seats[c.Chair]
	if st == nil {
		return fmt.Errorf("tuneup: %s for chair %d: %w", c.Do, c.Chair, hub.ErrNotFound)
	}
	switch c.Do {
	case hub.DoAbsent, hub.DoPresent:
		s.changeChair(c.Chair, func(ch *hub.Chair) { ch.Absent = c.Do == hub.DoAbsent })
		s.arrive(c.Chair)
		return nil
	case hub.DoSeat:
		return s.reseat(st.chair, c.SeatRow, c.Place)
	case hub.DoSetting:
		return s.setSlide(st, proto.Setting{Slide: c.Slide, MM: c.MM}, hub.SourceLeader)
	case hub.DoRemove:
		s.remove(c.Chair)
		return nil
	case hub.DoSkip, hub.DoTone, hub.DoFingering:
		if run == nil {
			return errNoRound
		}
		switch c.Do {
		case hub.DoTone:
			return s.changeTone(run, c.Chair, c.Note)
		case hub.DoFingering:
			return s.changeFingering(run, st, c.Name)
		}
		pass(run, c.Chair)
		return nil
	}
	return nonsense("tuneup: command %q is not known", c.Do)
}

// changeTone lets a chair play another note in the running round.
func (s *State) changeTone(run *hub.Round, id hub.ChairID, n pitch.Note) error {
	if listening(run) {
		return refuse("refusal.choose-first")
	}
	if n < pitch.MinNote || n > pitch.MaxNote {
		return nonsense("tuneup: note %d for %s, need %d to %d", n, s.called(id), pitch.MinNote, pitch.MaxNote)
	}
	give(run, id, n, "")
	delete(run.Call.Several, id)
	s.askAgain(run, id)
	return nil
}

// passOver leaves the present chair; in a together round, all that were not
// heard.
func (s *State) passOver(run *hub.Round) {
	switch {
	case allAtOnce(run) && len(run.Groups) > 0:
		for _, id := range run.Groups[0] {
			leave(run, id)
		}
		return
	case allAtOnce(run) || len(s.asked) == 0: // only absent ones were left
		run.Queue = nil
		return
	}
	for _, id := range s.asked {
		pass(run, id)
	}
}

// beginAnew begins a new tune-up.
func (s *State) beginAnew() {
	if run := s.running(); run != nil {
		s.closeRound(run)
		s.put(hub.RoundChange{Is: run}) // it leaves the lists
	}
	s.begun = Beginning{s.at, s.ids.next}
	s.rounds, s.readings, s.moves, s.settings = nil, nil, nil, nil
	s.judgement = nil
	s.derive()
}

// closeRound ends a round for good; nil is none.
func (s *State) closeRound(run *hub.Round) {
	if run == nil {
		return
	}
	run.Closed = true
	if run.Ended.IsZero() {
		run.Ended = s.at
	}
	s.retake()
}

// called is how errors and judgements call a chair: by its label alone where
// names are hidden, for the wall shows them too.
func (s *State) called(id hub.ChairID) string { return s.section.Called(*s.seats[id].chair) }
