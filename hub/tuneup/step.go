package tuneup

import (
	"maps"
	"slices"
	"time"

	"bellrow/hub"
	"bellrow/hub/attribute"
	"bellrow/hub/ensemble"
	"bellrow/hub/piece"
	"bellrow/proto"
	"bellrow/proto/track"
)

// Event is one thing that happened, of one of the types below. What is wrong with it
// is found before anything is changed.
type Event interface {
	step(*State) error
}

// The events.
type (
	// Command is what the leader asks for. Opening another section is none of
	// a State's.
	Command hub.Command
	// Reading is a note that came from a chair's laptop, each once.
	Reading struct {
		Chair      hub.ChairID
		Node, Boot string
		Wire       proto.Reading
	}
	// Joined is a node that asks for a chair. Known is what is on record of the
	// node, the zero value for nothing.
	Joined struct {
		Peer  hub.Peer
		Known hub.NodeRecord
	}
	// Left is the end of a node's connection. It is nothing if another node
	// holds the chair by now.
	Left struct {
		Chair hub.ChairID
		Node  string
	}
	// Sound is what a chair's listener hears.
	Sound struct {
		Chair hub.ChairID
		State proto.State
	}
	// Setting is where a player says that a slide stands.
	Setting struct {
		Chair hub.ChairID
		Set   proto.Setting
	}
	// Ping is a node's own estimate of its clock against the hub's.
	Ping struct {
		Chair hub.ChairID
		Ping  proto.Ping
	}
	// Track is a stretch of a chair's partial tracks.
	Track struct {
		Chair hub.ChairID
		Chunk track.Chunk
	}
	// Fitted answers Outcome.Fit.
	Fitted struct {
		Round  hub.RoundID
		Result attribute.Result
	}
	// Opened is a piece that was read, with nobody on its parts yet.
	Opened struct{ Piece *piece.Piece }
	// Erased takes a player out with all that is known of them. It cannot be
	// undone.
	Erased struct{ Chair hub.ChairID }
	// Tick is time that went by; see Outcome.Wake.
	Tick struct{}
)

// Outcome is what one step has led to.
type Outcome struct {
	// Changes are to be committed as one, in this order, after those of the
	// steps before.
	Changes []hub.Change
	// Wake is when a Tick is due, the zero time for never. It takes the place
	// of the Wake of every step before.
	Wake time.Time
	// Fit, if not nil, is to be solved in good time, and given back as Fitted.
	Fit *Fit
	// Seen is who can see a difference.
	Seen Seen
	// Joined answers a Joined.
	Joined hub.Joined
}

// Fit is a together round whose notes have gathered.
type Fit struct {
	Round hub.RoundID
	ensemble.Input
}

// Seen tells who can see a difference after a step, at most.
type Seen int

// Who can see one.
const (
	Nobody   Seen = iota
	Leader        // the pages alone
	Everyone      // and every player
)

// Step takes an event in. at is the only clock: it is the time of the event,
// not before that of the last, unless the laptop's clock was set. After an error
// nothing has changed.
func (s *State) Step(at time.Time, e Event) (Outcome, error) {
	if quiet, ok := e.(interface{ stepQuietly(*State) }); ok {
		s.at = at
		quiet.stepQuietly(s)
		return Outcome{Wake: s.wake()}, nil
	}
	s.begin(at)
	if _, sound := e.(Sound); !sound {
		s.believed.stale = true
	}
	if err := e.step(s); err != nil {
		s.facts = s.was // without the copy that begin has made
		return Outcome{Wake: s.wake()}, err
	}
	s.settle()
	return s.close(), nil
}

// begin opens a step. The running round is copied, so that it can be changed.
func (s *State) begin(at time.Time) {
	s.at, s.more, s.revised, s.out = at, nil, false, Outcome{Seen: Everyone}
	s.was = s.picture()
	s.own()
}

// own gives the running round a record that this step may change.
func (s *State) own() {
	if run := s.running(); run != nil {
		r := run.Clone()
		s.rounds[len(s.rounds)-1] = &r
	}
}

// close ends a step with what it has led to.
func (s *State) close() Outcome {
	s.facts.settle(&s.was)
	s.out.Changes = s.facts.changes(&s.was, s.more)
	s.out.Wake = s.wake()
	return s.out
}

// settle draws the consequences of whatever happened, time included. It is the
// one place where a round is found done and a turn moves on.
func (s *State) settle() {
	if run := s.running(); run != nil {
		s.endBend(run)
		s.findRoom(run)
		s.judgeChord(run)
		s.nextGroup(run)
		s.schedule(run)
		s.endRound(run)
	}
	if s.revised {
		s.retake()
	}
	s.nextTurn()
	s.nameNext(s.running())
	s.findDeaf()
	s.closeWindow()
}

// endRound notes the end of the running round, or that it goes on after all.
func (s *State) endRound(run *hub.Round) {
	done := s.done(run, s.at)
	switch {
	case done && run.Ended.IsZero():
		run.Ended = s.at
		if s.byWorth(run) {
			run.Passed = slices.Sorted(maps.Keys(run.Call.Tones))
		}
	case !done && !run.Ended.IsZero():
		run.Ended = time.Time{} // somebody came late
	}
}

// put adds a change that the lists of facts do not show.
func (s *State) put(c hub.Change) { s.more = append(s.more, c) }

// wake is when time alone changes something.
func (s *State) wake() time.Time {
	var at time.Time
	sooner := func(t time.Time) {
		if !t.IsZero() && (at.IsZero() || t.Before(at)) {
			at = t
		}
	}
	if s.window.open() && !s.window.fitting {
		sooner(s.window.deadline)
	}
	sooner(s.ringing(s.at))
	sooner(s.rested())
	if doubted := s.askedAt.Add(deafAfter); len(s.asked) > 0 && doubted.After(s.at) {
		sooner(doubted)
	}
	if run := s.running(); run != nil && run.Ended.IsZero() {
		if bending(run) {
			_, until := cueAt(run, s.at)
			sooner(until)
		}
		for _, id := range run.Queue {
			if !s.here(id) && s.expected(id, s.at) {
				sooner(s.seats[id].left.Add(awayGrace))
			}
		}
	}
	return at
}

func (Tick) step(s *State) error {
	s.out.Seen = Nobody
	was, turn := s.running(), s.moment
	if was == nil {
		return nil
	}
	ended, deaf := was.Ended, s.deaf()
	s.settle()
	if s.out.Fit != nil || deaf != s.deaf() || !was.Ended.Equal(ended) || !s.moment.sameTurn(turn) {
		s.out.Seen = Everyone
	} else if bending(was) && was.Ended.IsZero() {
		s.out.Seen = Leader // the next cue
	}
	return nil
}
