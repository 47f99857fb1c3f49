package intonation

import (
	"slices"

	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
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
	// Facts say what is wrong with the chord, or that nothing is; Sentence
	// words them.
	Facts    []Clause
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
	Place   *Place // nil until heard
	Words   string // Place in words: "the third, 11 cents high"
	// Path is how the note is taken to be played, Alternates the other ways.
	Path       instrument.Path
	Alternates []instrument.Path
	Advice     slide.Advice
	// Instead holds the honest alternatives, in sentences, where nothing on
	// the instrument moves the note.
	// Resorts are the same as facts.
	Instead []string
	Resorts []Resort
	// Hint is on its loudness, Balance the same in words.
	Hint    Hint
	Balance string
	// resort is the nearest of Resorts that the chair can do.
	resort Resort
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
		s := &j.Seats[i]
		s.Resorts, s.resort = q.resorts(i, j)
		for _, r := range s.Resorts {
			s.Instead = append(s.Instead, r.words(phrase.Tongue{}))
		}
		if s.Place != nil && len(s.Resorts) > 0 {
			s.Place.Resort = &s.Resorts[0]
		}
	}
	j.Beats = q.beats(j.Aim, readings)
	j.Facts = q.facts(j)
	j.Sentence = j.Say(pitch.Style{})
	return j
}

func (q Question) seat(s Seat, t Target) SeatJudgement {
	sj := SeatJudgement{Chair: s.Chair, Target: t}
	if s.Instrument != nil {
		sj.Path, sj.Alternates = ways(s)
		if s.Reading != nil {
			s.Path = sj.Path
			sj.Advice = q.advise(s, t.Hz, *s.Reading)
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
	sj.Place = &Place{Note: q.Chord.Spell(t.Note), Cents: sj.Offset}
	if t.InChord {
		sj.Place.Tone = t.Tone.Name
	}
	if sj.Verdict != Set {
		sj.Place.Ways = sj.Alternates
	}
	sj.Words = sj.Place.words(pitch.Style{})
	return sj
}

// advise asks hub/slide for the move of a seat that plays as its Path says.
func (q Question) advise(s Seat, target pitch.Hertz, r slide.Reading) slide.Advice {
	return slide.Advise(slide.Input{
		Instrument: s.Instrument, Path: s.Path, Note: s.Note, Target: target, Reading: r,
		Settings: s.Settings, Travel: s.Travel, Air: s.Air, Learned: s.Learned,
		Purpose: slide.Balance, Good: q.Good,
	})
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
		s := &j.Seats[i]
		s.Hint = hints[s.Chair]
		s.Balance = s.Hint.Say(phrase.Tongue{})
	}
}

// resorts are what is left where nothing on the instrument moves a note that
// is out: another fingering whose slide can be moved, another chair on that
// tone, or another anchor; and the one of them for the chair alone.
func (q Question) resorts(i int, j Judgement) (all []Resort, own Resort) {
	s, sj := q.Seats[i], j.Seats[i]
	if sj.Advice.Kind != slide.Nothing {
		return nil, own
	}
	if other, ok := q.couldTake(i, sj.Offset < 0); ok {
		own = Resort{Code: ResortSwap, Name: other, Note: q.Chord.Spell(s.Note)}
		all = append(all, own)
	}
	if path, a, ok := q.otherwise(s, sj); ok {
		own = Resort{Code: ResortPath, Path: path, Steps: a.Steps}
		all = slices.Insert(all, 0, own)
	}
	if j.Aim.Anchor != AnchorConsensus && q.Tuning != Keyboard {
		all = append(all, Resort{Code: ResortAnchor, Anchor: j.Aim.Anchor})
	}
	return all, own
}

// otherwise finds another fingering on which a slide that moves while playing
// brings the note all the way home, by what the instrument's model says of the
// difference between the two.
func (q Question) otherwise(s Seat, sj SeatJudgement) (instrument.Path, slide.Advice, bool) {
	now := s.Instrument.Pitch(sj.Path, s.Settings, s.Air)
	for _, p := range sj.Alternates {
		r := *s.Reading
		r.Hz = r.Hz.Shift(pitch.Between(now, s.Instrument.Pitch(p, s.Settings, s.Air)))
		s.Path = p
		a := q.advise(s, sj.Target.Hz, r)
		if a.Kind == slide.Move && !slices.ContainsFunc(a.Steps, func(st slide.Step) bool { return st.ShortBy != 0 }) {
			return p, a, true
		}
	}
	return instrument.Path{}, slide.Advice{}, false
}

// octave is how far a chair may be sent from its own tone to take another's:
// further it would be another voice.
const octave = 12

// couldTake finds a chair that could play seat i's note with a slide that
// moves the wanted way while playing, and whose own note seat i could play.
func (q Question) couldTake(i int, flat bool) (string, bool) {
	s := q.Seats[i]
	for k, other := range q.Seats {
		if k == i || other.Instrument == nil || other.Note == s.Note || max(other.Note-s.Note, s.Note-other.Note) > octave ||
			!within(s.Note, other.Instrument) || !within(other.Note, s.Instrument) {
			continue
		}
		other.Note, other.Path = s.Note, instrument.Path{}
		path, _ := ways(other)
		if path != (instrument.Path{}) && other.hasRoom(path, flat) {
			return other.Name, true
		}
	}
	return "", false
}

func within(n pitch.Note, in *instrument.Instrument) bool { return n >= in.Low && n <= in.High }

// hasRoom reports whether a slide that moves while playing serves the path and
// can go in, for a flat note, or out.
func (s Seat) hasRoom(p instrument.Path, flat bool) bool {
	for _, sl := range s.Instrument.Slides {
		if !sl.WhilePlaying || sl.ID == instrument.Main || !s.Instrument.Serves(sl.ID, p) {
			continue
		}
		if !flat || sl.ID == instrument.Hand && p.Position > 1 || s.Settings[sl.ID] > 0 {
			return true
		}
	}
	return false
}
