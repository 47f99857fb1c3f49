package tuneup

import (
	"bellrow/hub"
	"bellrow/hub/intonation"
	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// chordTargets is where every tone of a chord round belongs with the root at
// the reference; false for a round without a chord.
func (s *State) chordTargets(r *hub.Round) (map[hub.ChairID]pitch.Hertz, bool) {
	chord, ok := chordOf(r)
	if !ok {
		return nil, false
	}
	notes := map[intonation.Chair]pitch.Note{}
	for id, n := range r.Call.Tones {
		notes[intonation.Chair(id)] = n
	}
	aim := intonation.Targets(chord, notes, intonation.Tuning(r.Call.Tuning), intonation.AnchorReference, nil, s.section.Reference)
	hz := map[hub.ChairID]pitch.Hertz{}
	for id, f := range aim.Hertz() {
		hz[hub.ChairID(id)] = f
	}
	return hz, true
}

// question is what hub/intonation is asked about a round's chord.
func (s *State) question(run *hub.Round) (intonation.Question, bool) {
	chord, ok := chordOf(run)
	if !ok {
		return intonation.Question{}, false
	}
	q := intonation.Question{
		Chord: chord, Tuning: intonation.Tuning(run.Call.Tuning), Anchor: intonation.Anchor(run.Call.Anchor),
		Reference: s.section.Reference, Good: s.section.Good, Watch: s.section.Near, Shape: intonation.Shape(run.Call.Shape),
	}
	for _, c := range s.seated() {
		note, in := run.Call.Tones[c.ID]
		if !in {
			continue
		}
		st := s.seats[c.ID]
		seat := intonation.Seat{
			Chair: intonation.Chair(c.ID), Name: s.called(c.ID), Note: note, Settings: c.Settings, Travel: c.Travel,
			Air: instrument.Air{TemperatureC: s.section.TemperatureC}, Learned: s.learned(st), Baseline: st.baseline(),
		}
		if in := st.instrument(); in != nil {
			seat.Instrument = in
			seat.Path, _ = Fingering(run, c.ID, in)
		}
		if r := st.inRound; r != nil && r.Counted && r.Note == note {
			sr := asHeard(r)
			seat.Reading = &sr
		}
		q.Seats = append(q.Seats, seat)
	}
	return q, true
}

// judgeChord judges the running chord round once everybody who is here was
// heard. Whoever was answered already keeps the answer: a move within a chord
// lasts as long as its note, and is no setting.
func (s *State) judgeChord(run *hub.Round) {
	if run.Call.Kind != hub.CallChord || !s.done(run, s.at) {
		return
	}
	q, ok := s.question(run)
	if !ok {
		return
	}
	j := intonation.Judge(q)
	s.judgement = &j
	for _, sj := range j.Seats {
		st := s.seats[hub.ChairID(sj.Chair)]
		r := st.inRound
		if !sj.Heard || r == nil || r.Answer.Kind != slide.Stay || r.Verdict != "" {
			continue
		}
		r = s.revise(r)
		r.Target, r.Cents, r.Verdict = sj.Target.Hz, sj.Offset, sj.Verdict
		s.answerAnew(r, sj.Advice, sj.Place)
	}
}
