package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"bellrow/hub/intonation"
	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

const chordSynopsis = `--tones NOTE=HZ[@INSTRUMENT[:FINGERING]],... [--chord NAME] [options]

Judges a chord: where each tone belongs, which pairs beat, what to move.

Notes are concert notes. A plain HZ stands for the note nearest to it. The
usual fingering or position is taken unless one is given, as 1-3 or 4th position.
Without --chord the chord is told from what sounds. For example:

  bellrow chord --chord "Bb major first inversion" \
    --tones D3=147.6@tenor_trombone_bb,F3=174.8,Bb3=233.1,D4=292@trumpet_bb:3`

// maxTones bounds a chord typed on the command line.
const maxTones = 100

// chordFlags holds the command line as typed.
type chordFlags struct {
	tones, chord, tuning, anchor string
	a4, good, watch              float64
	json                         bool
}

func runChord(_ context.Context, e env, args []string) error {
	var f chordFlags
	fs := flagSet(e, "chord", chordSynopsis)
	fs.StringVar(&f.tones, "tones", "", "what sounds: NOTE=HZ with commas between, @INSTRUMENT after a tone to get its moves")
	fs.StringVar(&f.chord, "chord", "", "the chord that was called: \"Bb major\", Bb7, Cm7/Eb")
	fs.StringVar(&f.tuning, "tuning", string(intonation.Just), "just, equal, or keyboard where a fixed pitch plays along")
	fs.StringVar(&f.anchor, "anchor", string(intonation.AnchorConsensus), "what the chord hangs from: bass, reference or consensus")
	fs.Float64Var(&f.a4, "a4", float64(pitch.StandardA4), "reference A in Hz")
	fs.Float64Var(&f.good, "good", float64(intonation.DefaultGood), "band within which a tone is set, in cents")
	fs.Float64Var(&f.watch, "watch", float64(intonation.DefaultWatch), "band beyond which a tone is out, in cents")
	fs.BoolVar(&f.json, "json", false, "print JSON")
	if err := parse(fs, args); err != nil {
		return err
	}
	if fs.NArg() > 0 {
		return misused("options begin with --; put a chord of several words in quotes", "%q is not an option", fs.Arg(0))
	}
	q, told, err := f.question()
	if err != nil {
		return err
	}
	j := intonation.Judge(q)
	if f.json {
		enc := json.NewEncoder(e.stdout)
		enc.SetIndent("", "  ")
		return enc.Encode(chordReport(q, told, j))
	}
	return printChord(e.stdout, q, told, j)
}

// question turns the command line into a chord to be judged, and says how the
// chord was told when it was not named.
func (f chordFlags) question() (q intonation.Question, told string, err error) {
	if q.Reference, err = pitch.NewReference(pitch.Hertz(f.a4)); err != nil {
		return q, "", misused("orchestras play between 438 and 446 Hz", "%v", err)
	}
	if q.Tuning, err = intonation.ParseTuning(f.tuning); err != nil {
		return q, "", misused("just suits brass alone; keyboard is for a piano in the room", "%v", err)
	}
	if q.Anchor, err = intonation.ParseAnchor(f.anchor); err != nil {
		return q, "", misused("consensus lets the group stand where it stands", "%v", err)
	}
	if !(f.good > 0 && f.watch >= f.good && f.watch <= maxTypedCents) {
		return q, "", misused("for example --good 5 --watch 10", "bands of %g and %g cents make no sense", f.good, f.watch)
	}
	q.Good, q.Watch = pitch.Cents(f.good), pitch.Cents(f.watch)
	if q.Seats, err = typedSeats(f.tones, q.Reference); err != nil {
		return q, "", err
	}
	if f.chord != "" {
		if q.Chord, err = intonation.ParseChord(f.chord); err != nil {
			return q, "", misused("for example --chord \"Bb major first inversion\"", "%v", err)
		}
		return q, "", nil
	}
	found := intonation.Infer(soundingOf(q.Seats), q.Reference)
	if len(found) == 0 {
		return q, "", say("name it with --chord", "%s", intonation.Say(found))
	}
	q.Chord = found[0].Chord
	return q, intonation.Say(found), nil
}

func soundingOf(seats []intonation.Seat) []intonation.Reading {
	readings := make([]intonation.Reading, len(seats))
	for i, s := range seats {
		readings[i] = intonation.Reading{Hz: s.Reading.Hz, CI95: s.Reading.CI95}
	}
	return readings
}

func typedSeats(tones string, ref pitch.Reference) ([]intonation.Seat, error) {
	if strings.TrimSpace(tones) == "" {
		return nil, misused("for example --tones Bb2=116.4,F3=174.9,D4=293", "no tones to judge")
	}
	list := strings.Split(tones, ",")
	if len(list) > maxTones {
		return nil, misused("judge a section at a time", "%d tones, at most %d", len(list), maxTones)
	}
	var seats []intonation.Seat
	named := map[string]int{}
	for i, t := range list {
		s, err := typedSeat(strings.TrimSpace(t), ref)
		if err != nil {
			return nil, err
		}
		s.Chair = intonation.Chair(i + 1)
		if named[s.Name]++; named[s.Name] > 1 {
			s.Name = fmt.Sprintf("%s (%d)", s.Name, named[s.Name])
		}
		seats = append(seats, s)
	}
	return seats, nil
}

func typedSeat(t string, ref pitch.Reference) (intonation.Seat, error) {
	rest, id, played := strings.Cut(t, "@")
	name, number, both := strings.Cut(rest, "=")
	if !both {
		name, number = "", rest
	}
	hz, err := strconv.ParseFloat(strings.TrimSpace(number), 64)
	if err != nil || !(hz >= minTypedHz && hz <= maxTypedHz) {
		return intonation.Seat{}, misused("write a tone as D3=147.6", "%q has no frequency of %d to %d Hz", t, minTypedHz, maxTypedHz)
	}
	s := intonation.Seat{Reading: &slide.Reading{Hz: pitch.Hertz(hz), CI95: typedCI, Settled: true}}
	if s.Note, _ = ref.Nearest(pitch.Hertz(hz)); both {
		if s.Note, err = pitch.ParseNote(strings.TrimSpace(name)); err != nil {
			return s, misused("write a tone as D3=147.6", "%v", err)
		}
	}
	s.Name = s.Note.Display()
	if !played {
		return s, nil
	}
	if err := playedOn(&s, id); err != nil {
		return s, err
	}
	s.Name += " (" + s.Instrument.Name + ")"
	return s, nil
}

// playedOn reads the instrument of a tone and, after a colon, its fingering.
func playedOn(s *intonation.Seat, typed string) (err error) {
	id, way, fingered := strings.Cut(typed, ":")
	if s.Instrument, err = instrument.Find(instrument.ID(strings.TrimSpace(id))); err != nil {
		return misused("bellrow instruments lists them", "%v", err)
	}
	if len(s.Instrument.Paths(s.Note)) == 0 {
		return misused("check the octave and the instrument", "%s is out of reach of the %s", s.Note.Display(), s.Instrument.Name)
	}
	if !fingered {
		return nil
	}
	path, err := instrument.ParsePath(strings.TrimSpace(way))
	if err == nil {
		s.Path, err = s.Instrument.Resolve(path, s.Note)
	}
	if err != nil {
		return misused("write it as 1-3, open, Bb side 2 or 4th position", "%v", err)
	}
	return nil
}

// The frequencies that brass sounds, with room for a piccolo trumpet above and
// pedal notes below.
const (
	minTypedHz = 10
	maxTypedHz = 4000
)

func printChord(w io.Writer, q intonation.Question, told string, j intonation.Judgement) error {
	var b strings.Builder
	fmt.Fprintln(&b, j.Name)
	if told != "" && told != j.Name {
		fmt.Fprintf(&b, "It %s; judged as the first. Choose with --chord.\n", told)
	}
	fmt.Fprintln(&b, j.Sentence)
	if j.Aim.Why != "" {
		fmt.Fprintln(&b, j.Aim.Why)
	}
	fmt.Fprintln(&b)
	for i, s := range j.Seats {
		fmt.Fprintf(&b, "  %-6s %s, %s; belongs at %.2f Hz\n", s.Verdict, q.Seats[i].Name, s.Words, float64(s.Target.Hz))
		if s.Advice.Headline != "" && s.Verdict != intonation.Set {
			fmt.Fprintf(&b, "         %s %s\n", s.Advice.Headline, s.Advice.Detail)
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

// chordJSON is the answer for machines.
type chordJSON struct {
	Chord    string      `json:"chord"`
	Told     string      `json:"told,omitempty"` // how it was told when not named
	Tuning   string      `json:"tuning"`
	Anchor   string      `json:"anchor"`
	Why      string      `json:"why,omitempty"`
	Shift    float64     `json:"shift_cents"`
	Rings    bool        `json:"rings"`
	Sentence string      `json:"sentence"`
	Tones    []toneJSON  `json:"tones"`
	Beats    []beatsJSON `json:"beats"`
}

type toneJSON struct {
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

type beatsJSON struct {
	Low   string  `json:"low"`
	High  string  `json:"high"`
	Ratio string  `json:"ratio"`
	Rate  float64 `json:"per_second"`
	Words string  `json:"words"`
}

func chordReport(q intonation.Question, told string, j intonation.Judgement) chordJSON {
	out := chordJSON{Chord: q.Chord.String(), Told: told, Tuning: string(q.Tuning), Anchor: string(j.Aim.Anchor), Why: j.Aim.Why,
		Shift: hundredths(j.Aim.Shift), Rings: j.Rings, Sentence: j.Sentence, Tones: []toneJSON{}, Beats: []beatsJSON{}}
	for i, s := range j.Seats {
		t := toneJSON{Note: q.Seats[i].Note.String(), Tone: s.Target.Tone.Name, Source: s.Target.Tone.Source,
			Hz: float64(q.Seats[i].Reading.Hz), Target: float64(s.Target.Hz), Cents: hundredths(s.Offset), CI95: float64(s.CI95),
			Verdict: s.Verdict, Advice: s.Advice.Headline, Code: s.Advice.Code, Steps: s.Advice.Steps, Instead: s.Instead}
		if s.Target.Tone.Ratio.Num > 0 {
			t.Ratio = s.Target.Tone.Ratio.String()
		}
		for _, p := range s.Alternates {
			t.Others = append(t.Others, p.String())
		}
		out.Tones = append(out.Tones, t)
	}
	for _, b := range j.Beats {
		out.Beats = append(out.Beats, beatsJSON{seatName(q, b.Low), seatName(q, b.High), b.Ratio.String(), b.PerSecond, b.Words})
	}
	return out
}

// hundredths rounds to what a reading can carry, and more.
func hundredths(c pitch.Cents) float64 { return math.Round(100*float64(c)) / 100 }
