package hub

import (
	"strings"

	"bellrow/hub/intonation"
	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// chordOf parses the chord of a round.
func chordOf(r *Round) (intonation.Chord, error) { return intonation.ParseChord(r.Call.Chord) }

// spread gives every chair of a chord call a tone that it can play.
func (h *Hub) spread(chord intonation.Chord, chairs []ChairID) map[ChairID]pitch.Note {
	var parts []intonation.Part
	for _, id := range chairs {
		in, err := instrument.Find(h.chair(id).Instrument)
		if err != nil {
			continue
		}
		parts = append(parts, intonation.Part{Chair: intonation.Chair(id), Low: in.Low, High: in.High, Rank: rank(h.chair(id).Part)})
	}
	tones := map[ChairID]pitch.Note{}
	for id, n := range intonation.Spread(chord, parts) {
		tones[ChairID(id)] = n
	}
	return tones
}

// tones is where every tone of a chord round belongs with the root at the
// reference.
func (h *Hub) tones(r *Round) (map[ChairID]pitch.Hertz, bool) {
	chord, err := chordOf(r)
	if err != nil {
		return nil, false
	}
	notes := map[intonation.Chair]pitch.Note{}
	for id, n := range r.Call.Tones {
		notes[intonation.Chair(id)] = n
	}
	aim := intonation.Targets(chord, notes, intonation.Tuning(r.Call.Tuning), intonation.AnchorReference, nil, h.section.Reference)
	hz := map[ChairID]pitch.Hertz{}
	for id, f := range aim.Hertz() {
		hz[ChairID(id)] = f
	}
	return hz, true
}

// rank reads the first number of a part's name: 2 for "2nd trombone"; 0 when
// there is none.
func rank(part string) int {
	for _, r := range part {
		if r >= '1' && r <= '9' {
			return int(r - '0')
		}
	}
	return 0
}

// waitForChord is the answer until everybody of a chord has been heard: a
// chord tone means nothing by itself.
func waitForChord() slide.Advice {
	return slide.Advice{Kind: slide.Stay, Code: "heard", Headline: "Heard.", Next: "Rest until the chord is complete."}
}

// question is what hub/intonation is asked about a round's chord.
func (h *Hub) question(run *Round) (intonation.Question, bool) {
	chord, err := chordOf(run)
	if err != nil {
		return intonation.Question{}, false
	}
	q := intonation.Question{
		Chord: chord, Tuning: intonation.Tuning(run.Call.Tuning), Anchor: intonation.Anchor(run.Call.Anchor),
		Reference: h.section.Reference, Good: h.section.Good, Watch: h.section.Watch, Shape: intonation.Shape(run.Call.Shape),
	}
	for _, c := range h.section.seated() {
		note, in := run.Call.Tones[c.ID]
		if !in {
			continue
		}
		s := h.seats[c.ID]
		seat := intonation.Seat{
			Chair: intonation.Chair(c.ID), Name: h.called(c.ID), Note: note, Settings: c.Settings, Travel: c.Travel,
			Air: instrument.Air{TemperatureC: h.section.TemperatureC}, Learned: h.learned(s), Baseline: s.baseline(),
		}
		if in, err := instrument.Find(c.Instrument); err == nil {
			seat.Instrument = in
			seat.Path, _ = run.way(c.ID, in)
		}
		if r := s.inRound; r != nil && r.Counted && r.Note == note {
			sr := r.forAdvice()
			seat.Reading = &sr
		}
		q.Seats = append(q.Seats, seat)
	}
	return q, true
}

// chord judges the running chord round once everybody who is here was heard.
func (h *Hub) chord() {
	run := h.running()
	if run == nil || run.Call.Kind != CallChord || !h.done(run) {
		return
	}
	q, ok := h.question(run)
	if !ok {
		return
	}
	j := intonation.Judge(q)
	h.judgement = &j
	for _, sj := range j.Seats {
		s := h.seats[ChairID(sj.Chair)]
		if !sj.Heard || s.inRound == nil || s.inRound.Answer.Kind != string(slide.Stay) || s.inRound.Verdict != "" {
			continue // not heard, or answered already
		}
		r := s.inRound
		r.Target, r.Cents, r.Verdict = sj.Target.Hz, sj.Offset, sj.Verdict
		a := sj.Advice
		if len(sj.Instead) > 0 {
			a.Next = sj.Instead[0]
		}
		if a.Detail == "" && sj.Words != "" {
			a.Detail = "You have " + sj.Words + "."
		}
		if sj.Verdict != intonation.Set {
			a.Detail = strings.TrimSpace(a.Detail + " " + otherWays(sj.Alternates))
		}
		h.reanswer(r, a) // a move within a chord lasts as long as its note, and is no setting
	}
}

// maxWays is as many other fingerings as a player weighs while holding a note.
const maxWays = 2

// otherWays names other fingerings or positions of a note, "" when there are none.
func otherWays(paths []instrument.Path) string {
	var ways []string
	for _, p := range paths[:min(maxWays, len(paths))] {
		ways = append(ways, p.String())
	}
	if len(ways) == 0 {
		return ""
	}
	return "This note can also be played " + strings.Join(ways, " or ") + "."
}

// balance is the hint on a chair's loudness in the last judged chord.
func (h *Hub) balance(id ChairID) string {
	if h.judgement == nil {
		return ""
	}
	for _, s := range h.judgement.Seats {
		if s.Chair == intonation.Chair(id) {
			return s.Balance
		}
	}
	return ""
}

// chordTuning is how the section's chords are tuned unless a call says
// otherwise.
func (s Section) chordTuning() intonation.Tuning {
	if s.Tuning == "" {
		return intonation.DefaultTuning(s.FixedPitch)
	}
	return intonation.Tuning(s.Tuning)
}
