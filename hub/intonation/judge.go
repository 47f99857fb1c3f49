package intonation

import (
	"fmt"

	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// Seat is one chair in a chord: what it was asked, how it plays that, and
// what was heard.
type Seat struct {
	Chair Chair
	// Name is the chair as a leader calls it: "second trombone".
	Name string
	// Note is the called sounding note.
	Note pitch.Note
	// Instrument may be nil: then no move is offered.
	Instrument *instrument.Instrument
	// Path is how the note is played; the zero value means the usual way.
	Path     instrument.Path
	Settings instrument.Settings
	Travel   instrument.Settings
	Air      instrument.Air
	Learned  slide.Learned
	// Reading is nil until the chair was heard.
	Reading *slide.Reading
	// Baseline is the chair's own mezzo-forte level; 0 = unknown.
	Baseline pitch.Level
}

// believed is the seat's reading when it can be judged.
func (s Seat) believed() (Reading, bool) {
	r := s.Reading
	if r == nil || !r.Settled || r.Overheard || !r.Hz.Valid() {
		return Reading{}, false
	}
	return Reading{Hz: r.Hz, CI95: r.CI95, Level: r.Level}, true
}

// Question is a chord as it was called and heard.
type Question struct {
	Chord     Chord
	Tuning    Tuning
	Anchor    Anchor
	Reference pitch.Reference
	// Good and Watch are the bands; not positive means the defaults.
	Good, Watch pitch.Cents
	Shape       Shape
	Seats       []Seat
}

// Judgement is the answer.
type Judgement struct {
	Name  string // the chord for people
	Aim   Aim
	Seats []SeatJudgement // in the order asked
	// Beats holds the pairs that beat otherwise than they should, those heard
	// plainest first, at most maxBeats.
	Beats []Beat
	// Sentence says what is wrong with the chord, or that nothing is.
	Sentence string
	// Rings is true when every chair was heard and every one is set.
	Rings bool
}

// SeatJudgement is what became of one chair.
type SeatJudgement struct {
	Chair  Chair
	Target Target
	// Heard is false until there is a reading that is believed; then the
	// fields below it are empty, but for Advice, which may ask to play again.
	Heard   bool
	Offset  pitch.Cents // from the target
	CI95    pitch.Cents
	Verdict string // "" until heard
	Words   string // "the third, 11 cents high"
	// Path is how the note is taken to be played, Alternates the other ways.
	Path       instrument.Path
	Alternates []instrument.Path
	Advice     slide.Advice
	// Instead holds the honest alternatives, in sentences, where nothing on
	// the instrument moves the note.
	Instead []string
	Balance string
}

// maxBeats is as many pairs as a leader wants to hear of.
const maxBeats = 6

// Judge judges a chord: each tone against its target, the pairs that beat,
// what to move, what is wrong in one sentence, and the balance.
func Judge(q Question) Judgement {
	readings := map[Chair]Reading{}
	tones := map[Chair]pitch.Note{}
	for _, s := range q.Seats {
		tones[s.Chair] = s.Note
		if r, ok := s.believed(); ok {
			readings[s.Chair] = r
		}
	}
	j := Judgement{Name: q.Chord.Name(), Aim: Targets(q.Chord, tones, q.Tuning, q.Anchor, readings, q.Reference)}
	j.Rings = len(q.Seats) > 0
	for _, s := range q.Seats {
		sj := q.seat(s, j.Aim.Targets[s.Chair])
		j.Rings = j.Rings && sj.Verdict == Set && sj.Target.InChord
		j.Seats = append(j.Seats, sj)
	}
	j.hintBalance(q)
	for i := range j.Seats {
		j.Seats[i].Instead = q.instead(i, j)
	}
	j.Beats = q.beats(j.Aim, readings)
	j.Sentence = q.sentence(j)
	return j
}

func (q Question) seat(s Seat, t Target) SeatJudgement {
	sj := SeatJudgement{Chair: s.Chair, Target: t}
	if s.Instrument != nil {
		sj.Path, sj.Alternates = ways(s)
		if s.Reading != nil {
			sj.Advice = slide.Advise(slide.Input{
				Instrument: s.Instrument, Path: sj.Path, Note: s.Note, Target: t.Hz, Reading: *s.Reading,
				Settings: s.Settings, Travel: s.Travel, Air: s.Air, Learned: s.Learned,
				Purpose: slide.Balance, Good: q.Good, Warm: true,
			})
		}
	}
	r, ok := s.believed()
	if !ok {
		return sj
	}
	sj.Heard, sj.CI95 = true, r.CI95
	sj.Offset = pitch.Between(t.Hz, r.Hz)
	sj.Verdict = Verdict(sj.Offset, r.CI95, q.Good, q.Watch)
	if sj.Advice.Kind == slide.Again {
		sj.Verdict = Doubt
	}
	sj.Words = toneWords(t) + ", " + place(sj.Offset)
	return sj
}

// ways is how a seat plays its note, and the other ways it could.
func ways(s Seat) (instrument.Path, []instrument.Path) {
	paths := s.Instrument.Paths(s.Note)
	path := s.Path
	if path == (instrument.Path{}) && len(paths) > 0 {
		path = paths[0]
	}
	if path.Partial == 0 {
		if p, err := s.Instrument.Resolve(path, s.Note); err == nil {
			path = p
		}
	}
	var others []instrument.Path
	for _, p := range paths {
		if !p.SamePath(path) {
			others = append(others, p)
		}
	}
	return path, others
}

func (j *Judgement) hintBalance(q Question) {
	var chairs []Loudness
	for _, s := range q.Seats {
		if r, ok := s.believed(); ok && s.Baseline != 0 {
			chairs = append(chairs, Loudness{s.Chair, s.Note, r.Level, s.Baseline})
		}
	}
	hints := Balance(q.Shape, chairs)
	for i := range j.Seats {
		j.Seats[i].Balance = hints[j.Seats[i].Chair]
	}
}

// instead offers what is left where nothing on the instrument moves a note
// that is out and no other fingering helps: another chair on that tone, or
// another anchor.
func (q Question) instead(i int, j Judgement) []string {
	s, sj := q.Seats[i], j.Seats[i]
	if sj.Advice.Kind != slide.Nothing {
		return nil
	}
	var out []string
	if other, ok := q.couldTake(i); ok {
		out = append(out, fmt.Sprintf("Let %s play %s, where a slide serves it, and change tones.", other, s.Note.Display()))
	}
	if j.Aim.Anchor != AnchorConsensus && q.Tuning != Keyboard {
		out = append(out, "Hang the chord from what the group agrees on, instead of from the "+string(j.Aim.Anchor)+".")
	}
	return out
}

// couldTake finds a chair that could play seat i's note with a slide that
// moves while playing, and whose own note seat i could play.
func (q Question) couldTake(i int) (string, bool) {
	s := q.Seats[i]
	for k, other := range q.Seats {
		if k == i || other.Instrument == nil || other.Note == s.Note ||
			!within(s.Note, other.Instrument) || !within(other.Note, s.Instrument) {
			continue
		}
		other.Note, other.Path = s.Note, instrument.Path{}
		path, _ := ways(other)
		if path != (instrument.Path{}) && movable(other.Instrument, path) {
			return other.Name, true
		}
	}
	return "", false
}

func within(n pitch.Note, in *instrument.Instrument) bool { return n >= in.Low && n <= in.High }

func movable(in *instrument.Instrument, p instrument.Path) bool {
	for _, s := range in.Slides {
		if s.WhilePlaying && s.ID != instrument.Main && in.Serves(s.ID, p) {
			return true
		}
	}
	return false
}
