package hub

import (
	"errors"
	"fmt"
	"math"

	"bellrow/hub/intonation"
	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// A listening round is called without tones: all hold the chord they like, and
// the hub says which chord that is. Its readings have no target, no verdict and
// no advice until the leader chooses a chord; then the round becomes a round of
// that chord with the readings it has.

// CallListen is the kind of a call that hears whatever chord the chairs hold.
// Its Tones are openTone.
const CallListen CallKind = "listen"

// openTone stands in Call.Tones for a note that the player chooses.
const openTone pitch.Note = 0

// HeardChord is one chord that the chairs could be holding.
type HeardChord struct {
	Name string `json:"name"` // as Command.Name of DoChoose takes it
}

// listening reports whether the round's chord is still to be found.
func (r *Round) listening() bool { return r.Call.Kind == CallListen }

// listenCall is the call of a listening round.
func listenCall() Call { return Call{Kind: CallListen, Together: true} }

// heardHz is what the players of a listening round hold, by chair.
func (h *Hub) heardHz(run *Round) map[ChairID]intonation.Reading {
	heard := map[ChairID]intonation.Reading{}
	for id := range run.Call.Tones {
		s := h.seats[id]
		if s == nil || s.inRound == nil || s.inRound.Why != WhyListen || !s.inRound.hz().Valid() {
			continue
		}
		heard[id] = intonation.Reading{Hz: s.inRound.hz(), CI95: s.inRound.ci()}
	}
	return heard
}

// candidates says which chords the players could be holding, the likeliest first.
func (h *Hub) candidates(run *Round) []intonation.Candidate {
	heard := h.heardHz(run)
	if h.oneClass(heard) != "" {
		return nil
	}
	var rs []intonation.Reading
	for _, r := range heard {
		rs = append(rs, r)
	}
	return intonation.Infer(rs, h.section.Reference)
}

// oneClass names the note when all play the same in unison or octaves, "" otherwise.
func (h *Hub) oneClass(heard map[ChairID]intonation.Reading) string {
	name := ""
	for _, r := range heard {
		n, _ := h.section.Reference.Nearest(r.Hz)
		if name != "" && n.ClassName() != name {
			return ""
		}
		name = n.ClassName()
	}
	return name
}

// sayListen names the chord that was heard, or says that it cannot.
func (h *Hub) sayListen(run *Round) string {
	heard := h.heardHz(run)
	switch class := h.oneClass(heard); {
	case len(heard) == 0:
		return "No note was heard clearly. Listen again."
	case len(heard) == 1:
		return fmt.Sprintf("Only one player was heard, on %s: a chord takes more. Listen again.", class)
	case class != "":
		return fmt.Sprintf("All play %s: call it as a note.", class)
	}
	found := h.candidates(run)
	said := capital(intonation.Say(found))
	switch len(found) {
	case 0:
		return said + ". Call the chord you want, or listen again."
	case 1:
		return said + ". Choose it to see the moves."
	}
	return said + ". Choose the one you mean."
}

// heardChords lists for the row what can be chosen.
func (h *Hub) heardChords(run *Round) []HeardChord {
	if !run.listening() || !h.done(run) {
		return nil
	}
	var list []HeardChord
	for _, c := range h.candidates(run) {
		list = append(list, HeardChord{Name: c.Chord.Name()})
	}
	return list
}

// choose makes a listening round a round of one chord, with the readings it
// has. Whoever was not heard gets a tone of the chord and is heard in turn.
func (h *Hub) choose(run *Round, name string) error {
	if run == nil || !run.listening() {
		return errors.New("hub: there is no chord to choose; listen first")
	}
	heard := h.heardHz(run)
	if len(heard) < 2 {
		return errors.New("hub: a chord takes two players at least; listen again")
	}
	c := Call{Kind: CallChord, Chord: name, Together: true}
	var shift pitch.Cents
	found := h.candidates(run)
	if name == "" && len(found) == 0 {
		return errors.New("hub: no known chord fits what was heard; call the chord you want")
	}
	for i, f := range found {
		if name == "" && i == 0 || name == f.Chord.Name() {
			c.Chord, shift = f.Chord.Name(), f.Shift
		}
	}
	c, err := h.checkCall(c)
	if err != nil {
		return err
	}
	chord, err := intonation.ParseChord(c.Chord)
	if err != nil {
		return err
	}
	c.Tones = map[ChairID]pitch.Note{}
	for id, r := range heard {
		c.Tones[id] = nearestTone(chord, h.section.Reference, r.Hz.Shift(-shift))
	}
	run.Call, run.InTurn = c, true
	h.giveTones(run)
	h.order(run)
	h.chooseFor(run)
	return nil
}

// chooseFor lets the readings of a listening round count for its chord.
func (h *Hub) chooseFor(run *Round) {
	h.judgement = nil
	for _, r := range h.readings {
		if r.Round != run.ID || r.Why != WhyListen || h.seats[r.Chair] == nil || h.seats[r.Chair].inRound != r {
			continue
		}
		r.Note, r.Target = run.Call.Tones[r.Chair], h.target(run, r.Chair)
		r.Cents, r.Why, r.Counted = pitch.Between(r.Target, r.hz()), "", true
		h.reanswer(r, waitForChord())
	}
	h.rebuild()
	h.saveRound()
}

// unchoose takes the verdicts of a chosen chord back: its readings are what
// was heard, and no more.
func (h *Hub) unchoose(round RoundID) {
	for _, r := range h.readings {
		if r.Round != round || !r.Counted {
			continue
		}
		r.Note, r.Target, r.Cents, r.Counted = openTone, 0, 0, false
		r.Why, r.Verdict = WhyListen, ""
		h.reanswer(r, waitForChord())
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
func (h *Hub) listenInquiry(c *Chair, r *Reading) (slide.Input, bool) {
	in, err := instrument.Find(c.Instrument)
	if err != nil {
		return slide.Input{}, false
	}
	note := openTone
	if r.hz().Valid() {
		note, _ = h.section.Reference.Nearest(r.hz())
	}
	return slide.Input{Instrument: in, Note: note, Target: r.hz(), Reading: r.forAdvice(), Warm: true}, true
}

// heardNote is the note nearest to what a chair holds in a listening round;
// ok is false until the round is done.
func (h *Hub) heardNote(run *Round, s *seat) (n pitch.Note, ok bool) {
	if !h.done(run) || s.inRound == nil || s.inRound.Why != WhyListen || !s.inRound.hz().Valid() {
		return 0, false
	}
	n, _ = h.section.Reference.Nearest(s.inRound.hz())
	return n, true
}

// listenAgain asks one chair once more within a listening round, whose other
// notes stay.
func (h *Hub) listenAgain(run *Round, id ChairID) error {
	if _, in := run.Call.Tones[id]; !in {
		return fmt.Errorf("hub: again for chair %d, which is not in this round", id)
	}
	h.reask(run, id)
	return nil
}

// held reports whether the chair's note of a listening round was heard.
func (s *seat) held() bool { return s.inRound != nil && s.inRound.Why == WhyListen }
