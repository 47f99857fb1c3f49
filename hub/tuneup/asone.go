package tuneup

import (
	"maps"
	"slices"

	"bellrow/hub"
	"bellrow/hub/slide"
	"bellrow/proto/pitch"
)

// choices is what a section that is off as one can do about it: the leader
// decides.
func (s *State) choices(run *hub.Round) slide.AsOne {
	_, seats := s.asSeats(run)
	return slide.Together(s.section.Reference, seats, s.section.Good, s.section.FixedPitch)
}

// asSeats lists who was heard in a round, and the same as hub/slide takes them.
func (s *State) asSeats(run *hub.Round) (heard []*seat, seats []slide.Seat) {
	for _, c := range s.chairs {
		st := s.seats[c.ID]
		in, r := st.instrument(), st.last()
		if in == nil || !in.Tuned() || r == nil || r.Round != run.ID {
			continue
		}
		heard = append(heard, st)
		seats = append(seats, slide.Seat{
			Instrument: in, Path: s.played(r, in), Settings: c.Settings, Travel: c.Travel, Offset: r.Cents, Learned: s.learned(st),
		})
	}
	return heard, seats
}

// leaveForNow stands in place of a move while the section is off as one: what all
// have in common, and what is the player's own.
func (s *State) leaveForNow(run *hub.Round, r *hub.Reading) slide.Advice {
	if run.AsOne == nil { // an earlier version found it
		return slide.Advice{Kind: slide.Stay, Code: "room"}
	}
	return slide.AsOne{Common: *run.AsOne, Own: []pitch.Cents{s.clear(r) - *run.AsOne}}.Answer(0)
}

// decide carries out what the leader chose about a section that is off as one.
func (s *State) decide(run *hub.Round, do slide.Deed) error {
	if !withheld(run) {
		return refuse("refusal.not-as-one")
	}
	heard, seats := s.asSeats(run)
	t := slide.Together(s.section.Reference, seats, s.section.Good, s.section.FixedPitch)
	i := slices.IndexFunc(t.Choices, func(c slide.Choice) bool { return c.Do == do })
	if i < 0 {
		return refuse("refusal.no-help")
	}
	switch do {
	case slide.WarmUp:
		run.WarmUp = true
		s.closeRound(run)
	case slide.AllMove:
		s.moveAll(run, heard, t)
	case slide.TuneThere:
		s.tuneThere(run, heard, t.Choices[i])
	case slide.HearAgain:
		return s.hearAllAgain(run)
	}
	return nil
}

// moveAll sends everybody the common part; what is each one's own is left for the
// next hearing.
func (s *State) moveAll(run *hub.Round, heard []*seat, t slide.AsOne) {
	run.MovesAnyway = true
	for i, st := range heard {
		if r := st.last(); !s.movedSince(r) {
			s.adviseAnew(r, t.Move(i))
		}
	}
	s.hearAgain(run)
}

// tuneThere lets the reference follow the section, and answers everybody anew
// from there: what is left is each one's own.
func (s *State) tuneThere(run *hub.Round, heard []*seat, c slide.Choice) {
	section := *s.section
	section.Reference = c.Reference
	s.section = &section
	run.AsOne, run.Room = nil, ""
	heard = slices.DeleteFunc(heard, func(st *seat) bool { return s.movedSince(st.last()) })
	for _, st := range heard {
		r := s.revise(st.last())
		r.Target = section.Reference.Frequency(r.Note)
		r.Cents = pitch.Between(r.Target, r.Hz())
	}
	s.derive() // what was heard is remembered from the new reference
	for _, st := range heard {
		r := st.last()
		in, _ := s.inquiry(st, r, st.chair.Settings) // who was heard has an instrument
		a := st.memory.Review(in)
		r.Verdict = s.verdict(r, a)
		s.adviseAnew(r, a)
	}
	s.hearAgain(run)
}

// adviseAnew answers a reading anew, with its moves.
func (s *State) adviseAnew(r *hub.Reading, a slide.Advice) {
	r = s.revise(r)
	s.answerAnew(r, a, nil)
	s.adviseMoves(r, a)
}

// hearAllAgain calls the same for all who play in a round.
func (s *State) hearAllAgain(run *hub.Round) error {
	var only []hub.ChairID
	if run.Again {
		only = slices.Sorted(maps.Keys(run.Call.Tones))
	}
	return s.call(run.Call, only)
}
