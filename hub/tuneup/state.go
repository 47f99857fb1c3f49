package tuneup

import (
	"slices"
	"time"

	"bellrow/hub"
	"bellrow/hub/intonation"
	"bellrow/proto/instrument"
)

// State is a section in the midst of a tune-up. It is not safe for concurrent
// use, and knows no clock but the times that it is given.
//
// The facts are the truth, and what is stored. What is known of each seat is
// derived from them (derive) and from who is connected. The moment is what a
// restart may forget: whose turn it was, and how long the note before may ring.
type State struct {
	facts
	moment
	seats   map[hub.ChairID]*seat
	past    map[hub.ChairID]earlier
	knownAt map[string]hub.ChairID // where nodes sat since the hub's start
	undo    []undoStep
	ways    map[played]way
	// believed follows the facts by itself: see believe.
	believed believed

	// Of the step under way: its time, what the facts were, what changed that
	// no list of them shows, and what it tells besides.
	at      time.Time
	was     facts
	more    []hub.Change
	revised bool // a reading was, so that turns and the like may be others
	out     Outcome
}

// moment is what holds just now and is not on record.
type moment struct {
	asked     []hub.ChairID  // whose turn it is, of those in group who were not heard in it yet; see nextTurn
	group     []hub.ChairID  // who play at once in this turn: one, or some whose notes can be told apart
	askedAt   time.Time      // since when
	resumed   time.Time      // the hub started in the midst of a round, and waits for whose turn it was; see resuming
	rings     []hub.ChairID  // played last, and may still sound; see ringing
	allRing   bool           // the whole row played last
	apart     time.Time      // when the last notes had ended that many played at once; zero = unknown
	alone     []hub.ChairID  // were not told from who played at the same time: to be heard by themselves
	window    window         // in which a together round's readings gather
	strays    []*hub.Reading // notes of the last seconds that were not asked for
	trackedAt time.Time      // when the last tracks of a row came
	judgement *intonation.Judgement
}

// New takes a section up where its records end. at is now; the chairs' nodes
// will be back in a moment. The records become the state's own.
func New(r Records, at time.Time) (*State, Outcome) {
	begun := r.begun(at)
	kept, anew := r.tuneUp(begun, at)
	s := &State{ways: map[played]way{}, knownAt: map[string]hub.ChairID{}, seats: map[hub.ChairID]*seat{}, at: at}
	s.facts, s.past = kept.facts(begun), r.earlier(begun)
	s.was = s.picture()
	if anew {
		s.begun = Beginning{at, s.ids.next}
		s.rounds, s.readings, s.moves, s.settings, s.watching = nil, nil, nil, nil, time.Time{}
		s.past = r.earlier(s.begun)
	}
	for _, c := range s.chairs {
		s.seats[c.ID] = &seat{chair: c, device: device{left: at}}
	}
	s.derive()
	s.restoreMoves()
	s.resumeWindow()
	if run := s.running(); run != nil {
		s.resumed = at
		s.judgeChord(run)
	}
	return s, s.close()
}

// seat is what is known of a chair at this moment.
type seat struct {
	chair *hub.Chair
	device
	heard
}

// ID is the chair's.
func (s *seat) id() hub.ChairID { return s.chair.ID }

// last is the last counted reading of this tune-up, nil when none.
func (h *heard) last() *hub.Reading {
	if len(h.counted) == 0 {
		return nil
	}
	return h.counted[len(h.counted)-1]
}

// setChair puts a chair's new record in the place of the old one.
func (s *State) setChair(c *hub.Chair) {
	i := slices.IndexFunc(s.chairs, func(o *hub.Chair) bool { return o.ID == c.ID })
	s.chairs[i] = c
	s.seats[c.ID].chair = c
}

// changeChair changes a chair's record.
func (s *State) changeChair(id hub.ChairID, change func(*hub.Chair)) {
	c := s.seats[id].chair.Clone()
	change(&c)
	s.setChair(&c)
}

// addChair seats a new chair at the end of the section's list.
func (s *State) addChair(c hub.Chair) *seat {
	s.chairs = append(s.chairs, &c)
	st := &seat{chair: &c}
	s.seats[c.ID] = st
	return st
}

// revise gives a reading that is on record a new record to be changed.
func (s *State) revise(old *hub.Reading) *hub.Reading {
	i := slices.Index(s.readings, old)
	if i < 0 {
		return old // taken in by this very step
	}
	r := old.Clone()
	s.readings[i], s.revised = &r, true
	if st := s.seats[r.Chair]; st != nil {
		if st.inRound == old {
			st.inRound = &r
		}
		if k := slices.Index(st.counted, old); k >= 0 {
			st.counted[k] = &r
		}
	}
	return &r
}

// changeMove changes a move's record.
func (s *State) changeMove(old *hub.MoveRecord, change func(*hub.MoveRecord)) {
	m := *old
	change(&m)
	s.moves[slices.Index(s.moves, old)] = &m
	if st := s.seats[m.Chair]; st != nil && st.ofNow(m.ID) {
		st.moves[slices.Index(st.moves, old)] = &m
	}
}

// addMove enters a new move.
func (s *State) addMove(m hub.MoveRecord) {
	m.ID = s.newID()
	s.moves = append(s.moves, &m)
	if st := s.seats[m.Chair]; st != nil {
		st.moves = append(st.moves, &m)
	}
}

// instrument is the chair's, nil when it has none that is known.
func (s *seat) instrument() *instrument.Instrument {
	in, err := instrument.Find(s.chair.Instrument)
	if err != nil {
		return nil
	}
	return in
}
