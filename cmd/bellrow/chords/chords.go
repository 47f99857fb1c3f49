// Package chords judges a chord that was typed: what sounds, in hertz.
package chords

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"bellrow/cmd/bellrow/advise"
	"bellrow/cmd/bellrow/plain"
	"bellrow/hub/intonation"
	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// maxTones bounds a chord typed on the command line.
const maxTones = 100

// Answer is a chord as it was judged.
type Answer struct {
	question  intonation.Question
	told      string // how the chord was told when it was not named
	judgement intonation.Judgement
	style     pitch.Style // how notes are named for people
}

// Judge judges tones, as typed after --tones, by a question that has no seats
// yet. Without a name the chord is told from what sounds.
func Judge(q intonation.Question, tones, name string, notes *plain.Notes) (Answer, error) {
	q, told, err := question(q, tones, name, notes)
	if err != nil {
		return Answer{}, err
	}
	return Answer{q, told, intonation.Judge(q), notes.Style}, nil
}

func question(q intonation.Question, tones, chord string, notes *plain.Notes) (_ intonation.Question, told string, err error) {
	if q.Seats, err = typedSeats(tones, q.Reference, notes); err != nil {
		return q, "", err
	}
	y := notes.Style
	if chord != "" {
		p, err := intonation.ParseChordIn(y.Naming, chord)
		if q.Chord = p.Chord; err != nil {
			return q, "", plain.Misuse("for example --chord \"Bb major first inversion\"", "%v", err)
		}
		for _, or := range p.Or {
			notes.Root(chord, p.Chord.RootName(), or.RootName())
		}
		notes.Root(chord, p.Chord.RootName())
		nameSeats(q, y)
		return q, "", nil
	}
	found := intonation.Infer(soundingOf(q.Seats), q.Reference)
	if len(found) == 0 {
		return q, "", plain.Fail("name it with --chord", "%s", intonation.Say(found, y.Naming))
	}
	q.Chord = found[0].Chord
	nameSeats(q, y)
	return q, intonation.Say(found, y.Naming), nil
}

// nameSeats calls every seat by its note as the chord spells it, with the
// instrument and, from the second of that name on, a number.
func nameSeats(q intonation.Question, y pitch.Style) {
	named := map[string]int{}
	for i := range q.Seats {
		s := &q.Seats[i]
		s.Name = y.Both(q.Chord.Spell(s.Note))
		if s.Instrument != nil {
			s.Name += " (" + s.Instrument.Name + ")"
		}
		if named[s.Name]++; named[s.Name] > 1 {
			s.Name = fmt.Sprintf("%s (%d)", s.Name, named[s.Name])
		}
	}
}

func soundingOf(seats []intonation.Seat) []intonation.Reading {
	readings := make([]intonation.Reading, len(seats))
	for i, s := range seats {
		readings[i] = intonation.Reading{Hz: s.Reading.Hz, CI95: s.Reading.CI95}
	}
	return readings
}

func typedSeats(tones string, ref pitch.Reference, notes *plain.Notes) ([]intonation.Seat, error) {
	if strings.TrimSpace(tones) == "" {
		return nil, plain.Misuse("for example --tones Bb2=116.4,F3=174.9,D4=293", "no tones to judge")
	}
	list := strings.Split(tones, ",")
	if len(list) > maxTones {
		return nil, plain.Misuse("judge a section at a time", "%d tones, at most %d", len(list), maxTones)
	}
	var seats []intonation.Seat
	for i, t := range list {
		s, err := typedSeat(strings.TrimSpace(t), ref, notes)
		if err != nil {
			return nil, err
		}
		s.Chair = intonation.Chair(i + 1)
		seats = append(seats, s)
	}
	return seats, nil
}

func typedSeat(t string, ref pitch.Reference, notes *plain.Notes) (intonation.Seat, error) {
	rest, id, played := strings.Cut(t, "@")
	name, number, both := strings.Cut(rest, "=")
	if !both {
		name, number = "", rest
	}
	hz, err := strconv.ParseFloat(strings.TrimSpace(number), 64)
	if err != nil || !(hz >= minTypedHz && hz <= maxTypedHz) {
		return intonation.Seat{}, plain.Misuse("write a tone as D3=147.6", "%q has no frequency of %d to %d Hz", t, minTypedHz, maxTypedHz)
	}
	s := intonation.Seat{Reading: &slide.Reading{Hz: pitch.Hertz(hz), CI95: advise.TypedCI, Settled: true}}
	if s.Note, _ = ref.Nearest(pitch.Hertz(hz)); both {
		n, err := notes.Parse(strings.TrimSpace(name))
		if err != nil {
			return s, plain.Misuse("write a tone as "+notes.Style.Of(50)+"=147.6", "%v", err)
		}
		s.Note = n.Note()
		if sounds, _ := ref.Nearest(pitch.Hertz(hz)); math.Abs(float64(ref.Offset(s.Note, pitch.Hertz(hz)))) > farCents {
			return s, plain.Misuse("name the note that sounds, or leave the name out", "%g Hz sounds as %s, not as %s", hz, notes.Style.Of(sounds), notes.Style.Note(n))
		}
	}
	if !played {
		return s, nil
	}
	return s, playedOn(&s, id, notes.Style)
}

// playedOn reads the instrument of a tone and, after a colon, its fingering.
func playedOn(s *intonation.Seat, typed string, y pitch.Style) (err error) {
	id, way, fingered := strings.Cut(typed, ":")
	if s.Instrument, err = instrument.Find(instrument.ID(strings.TrimSpace(id))); err != nil {
		return plain.Misuse("bellrow instruments lists them", "%v", err)
	}
	if len(s.Instrument.Paths(s.Note)) == 0 {
		return plain.Misuse("check the octave and the instrument", "%s is out of reach of the %s", y.Of(s.Note), s.Instrument.Name)
	}
	if !fingered {
		return nil
	}
	path, err := instrument.ParsePath(strings.TrimSpace(way))
	if err == nil {
		s.Path, err = s.Instrument.Resolve(path, s.Note)
	}
	if err != nil {
		return plain.Misuse("write it as 1-3, open, Bb side 2 or 4th position", "%v", err)
	}
	return nil
}

// The frequencies that brass sounds, with room for a piccolo trumpet above and
// pedal notes below.
const (
	minTypedHz = 10
	maxTypedHz = 4000
)

// farCents is how far from its name a typed tone may lie: a semitone. What
// lies farther off is another note, or a slip.
const farCents = 100

// Print says it to people.
func (a Answer) Print(w io.Writer) error {
	q, told, j := a.question, a.told, a.judgement
	var b strings.Builder
	name := q.Chord.NameIn(a.style.Naming)
	fmt.Fprintln(&b, name)
	if told != "" && told != name {
		fmt.Fprintf(&b, "It %s; judged as the first. Choose with --chord.\n", told)
	}
	fmt.Fprintln(&b, j.Say(a.style))
	if j.Aim.Why != "" {
		fmt.Fprintln(&b, j.Aim.Why)
	}
	fmt.Fprintln(&b)
	for i, s := range j.Seats {
		fmt.Fprintf(&b, "  %-6s %s, %s; belongs at %.2f Hz\n", s.Verdict, q.Seats[i].Name, s.Words, float64(s.Target.Hz))
		if say := slide.Say(s.Advice); say.Headline != "" && s.Verdict != intonation.Set {
			fmt.Fprintf(&b, "         %s %s\n", say.Headline, say.Detail)
		}
		for _, other := range s.Instead {
			fmt.Fprintf(&b, "         Or: %s\n", other)
		}
	}
	for i, beat := range j.Beats {
		if i == 0 {
			fmt.Fprintln(&b)
		}
		fmt.Fprintf(&b, "  %s with %s %s (%s)\n", seatName(q, beat.Low), seatName(q, beat.High), beat.Words, beat.Ratio)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func seatName(q intonation.Question, chair intonation.Chair) string {
	for _, s := range q.Seats {
		if s.Chair == chair {
			return s.Name
		}
	}
	return ""
}

// Report is the answer for machines.
type Report struct {
	Chord    string  `json:"chord"`
	Told     string  `json:"told,omitempty"` // how it was told when not named
	Tuning   string  `json:"tuning"`
	Anchor   string  `json:"anchor"`
	Why      string  `json:"why,omitempty"`
	Shift    float64 `json:"shift_cents"`
	Rings    bool    `json:"rings"`
	Sentence string  `json:"sentence"`
	Tones    []Tone  `json:"tones"`
	Beats    []Beats `json:"beats"`
}

// Tone is one tone of a Report.
type Tone struct {
	Note    string       `json:"note"`
	Tone    string       `json:"tone,omitempty"`
	Ratio   string       `json:"ratio,omitempty"`
	Source  string       `json:"source,omitempty"`
	Hz      float64      `json:"hz"`
	Target  float64      `json:"target_hz"`
	Cents   float64      `json:"cents"`
	CI95    float64      `json:"ci95_cents"`
	Verdict string       `json:"verdict"`
	Advice  string       `json:"advice,omitempty"`
	Code    string       `json:"code,omitempty"`
	Steps   []slide.Step `json:"steps,omitempty"`
	Others  []string     `json:"other_ways,omitempty"`
	Instead []string     `json:"instead,omitempty"`
}

// Beats is a pair of tones that beat.
type Beats struct {
	Low   string  `json:"low"`
	High  string  `json:"high"`
	Ratio string  `json:"ratio"`
	Rate  float64 `json:"per_second"`
	Words string  `json:"words"`
}

// Report is the answer in figures.
func (a Answer) Report() Report {
	q, told, j := a.question, a.told, a.judgement
	out := Report{Chord: q.Chord.String(), Told: told, Tuning: string(q.Tuning), Anchor: string(j.Aim.Anchor), Why: j.Aim.Why,
		Shift: hundredths(j.Aim.Shift), Rings: j.Rings, Sentence: j.Sentence, Tones: []Tone{}, Beats: []Beats{}}
	for i, s := range j.Seats {
		t := Tone{Note: q.Seats[i].Note.String(), Tone: s.Target.Tone.Name, Source: s.Target.Tone.Source,
			Hz: float64(q.Seats[i].Reading.Hz), Target: float64(s.Target.Hz), Cents: hundredths(s.Offset), CI95: float64(s.CI95),
			Verdict: s.Verdict, Advice: slide.Say(s.Advice).Headline, Code: s.Advice.Code, Steps: s.Advice.Steps, Instead: s.Instead}
		if s.Target.Tone.Ratio.Num > 0 {
			t.Ratio = s.Target.Tone.Ratio.String()
		}
		for _, p := range s.Alternates {
			t.Others = append(t.Others, p.String())
		}
		out.Tones = append(out.Tones, t)
	}
	for _, b := range j.Beats {
		out.Beats = append(out.Beats, Beats{seatName(q, b.Low), seatName(q, b.High), b.Ratio.String(), b.PerSecond, b.Words})
	}
	return out
}

// hundredths rounds to what a reading can carry, and more.
func hundredths(c pitch.Cents) float64 { return math.Round(100*float64(c)) / 100 }
