package tuneup

import (
	"math"
	"slices"

	"bellrow/hub"
	"bellrow/hub/intonation"
	"bellrow/hub/slide"
	"bellrow/proto/pitch"
)

// A listening round is called without tones: all hold the chord they like, and
// the hub says which chord that is. Its readings have no target, no verdict and
// no advice until the leader chooses a chord; then the round becomes a round of
// that chord with the readings it has.

// openTone stands in Call.Tones for a note that the player chooses.
const openTone pitch.Note = 0

// listening reports whether the round's chord is still to be found.
func listening(r *hub.Round) bool { return r.Call.Kind == hub.CallListen }

// listenCall is the call of a listening round.
func listenCall() hub.Call { return hub.Call{Kind: hub.CallListen, Together: true} }

// Chords is what the players of a listening round hold.
type Chords struct {
	Players int // heard
	// Class is the note that all play in unison or octaves, empty when they do
	// not.
	Class string
	// Candidates says which chords they could be holding, the likeliest first.
	Candidates []intonation.Candidate
}

// heardTones is what the players of a listening round hold, by chair.
func (s *State) heardTones(run *hub.Round) map[hub.ChairID]intonation.Reading {
	heard := map[hub.ChairID]intonation.Reading{}
	for id := range run.Call.Tones {
		if st := s.seats[id]; st != nil && st.held() && st.inRound.Hz().Valid() {
			heard[id] = intonation.Reading{Hz: st.inRound.Hz(), CI95: st.inRound.CI95()}
		}
	}
	return heard
}

// chords names what is held.
func (s *State) chords(heard map[hub.ChairID]intonation.Reading) Chords {
	c := Chords{Players: len(heard), Class: oneClass(heard, s.section.Reference)}
	if c.Class != "" {
		return c
	}
	var rs []intonation.Reading
	for _, r := range heard {
		rs = append(rs, r)
	}
	c.Candidates = intonation.Infer(rs, s.section.Reference)
	return c
}

// oneClass names the note when all play the same in unison or octaves, "" otherwise.
func oneClass(heard map[hub.ChairID]intonation.Reading, ref pitch.Reference) string {
	name := ""
	for _, r := range heard {
		n, _ := ref.Nearest(r.Hz)
		if name != "" && n.ClassName() != name {
			return ""
		}
		name = n.ClassName()
	}
	return name
}

// choose makes a listening round a round of one chord, with the readings it
// has. Whoever was not heard gets a tone of the chord and is heard in turn.
func (s *State) choose(run *hub.Round, name string) error {
	if run == nil || !listening(run) {
		return refuse("refusal.no-chord")
	}
	heard := s.heardTones(run)
	if len(heard) < 2 {
		return refuse("refusal.two-players")
	}
	c := hub.Call{Kind: hub.CallChord, Chord: name, Together: true}
	var shift pitch.Cents
	found := s.chords(heard).Candidates
	if name == "" && len(found) == 0 {
		return refuse("refusal.unknown-chord")
	}
	for i, f := range found {
		if name == "" && i == 0 || name == f.Chord.Name() {
			c.Chord, shift = f.Chord.Name(), f.Shift
		}
	}
	c, err := s.checkCall(c)
	if err != nil {
		return err
	}
	chord, err := intonation.ParseChord(c.Chord)
	if err != nil {
		return err
	}
	c.Tones = map[hub.ChairID]pitch.Note{}
	for id, r := range heard {
		c.Tones[id] = nearestTone(chord, s.section.Reference, r.Hz.Shift(-shift))
	}
	run.Call, run.InTurn = c, true
	s.giveTones(run)
	s.order(run)
	s.chooseFor(run)
	return nil
}

// chooseFor lets the readings of a listening round count for its chord.
func (s *State) chooseFor(run *hub.Round) {
	s.judgement = nil
	for _, r := range slices.Clone(s.readings) {
		if r.Round != run.ID || r.Why != hub.WhyListen || s.seats[r.Chair] == nil || s.seats[r.Chair].inRound != r {
			continue
		}
		r = s.revise(r)
		r.Note, r.Target = run.Call.Tones[r.Chair], s.target(run, r.Chair)
		r.Cents, r.Why, r.Counted = pitch.Between(r.Target, r.Hz()), "", true
		s.answerAnew(r, waitForChord, nil)
	}
	s.retake()
}

// unchoose takes the verdicts of a chosen chord back: its readings are what
// was heard, and no more.
func (s *State) unchoose(round hub.RoundID) {
	for _, r := range slices.Clone(s.readings) {
		if r.Round != round || !r.Counted {
			continue
		}
		r = s.revise(r)
		r.Note, r.Target, r.Cents, r.Counted = openTone, 0, 0, false
		r.Why, r.Verdict = hub.WhyListen, ""
		s.answerAnew(r, waitForChord, nil)
	}
}

// reach is how far from a tone of the chord a reading may lie and still be
// taken for it: beyond it the player plays another note, and is told so.
const reach pitch.Cents = 60

// nearestTone is the tone of the chord that a pitch is meant for, or the
// nearest note where none is near.
func nearestTone(chord intonation.Chord, ref pitch.Reference, hz pitch.Hertz) pitch.Note {
	near, _ := ref.Nearest(hz)
	best, distance := near, math.Inf(1)
	for n := near - 1; n <= near+1; n++ {
		t, in := chord.Tone(n)
		if !in {
			continue
		}
		if d := math.Abs(float64(ref.Offset(n, hz) - t.Offset())); d < distance && d <= float64(reach) {
			best, distance = n, d
		}
	}
	return best
}

// listenInquiry asks hub/slide only whether a reading is believed: at its own
// pitch nothing is to be moved, and for that no instrument is cold, and no day
// unlike another.
func (s *State) listenInquiry(st *seat, r *hub.Reading) (slide.Input, bool) {
	in := st.instrument()
	if in == nil {
		return slide.Input{}, false
	}
	note := openTone
	if r.Hz().Valid() {
		note, _ = s.section.Reference.Nearest(r.Hz())
	}
	return slide.Input{Instrument: in, Note: note, Target: r.Hz(), Reading: asHeard(r), Warm: true}, true
}
