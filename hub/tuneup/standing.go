package tuneup

import (
	"slices"
	"time"

	"bellrow/hub"
	"bellrow/hub/intonation"
	"bellrow/hub/piece"
	"bellrow/hub/slide"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// Standing is how things stand at a moment, all that anybody is shown of them,
// in facts and figures. It shares records with the State, which never change
// them, and must not be changed.
type Standing struct {
	Section  *hub.Section
	Watching bool // the section rehearses; nothing is called
	// Watched is for how long it has been watched, while Watching.
	Watched time.Duration
	WarmUp  bool // the leader ended the last round so that all play warm
	Rounds  int  // called in this tune-up
	Used    time.Duration
	Round   *Round // the running one, nil for none
	Chairs  []Chair
	Common  intonation.Together // what the tuning notes that still hold have in common
	Present int                 // chairs not absent
	Set     int                 // within the band
	Heard   int                 // with a reading in this round
	Undo    *Undone             // what an undo takes back, nil for nothing
	Piece   *piece.Piece        // nil when none is open
}

// Undone is a command that can be taken back, and the chair it was about.
type Undone struct {
	Do  string // hub.Do…, or "piece" for the opening of one
	Who hub.Chair
	// Watched tells, of an end, that a watch was ended.
	Watched bool
}

// Phase is where a running round stands.
type Phase int

// The phases.
const (
	Together Phase = iota // all in the queue are asked at once
	Turns                 // one is asked after the other
	Waits                 // nobody is asked: a laptop may be back in a moment
	Rests                 // nobody is asked: whose note would tell more has to rest first
	Done                  // all who are here were heard
)

// Round is the running round.
type Round struct {
	*hub.Round
	Phase Phase
	// AsOne is set while moves are held back because the whole section is off.
	AsOne bool
	// Asked is whose turn it is, 0 for nobody, and Beside who play at the same
	// time; Awaited whose laptop the round waits for, or who has to rest first.
	Asked   hub.ChairID
	Beside  []hub.ChairID
	Awaited hub.ChairID
	// ByWorth is set where notes are asked for by what they tell. Next are then who
	// were told to be next, and Twice says that who is asked played last, too.
	// Doubtful may still be outside the band, and Outside is how many of those
	// heard are expected to be: for the leader only.
	ByWorth  bool
	Next     []hub.ChairID
	Twice    bool
	Doubtful []hub.ChairID
	Outside  float64
	// Here counts the chairs of a together round that are here, Gathered those
	// of them whose note is in.
	Here, Gathered int
	// Judgement of a chord that was heard whole, nil before.
	Judgement *intonation.Judgement
	// Chords is what the players hold in a listening round that is done.
	Chords Chords
	// Choices are what the section can do about it, while AsOne.
	Choices slide.AsOne
	// Bend is where a bend study stands, nil outside of one.
	Bend *Bend
	// Tracks is the frequency around whose multiples laptops listen together.
	Tracks pitch.Hertz
	// Last is the last reading of the round that counted.
	Last *hub.Reading
}

// Listening reports whether the chord is still to be found.
func (r *Round) Listening() bool { return listening(r.Round) }

// AllAtOnce reports whether the queue plays together now.
func (r *Round) AllAtOnce() bool { return allAtOnce(r.Round) }

// ChairState is where a chair stands, laptop or not.
type ChairState int

// The states.
const (
	Ready     ChairState = iota // nothing is asked of it
	Absent                      // not here today
	Asked                       // to play now
	Gathered                    // heard, and waits for the others
	Waiting                     // for its turn
	Heard                       // in this round
	Overheard                   // its microphone heard other players
	Unsettled                   // what was heard does not count
	LeftOut                     // of this round
)

// Chair is where one chair stands.
type Chair struct {
	*hub.Chair
	Instrument *instrument.Instrument // nil when none is known
	State      ChairState
	Away       bool // no laptop is connected
	Paused     bool // its player hears no call
	Deaf       bool // asked, and hears nothing while other laptops do
	Sends      bool // partial tracks
	Sound      proto.State
	// Part is set for a chair of the running round. Note is then what it plays,
	// in a listening round what it was heard on, 0 before, and Target where that
	// should be.
	Part   bool
	Note   pitch.Note
	Target pitch.Hertz
	Ahead  int // players here before a Waiting one
	// Along says that it was heard, and holds its note again beside those who were not.
	Along bool

	// Unheard is why it was not read when it played with others and is still to be
	// heard, empty otherwise.
	Unheard hub.Reason
	InRound *hub.Reading // the last of the running round, nil for none
	// Outdated says that InRound was answered for another reference: the answer says
	// nothing any more. Open and Again are never so.
	Outdated bool
	Holds    *hub.Reading   // whose verdict holds now, nil for none: see holds
	Open     *hub.Reading   // the last counted one, while its moves wait to be made
	Again    *hub.Reading   // after which it is asked for another note in the same turn
	Counted  []*hub.Reading // of this tune-up, oldest first
	Before   []*hub.Reading // those of them of the last one's note and target
	Moves    []*hub.MoveRecord
	Notes    int     // played for the row in this tune-up
	ToMove   bool    // a slide first, then the note again
	Outside  float64 // chance of being outside the band, of a chair heard in a round by worth
	Moved    bool    // a slide since the last counted reading
	Warming  bool    // plays its cold instrument warm
	// Assumed is the last move that was made, if it was taken as made because
	// the player had been told and played again; nil otherwise.
	Assumed *hub.MoveRecord
	Balance intonation.Hint // in the chord last judged
}

// Chair finds a chair, nil when there is none of that number.
func (s *Standing) Chair(id hub.ChairID) *Chair {
	for i := range s.Chairs {
		if s.Chairs[i].ID == id {
			return &s.Chairs[i]
		}
	}
	return nil
}

// Repeats is Again where the same note is asked for once more, nil where it is
// another of several.
func (c *Chair) Repeats() *hub.Reading {
	if c.Again != nil && c.Again.Note != c.Note {
		return nil
	}
	return c.Again
}

// Standing is how things stand. Looking changes nothing.
func (s *State) Standing(at time.Time) Standing {
	run := s.running()
	out := Standing{
		Section: s.whole(), Watching: !s.watching.IsZero(), Rounds: len(s.rounds), Used: s.Used(at),
		Common: s.commonNow(run), Present: s.present(), Piece: s.piece, Undo: s.undone(), Chairs: make([]Chair, 0, len(s.chairs)),
	}
	if out.Watching {
		out.Watched = max(0, at.Sub(s.watching))
	}
	if run != nil {
		r := s.roundStanding(run, at)
		out.Round = &r
	}
	out.WarmUp = run == nil && len(s.rounds) > 0 && s.rounds[len(s.rounds)-1].WarmUp
	places := s.places(run, at)
	for _, c := range s.seated() {
		ch := s.chairStanding(s.seats[c.ID], out.Round, places)
		out.Chairs = append(out.Chairs, ch)
		if c.Absent {
			continue
		}
		if ch.Holds != nil && ch.Holds.Verdict == intonation.Set {
			out.Set++
		}
		last := s.seats[c.ID].last()
		if run != nil && (last != nil && last.Round == run.ID || listening(run) && s.seats[c.ID].held()) {
			out.Heard++
		}
	}
	return out
}

// undone is what an undo would take back.
func (s *State) undone() *Undone {
	if len(s.undo) == 0 {
		return nil
	}
	step := s.undo[len(s.undo)-1]
	return &Undone{Do: step.command.Do, Who: step.who, Watched: !step.was.watching.IsZero()}
}

// whoseTurn fills in who is asked, or waited for.
func (s *State) whoseTurn(r *Round, at time.Time) {
	if len(s.asked) > 0 {
		r.Asked, r.Beside = s.asked[0], slices.Clone(s.asked[1:])
		r.Twice = r.ByWorth && s.lastPlayer(r.Round) == r.Asked
		return
	}
	r.Phase = Waits
	if i := slices.IndexFunc(r.Queue, s.ready); i >= 0 {
		r.Phase, r.Awaited = Rests, r.Queue[i]
		return
	}
	r.Awaited = r.Queue[slices.IndexFunc(r.Queue, func(id hub.ChairID) bool { return s.awaited(id, at) })]
}

// lastPlayer is who played the last note of a round, 0 for nobody.
func (s *State) lastPlayer(run *hub.Round) hub.ChairID {
	if n := len(s.readings); n > 0 && s.readings[n-1].Round == run.ID {
		return s.readings[n-1].Chair
	}
	return 0
}

func (s *State) roundStanding(run *hub.Round, at time.Time) Round {
	r := Round{Round: run, AsOne: withheld(run), Judgement: s.judgement, Phase: Turns,
		ByWorth: s.byWorth(run), Next: slices.Clone(s.believed.named), Doubtful: slices.Clone(s.believed.doubtful), Outside: s.believed.outside}
	switch {
	case s.done(run, at):
		r.Phase = Done
	case allAtOnce(run):
		r.Phase = Together
	default:
		s.whoseTurn(&r, at)
	}
	if bending(run) {
		r.Bend = s.bendStanding(run, r.Phase == Done, at)
	} else if allAtOnce(run) {
		r.Tracks = s.tracksReference(run)
		for _, id := range playing(run) {
			if s.here(id) {
				r.Here++
				if s.gatheredIn(s.seats[id]) {
					r.Gathered++
				}
			}
		}
	}
	if listening(run) && r.Phase == Done {
		r.Chords = s.chords(s.heardTones(run))
	}
	if r.AsOne {
		r.Choices = s.choices(run)
	}
	for _, rd := range slices.Backward(s.readings) {
		if rd.Round == run.ID && rd.Counted && rd.Answer != nil && s.ofNow(rd.Chair, rd.ID) {
			r.Last = rd
			break
		}
	}
	return r
}

// places is where everybody stands in the running round.
type places struct {
	ahead   map[hub.ChairID]int // players here before a chair in the queue
	ringing bool                // the note before still sounds
	targets map[hub.ChairID]pitch.Hertz
	balance map[hub.ChairID]intonation.Hint
}

func (s *State) places(run *hub.Round, at time.Time) places {
	p := places{}
	if run == nil {
		return p
	}
	p.ahead, p.ringing = make(map[hub.ChairID]int, len(run.Queue)), !s.ringing(at).IsZero()
	n := 0
	for _, id := range run.Queue {
		p.ahead[id] = n
		if s.here(id) {
			n++
		}
	}
	for _, id := range s.believed.named {
		if ahead, waits := p.ahead[id]; waits {
			p.ahead[id] = min(ahead, 1)
		}
	}
	p.targets, _ = s.chordTargets(run)
	if s.judgement != nil {
		p.balance = map[hub.ChairID]intonation.Hint{}
		for _, sj := range s.judgement.Seats {
			p.balance[hub.ChairID(sj.Chair)] = sj.Hint
		}
	}
	return p
}

func (s *State) chairStanding(st *seat, run *Round, p places) Chair {
	var round *hub.Round
	if run != nil {
		round = run.Round
	}
	c := Chair{
		Chair: st.chair, Instrument: st.instrument(), Away: st.away(), Deaf: st.deaf, Paused: !st.away() && st.sound.State == proto.Paused, Sends: st.tracks, Sound: st.sound,
		InRound: st.inRound, Holds: s.holds(st, round), Open: st.open(), Counted: slices.Clone(st.counted), Moves: slices.Clone(st.moves),
		Notes: st.notes, ToMove: st.toMove(), Warming: st.warming(), Balance: p.balance[st.id()],
	}
	apart := run != nil && run.ByWorth && st.inRound != nil && st.inRound.Why == hub.WhyTogether
	if r := st.inRound; r != nil && r.Answer != nil && (st.turn.Notes > 0 || apart || round != nil && r.Why == hub.WhyOverheard && r.ID > round.After[c.ID]) {
		c.Again = st.inRound
	}
	if s.outdated(c.Open) {
		c.Open, c.ToMove = nil, false
	}
	if s.outdated(c.Again) {
		c.Again = nil
	}
	c.Outdated = s.outdated(c.InRound)
	if m := st.lastMade(); m != nil && m.Assumed {
		c.Assumed = m
	}
	if run != nil {
		c.Note, c.Part = run.Call.Tones[c.ID]
	}
	if c.Part {
		c.tone(s, run, p)
	}
	if last := st.last(); last != nil {
		note, target := last.Note, last.Target
		if c.Part && c.Note != 0 && c.Holds == nil && (c.Note != last.Note || run.Call.Kind == hub.CallNote) {
			note, target = c.Note, c.Target
		}
		c.Before, c.Moved = st.before(note, target), !s.asThen(last)
	}
	c.Along = run != nil && s.along(run.Round, c.ID) && !s.window.fitting // until all has been heard that is looked at
	if run != nil && slices.Contains(run.Queue, c.ID) && (st.inRound == nil || !st.inRound.Counted) {
		c.Unheard = run.Unheard[c.ID]
	}
	c.Ahead, c.Outside = p.ahead[c.ID], s.believed.chance[c.ID]
	c.State = s.chairState(st, run, p)
	if c.State == Waiting && c.Ahead > 1 && slices.Contains(s.believed.cold, c.ID) {
		c.Warming = true // until it is told to be next
	}
	return c
}

// tone fills in what a chair of the round plays.
func (c *Chair) tone(s *State, run *Round, p places) {
	if run.Listening() {
		c.Note = 0
		if st := s.seats[c.ID]; run.Phase == Done && st.held() && st.inRound.Hz().Valid() {
			c.Note, _ = s.section.Reference.Nearest(st.inRound.Hz())
		}
		return
	}
	target, ok := p.targets[c.ID]
	if !ok {
		target = s.section.Reference.Frequency(c.Note)
	}
	c.Target = target
}

// chairState finds the one state a chair is in.
func (s *State) chairState(st *seat, run *Round, p places) ChairState {
	if st.chair.Absent {
		return Absent
	}
	if run == nil {
		return Ready
	}
	_, waits := p.ahead[st.id()]
	_, part := run.Call.Tones[st.id()]
	switch {
	case run.AllAtOnce() && waits && slices.Contains(playing(run.Round), st.id()) && s.gatheredIn(st):
		return Gathered
	case waits && s.here(st.id()) && !(p.ringing && again(run.Round)) && run.AllAtOnce() && slices.Contains(playing(run.Round), st.id()),
		waits && s.here(st.id()) && !run.AllAtOnce() && s.isAsked(st.id()) && !p.ringing:
		return Asked
	case waits:
		return Waiting
	case st.inRound != nil && (st.inRound.Counted || st.held() || st.inRound.Why == hub.WhyStudy):
		return Heard
	case st.inRound != nil && st.inRound.Why == hub.WhyOverheard:
		return Overheard
	case st.inRound != nil:
		return Unsettled
	case part:
		return LeftOut
	}
	return Ready
}

// Section is the section as it stands, a copy.
func (s *State) Section() hub.Section { return s.whole().Clone() }

// Begun is where this tune-up began.
func (s *State) Begun() Beginning { return s.begun }

// Node is which node holds a chair now, and which start of it; empty for none.
func (s *State) Node(chair hub.ChairID) (node, boot string) {
	if st := s.seats[chair]; st != nil {
		return st.node, st.boot
	}
	return "", ""
}

// Propose hands the tones of a chord out to the chairs as a call would, by the
// chord's name. The error says what is wrong with the name.
func (s *State) Propose(name string) (Proposal, error) {
	c, err := intonation.ParseChord(name)
	if err != nil {
		return Proposal{}, err
	}
	var here []hub.ChairID
	for _, ch := range s.chairs {
		if !ch.Absent {
			here = append(here, ch.ID)
		}
	}
	return Proposal{Chord: c, Tones: s.spread(c, here)}, nil
}

// Used is the time since the first call of this tune-up; it stops while no
// round runs.
func (s *State) Used(at time.Time) time.Duration {
	if len(s.rounds) == 0 {
		return 0
	}
	if last := s.rounds[len(s.rounds)-1]; !last.Ended.IsZero() {
		at = last.Ended
	}
	return at.Sub(s.rounds[0].Started)
}

// Chairs lists the chairs of the section.
func (s *State) Chairs() []hub.ChairID {
	ids := make([]hub.ChairID, len(s.chairs))
	for i, c := range s.chairs {
		ids[i] = c.ID
	}
	return ids
}

// NextID is the first number that was never given.
func (s *State) NextID() int64 { return s.ids.next }

// Proposal is a chord that could be called, with a tone for each chair that is
// here and can play.
type Proposal struct {
	Chord intonation.Chord
	Tones map[hub.ChairID]pitch.Note // sounding
}
