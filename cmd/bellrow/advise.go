package main

import (
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"math"
	"os"
	"strconv"
	"strings"

	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// adviser is the advise command: slide moves without a hub.
type adviser struct {
	instrument *instrument.Instrument
	note       pitch.Note
	path       instrument.Path
	settings   instrument.Settings
	travel     instrument.Settings
	air        instrument.Air
	reference  pitch.Reference
	good       pitch.Cents
	purpose    slide.Purpose
	order      slide.HornOrder
	json       bool
}

// adviseFlags holds the command line as typed.
type adviseFlags struct {
	instrument, note, written, fingering, position, readings string
	cents, ci, a4, good                                      float64
	temperature                                              float64
	settings, travel                                         slideFlag
	chord, json, fFirst                                      bool
}

const adviseSynopsis = `--instrument ID --cents N [--note Bb4] [options]
       bellrow advise --instrument ID --readings FILE [options]

Says which slide to move, which way and how many millimetres.

FILE holds one note a line, "NOTE CENTS [FINGERING]", for example "Bb4 +12" or
"C4 +20 1-3", or the lines of "bellrow read --json". Notes are concert notes.`

// What a reading typed by hand is taken to be good for, and the bounds of
// what makes sense on the command line.
const (
	typedCI        = 2.0  // cents, as a settled reading
	maxTypedCents  = 2400 // two octaves: more is a typing mistake
	minTypedAir    = -10  // °C
	maxTypedAir    = 45
	worthAirCents  = 5 // cents of temperature worth a word
	readingsMaxLen = 1 << 20
)

func runAdvise(_ context.Context, e env, args []string) error {
	var f adviseFlags
	fs := f.flags(e)
	if err := parse(fs, args); err != nil {
		return err
	}
	if fs.NArg() > 0 {
		return misused("options begin with --; for example --cents 12", "%q is not an option", fs.Arg(0))
	}
	a, err := f.adviser()
	if err != nil {
		return err
	}
	given := map[string]bool{}
	fs.Visit(func(fl *flag.Flag) { given[fl.Name] = true })
	if given["temperature"] {
		if a.air, err = air(f.temperature); err != nil {
			return err
		}
	}
	switch {
	case f.readings != "" && given["cents"]:
		return misused("give one or the other", "--cents and --readings were both given")
	case f.readings != "":
		return a.several(e, f.readings)
	case given["cents"]:
		return a.one(e.stdout, pitch.Cents(f.cents), pitch.Cents(f.ci))
	}
	return misused("for example --cents 12 for 12 cents sharp, --cents -8 for 8 flat", "no reading was given")
}

func (f *adviseFlags) flags(e env) *flag.FlagSet {
	fs := flagSet(e, "advise", adviseSynopsis)
	fs.StringVar(&f.instrument, "instrument", "", "`ID` from bellrow instruments")
	fs.StringVar(&f.note, "note", "", "the concert `NOTE` that was called; the instrument's tuning B flat when left out (F for horns)")
	fs.StringVar(&f.written, "written", "", "the note as written for this instrument, instead of --note")
	fs.StringVar(&f.fingering, "fingering", "", "how it was played: open, 1-3, \"Bb side 2\"; the usual way when left out")
	fs.StringVar(&f.position, "position", "", "the hand-slide position: 4, \"F 6\"")
	fs.Float64Var(&f.cents, "cents", 0, "where the note settled, in `CENTS`: positive is sharp")
	fs.Float64Var(&f.ci, "ci", typedCI, "how far --cents may be off, in `CENTS`")
	fs.StringVar(&f.readings, "readings", "", "several notes from a `FILE`, - for standard input")
	fs.Var(&f.settings, "setting", "where a slide stands, `SLIDE=MM` out; may be repeated")
	fs.Var(&f.travel, "travel", "how far a slide really goes, `SLIDE=MM`; may be repeated")
	fs.Float64Var(&f.temperature, "temperature", instrument.DefaultAir.TemperatureC, "temperature of the air in the room, in °`C`")
	fs.Float64Var(&f.a4, "a4", float64(pitch.StandardA4), "reference pitch A4 in `Hz`")
	fs.Float64Var(&f.good, "good", float64(slide.DefaultGood), "what counts as in tune, in `CENTS`")
	fs.BoolVar(&f.chord, "chord", false, "the note is a chord tone: leave the main slide")
	fs.BoolVar(&f.fFirst, "f-side-first", false, "double horn: set the main slide on the F side")
	fs.BoolVar(&f.json, "json", false, "print JSON")
	return fs
}

// adviser checks what was typed; each mistake is one sentence and a hint.
func (f *adviseFlags) adviser() (*adviser, error) {
	in, err := findInstrument(f.instrument)
	if err != nil {
		return nil, err
	}
	a := &adviser{instrument: in, json: f.json, purpose: slide.Tuning}
	if f.chord {
		a.purpose = slide.Balance
	}
	if f.fFirst {
		a.order = slide.FSideFirst
	}
	if a.reference, err = pitch.NewReference(pitch.Hertz(f.a4)); err != nil {
		return nil, misused("the usual reference is 440, 442 or 443", "%v", err)
	}
	if !(f.good >= 1 && f.good <= 50) {
		return nil, misused("5 is usual, 10 for schools", "a tolerance of %g cents makes no sense", f.good)
	}
	a.good = pitch.Cents(f.good)
	if a.travel, err = f.travel.on(in, 0); err != nil {
		return nil, err
	}
	a.instrument = in.WithTravel(a.travel)
	if a.settings, err = f.settings.on(a.instrument, 1); err != nil {
		return nil, err
	}
	if err := f.number(); err != nil {
		return nil, err
	}
	return a, f.play(a)
}

// number checks the reading typed.
func (f *adviseFlags) number() error {
	if !(math.Abs(f.cents) <= maxTypedCents) {
		return misused("cents run from -50 to +50 between neighbouring notes", "a reading of %g cents makes no sense", f.cents)
	}
	if !(f.ci >= 0 && f.ci <= 100) {
		return misused("2 is usual for a settled note", "an interval of %g cents makes no sense", f.ci)
	}
	return nil
}

// play finds the note and how it is played.
func (f *adviseFlags) play(a *adviser) (err error) {
	in := a.instrument
	a.note = tuningNote(in)
	switch {
	case f.note != "" && f.written != "":
		return misused("give one or the other", "--note and --written were both given")
	case f.note != "":
		a.note, err = pitch.ParseNote(f.note)
	case f.written != "":
		a.note, err = pitch.ParseNote(f.written)
		a.note = in.Sounding(a.note)
	}
	if err != nil {
		return misused("for example --note Bb4", "%v", err)
	}
	if len(in.Paths(a.note)) == 0 {
		return misused(fmt.Sprintf("it usually sounds from %s to %s", in.Low.Display(), in.High.Display()),
			"the %s does not play %s", strings.ToLower(in.Name[:1])+in.Name[1:], a.note.Display())
	}
	return f.fingered(a)
}

func (f *adviseFlags) fingered(a *adviser) (err error) {
	text := f.fingering
	switch {
	case f.fingering != "" && f.position != "":
		return misused("give one or the other", "--fingering and --position were both given")
	case f.position != "":
		text = f.position
		if !strings.Contains(strings.ToLower(text), "pos") {
			text += " position"
		}
	case text == "":
		return nil
	}
	if a.path, err = instrument.ParsePath(text); err != nil {
		return misused("write it as open, 1-3, \"Bb side 2\", or --position 4", "%q is not a fingering or position", text)
	}
	if a.path, err = a.instrument.Resolve(a.path, a.note); err != nil {
		return misused("it is usually played "+wayOf(a.instrument, a.note), "%s is not played with %q on this instrument", a.note.Display(), text)
	}
	return nil
}

// wayOf lists the ways of playing a note.
func wayOf(in *instrument.Instrument, n pitch.Note) string {
	const ways = 3
	var names []string
	for i, p := range in.Paths(n) {
		if i < ways {
			names = append(names, p.String())
		}
	}
	return strings.Join(names, " or ")
}

// tuningNote is the B flat of an instrument, and the F of horns, which B flat
// suits poorly (J. Barnes, The Instrumentalist, May 2010).
func tuningNote(in *instrument.Instrument) pitch.Note {
	const bFlat, f = 10, 5
	if in.Family == "horn" && in.Transposition == -7 {
		return in.TuningNote(f)
	}
	return in.TuningNote(bFlat)
}

func findInstrument(id string) (*instrument.Instrument, error) {
	if id == "" {
		return nil, misused("bellrow instruments lists them; for example --instrument trumpet_bb", "no instrument was named")
	}
	in, err := instrument.Find(instrument.ID(id))
	if err != nil {
		return nil, misused("bellrow instruments lists them all", "%s", strings.TrimPrefix(err.Error(), "instrument: "))
	}
	return in, nil
}

func air(t float64) (instrument.Air, error) {
	if !(t >= minTypedAir && t <= maxTypedAir) {
		return instrument.Air{}, misused(fmt.Sprintf("give the room in °C, %d to %d", minTypedAir, maxTypedAir), "a temperature of %g °C makes no sense in a rehearsal", t)
	}
	a := instrument.DefaultAir
	a.TemperatureC = t
	return a, nil
}

// adviseAnswer is what --json prints.
type adviseAnswer struct {
	Instrument instrument.ID `json:"instrument"`
	Note       string        `json:"note,omitempty"`    // concert
	Written    string        `json:"written,omitempty"` // for this instrument
	Played     string        `json:"played,omitempty"`
	slide.Advice
	TheoryCents *float64      `json:"theory_cents,omitempty"` // shown beside, never applied
	Shares      []slide.Share `json:"shares,omitempty"`
	Notes       []slide.Fit   `json:"notes,omitempty"`
	Remark      string        `json:"remark,omitempty"`
}

// one answers a single reading.
func (a *adviser) one(w io.Writer, cents, ci pitch.Cents) error {
	target := a.reference.Frequency(a.note)
	path := a.path
	if path == (instrument.Path{}) {
		path = a.instrument.Paths(a.note)[0]
	}
	theory := float64(a.instrument.Tendency(path))
	advice := slide.Advise(slide.Input{
		Instrument: a.instrument, Path: path, Note: a.note, Target: target,
		Reading:  slide.Reading{Hz: target.Shift(cents), CI95: ci, Settled: true},
		Settings: a.settings, Travel: a.travel, Air: a.air, Purpose: a.purpose, Good: a.good,
	})
	ans := adviseAnswer{
		Instrument: a.instrument.ID, Note: a.note.String(), Written: a.instrument.Written(a.note).String(), Played: path.String(),
		Advice: advice, TheoryCents: &theory, Remark: a.remark(),
	}
	return a.print(w, ans)
}

// several answers the notes of a file.
func (a *adviser) several(e env, path string) error {
	r := io.Reader(e.stdin)
	if path != "-" {
		f, err := os.Open(path)
		if err != nil {
			return say("check the name and try again", "%s cannot be read: %v", path, errors.Unwrap(err))
		}
		defer f.Close()
		r = f
	}
	heard, err := a.parseReadings(path, r)
	if err != nil {
		return err
	}
	s, err := slide.Solve(slide.Problem{
		Instrument: a.instrument, Settings: a.settings, Travel: a.travel, Heard: heard, Good: a.good, HornOrder: a.order,
	})
	if errors.Is(err, slide.ErrNoNotes) {
		return say("a note more than 60 cents out is another note; check names and octaves", "%s holds no settled note near its name", path)
	}
	if err != nil {
		return err
	}
	return a.print(e.stdout, adviseAnswer{Instrument: a.instrument.ID, Advice: s.Advice, Shares: s.Shares, Notes: s.Notes, Remark: a.remark()})
}

// remark says what the temperature could do. It is theory, shown beside the
// move and never part of it: a played instrument follows the room only partly.
func (a *adviser) remark() string {
	if a.air == (instrument.Air{}) {
		return ""
	}
	p := instrument.Path{Partial: 1}
	x := float64(pitch.Between(a.instrument.Pitch(p, nil, instrument.Air{}), a.instrument.Pitch(p, nil, a.air)))
	if math.Abs(x) < worthAirCents {
		return ""
	}
	way := "higher"
	if x < 0 {
		way = "lower"
	}
	return fmt.Sprintf("Air at %g °C puts an instrument up to %.0f cents %s than at 20 °C; warm up before moving a slide.", a.air.TemperatureC, math.Abs(x), way)
}

func (a *adviser) print(w io.Writer, ans adviseAnswer) error {
	if a.json {
		enc := json.NewEncoder(w)
		enc.SetEscapeHTML(false)
		return enc.Encode(ans)
	}
	_, err := io.WriteString(w, ans.text())
	return err
}

// text is the answer for people: what to do first, the small print last.
func (ans adviseAnswer) text() string {
	var b strings.Builder
	line := func(s string) {
		if s != "" {
			fmt.Fprintln(&b, s)
		}
	}
	line(ans.Headline)
	line(ans.Detail)
	line(ans.Next)
	line(ans.Remark)
	if len(ans.Shares) > 0 {
		fmt.Fprintln(&b)
		for _, s := range ans.Shares {
			line("  " + shareLine(s))
		}
	}
	if ans.Small != "" {
		small := ans.Small
		if t := ans.TheoryCents; t != nil && math.Abs(*t) >= 1 {
			small += fmt.Sprintf("; theory for %s: %+.0f", ans.Played, *t)
		}
		line("(" + small + ")")
	}
	return b.String()
}

func shareLine(s slide.Share) string {
	text := fmt.Sprintf("%-22s %+4.0f cents, give or take %.0f", s.Name, float64(s.Cents), math.Ceil(float64(s.CI95)))
	switch {
	case s.Slide != "":
		text += fmt.Sprintf(" (%+.0f mm, give or take %.0f)", s.MM, math.Ceil(s.MMCI95))
	case s.Partial != 0 && math.Abs(float64(s.Theory)) >= 1:
		text += fmt.Sprintf("; theory %+.0f", float64(s.Theory))
	}
	return text
}

// slideFlag collects repeated SLIDE=MM.
type slideFlag []string

func (s *slideFlag) String() string { return strings.Join(*s, " ") }

func (s *slideFlag) Set(v string) error {
	*s = append(*s, v)
	return nil
}

// on reads the pairs for an instrument. A setting may not exceed the slide's
// travel by more than slackMM; slackMM 0 means that any length may be told.
func (s slideFlag) on(in *instrument.Instrument, slackMM float64) (instrument.Settings, error) {
	set := instrument.Settings{}
	for _, pair := range s {
		name, value, ok := strings.Cut(pair, "=")
		mm, err := strconv.ParseFloat(value, 64)
		if !ok || err != nil || math.IsNaN(mm) || math.IsInf(mm, 0) {
			return nil, misused("write it as main=12", "%q does not say where a slide stands", pair)
		}
		sl, ok := in.Slide(instrument.SlideID(name))
		if !ok {
			return nil, misused("its slides are "+slideIDs(in), "the %s has no slide %q", strings.ToLower(in.Name[:1])+in.Name[1:], name)
		}
		if mm < 0 {
			return nil, misused("0 is closed", "the %s cannot stand at %g mm", sl.Name, mm)
		}
		if slackMM > 0 && mm > sl.TravelMM+slackMM {
			return nil, misused(fmt.Sprintf("if yours is longer, add --travel %s=MM", name),
				"the %s cannot stand at %g mm: it comes off at %.0f", sl.Name, mm, sl.TravelMM)
		}
		set[sl.ID] = mm
	}
	return set, nil
}

func slideIDs(in *instrument.Instrument) string {
	var ids []string
	for _, s := range in.Slides {
		if s.Legs > 0 {
			ids = append(ids, string(s.ID))
		}
	}
	return strings.Join(ids, ", ")
}
