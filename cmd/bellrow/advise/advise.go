// Package advise answers readings that were typed or read from files with
// slide moves, without a hub.
package advise

import (
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"bellrow/cmd/bellrow/plain"
	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// Typed is a question as it was typed. The zero value of most fields is the
// usual.
type Typed struct {
	Instrument *instrument.Instrument
	Note       pitch.Note // concert; the instrument's tuning note when 0
	Written    pitch.Note // instead of Note
	// Fingering or Position is how it was played: "1-3", "F 6"; the usual way
	// when both are empty.
	Fingering, Position string
	// Settings and Travel are SLIDE=MM: where slides stand, how far they go.
	Settings, Travel []string
	Air              instrument.Air // the room's; only a remark follows from it
	Fahrenheit       bool           // the room was typed so, and is said so
	Reference        pitch.Reference
	Good             pitch.Cents
	Chord            bool // a chord tone: the main slide stays
	FSideFirst       bool // double horn
	// Also are other notes of the same tune-up, "NOTE CENTS [FINGERING]": all count
	// for the main slide.
	Also    []string
	Mute    string       // one of slide.Mutes
	Vibrato pitch.Cents  // its extent, peak to peak
	Notes   *plain.Notes // how notes are typed and named; nil for English
}

// Adviser answers readings of one player.
type Adviser struct {
	instrument *instrument.Instrument
	note       pitch.Note
	path       instrument.Path
	settings   instrument.Settings
	travel     instrument.Settings
	others     []slide.Known
	typed      Typed
}

// TypedCI is what a reading typed by hand is taken to be good for, in cents:
// a settled reading's.
const TypedCI = 2.0

const (
	maxCents       = 2400 // two octaves: more is a typing mistake
	worthRoomCents = 4    // cents of temperature worth a word
	maxReadings    = 1 << 20
)

// New checks what was typed; each mistake is one sentence and a hint.
func New(t Typed) (*Adviser, error) {
	if t.Notes == nil {
		t.Notes = new(plain.Notes)
	}
	a := &Adviser{typed: t}
	var err error
	if a.travel, err = onSlides(t.Instrument, t.Travel, false); err != nil {
		return nil, err
	}
	a.instrument = t.Instrument.WithTravel(a.travel)
	if a.settings, err = onSlides(a.instrument, t.Settings, true); err != nil {
		return nil, err
	}
	if t.FSideFirst && !t.Instrument.Double {
		return nil, plain.Misuse("leave out --f-side-first", "the %s has no F side", lower(t.Instrument.Name))
	}
	if !slices.Contains(slide.Mutes, slide.Mute(t.Mute)) {
		return nil, plain.Misuse("straight, cup, stopped or other", "%q is no mute", t.Mute)
	}
	if err := a.play(); err != nil {
		return nil, err
	}
	for _, text := range t.Also {
		h, err := a.plainReading(text)
		if err != nil {
			return nil, plain.Misuse("write it as --also \"Bb4 +12\" or --also \"A4 +10 2\"", "%v", err)
		}
		a.others = append(a.others, slide.Known{Note: h.Note, Path: h.Path,
			Belief: slide.Belief{}.Read(pitch.Between(h.Target, h.Reading.Hz), h.Reading)})
	}
	return a, nil
}

// play finds the note and how it is played.
func (a *Adviser) play() error {
	in := a.instrument
	switch t := a.typed; {
	case t.Written != 0:
		a.note = in.Sounding(t.Written)
	case t.Note != 0:
		a.note = t.Note
	default:
		a.note = TuningNote(in)
	}
	if len(in.Paths(a.note)) == 0 {
		return plain.Misuse(fmt.Sprintf("it usually sounds from %s to %s", a.of(in.Low), a.of(in.High)),
			"the %s does not play %s", lower(in.Name), a.of(a.note))
	}
	return a.fingered()
}

func (a *Adviser) fingered() (err error) {
	text := a.typed.Fingering
	if p := a.typed.Position; p != "" {
		text = p
		if !strings.Contains(strings.ToLower(text), "pos") {
			text += " position"
		}
	}
	if text == "" {
		return nil
	}
	if a.path, err = instrument.ParsePath(text); err != nil {
		return plain.Misuse("write it as open, 1-3, \"Bb side 2\", or --position 4", "%q is not a fingering or position", text)
	}
	if a.path, err = a.instrument.Resolve(a.path, a.note); err != nil {
		return plain.Misuse("it is usually played "+wayOf(a.instrument, a.note), "%s is not played with %q on this instrument", a.of(a.note), text)
	}
	return nil
}

// of names a note as it was asked for.
func (a *Adviser) of(n pitch.Note) string { return a.typed.Notes.Style.Of(n) }

func lower(name string) string { return strings.ToLower(name[:1]) + name[1:] }

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

// TuningNote is the B flat of an instrument, and the F of horns, which B flat
// suits poorly (J. Barnes, The Instrumentalist, May 2010).
func TuningNote(in *instrument.Instrument) pitch.Note {
	const bFlat, f = 10, 5
	if in.Family == "horn" && in.Transposition == -7 {
		return in.TuningNote(f)
	}
	return in.TuningNote(bFlat)
}

// Answer is what to do.
type Answer struct {
	Instrument instrument.ID `json:"instrument"`
	Note       string        `json:"note,omitempty"`    // concert
	Written    string        `json:"written,omitempty"` // for this instrument
	Played     string        `json:"played,omitempty"`
	slide.Advice
	slide.Words
	TheoryCents *float64      `json:"theory_cents,omitempty"` // shown beside, never applied
	Shares      []slide.Share `json:"shares,omitempty"`
	Notes       []slide.Fit   `json:"notes,omitempty"`
	Remark      string        `json:"remark,omitempty"`
}

// One answers a single reading of the note.
func (a *Adviser) One(cents, ci pitch.Cents) Answer {
	t := a.typed
	target := t.Reference.Frequency(a.note)
	path := a.path
	if path == (instrument.Path{}) && slide.Mute(t.Mute) != slide.Stopped {
		path = a.instrument.Paths(a.note)[0]
	}
	purpose := slide.Tuning
	if t.Chord {
		purpose = slide.Balance
	}
	theory := float64(a.instrument.Tendency(path))
	told := slide.Advise(slide.Input{
		Instrument: a.instrument, Path: path, Note: a.note, Target: target,
		Reading:  slide.Reading{Hz: target.Shift(cents), CI95: ci, Settled: true, Vibrato: t.Vibrato},
		Settings: a.settings, Travel: a.travel, Air: t.Air, Purpose: purpose, Good: t.Good,
		Others: a.others, Mute: slide.Mute(t.Mute), HornOrder: a.order(),
	})
	return Answer{
		Instrument: a.instrument.ID, Note: a.note.String(), Written: a.instrument.Written(a.note).String(), Played: path.String(),
		Advice: told, Words: slide.SayIn(phrase.Tongue{Notes: a.typed.Notes.Style}, told), TheoryCents: &theory, Remark: a.remark(),
	}
}

// Several answers the notes of a file, as Readings describes them.
func (a *Adviser) Several(name string, r io.Reader) (Answer, error) {
	heard, err := a.readings(name, r)
	if err != nil {
		return Answer{}, err
	}
	s, err := slide.Solve(slide.Problem{Instrument: a.instrument, Settings: a.settings, Travel: a.travel, Heard: heard,
		Good: a.typed.Good, HornOrder: a.order()})
	if errors.Is(err, slide.ErrByEar) {
		return Answer{}, plain.Fail("add the B flat or F of first position", "%s holds no note in closed first position: the ear places the others", name)
	}
	if errors.Is(err, slide.ErrNoNotes) {
		return Answer{}, plain.Fail("a note more than 60 cents out is another note; check names and octaves", "%s holds no settled note near its name", name)
	}
	return Answer{Instrument: a.instrument.ID, Advice: s.Advice, Words: slide.SayIn(phrase.Tongue{Notes: a.typed.Notes.Style}, s.Advice), Shares: s.Shares, Notes: s.Notes, Remark: a.remark()}, err
}

// order is the side of a double horn that the main slide is set on.
func (a *Adviser) order() slide.HornOrder {
	if a.typed.FSideFirst {
		return slide.FSideFirst
	}
	return slide.BbSideFirst
}

// remark says where the room will have a section stand. It is theory, shown
// beside the move and never part of it.
func (a *Adviser) remark() string {
	e, err := instrument.EveningAt(a.typed.Air.TemperatureC)
	if a.typed.Air == (instrument.Air{}) || err != nil || math.Abs(float64(e.Expected)) < worthRoomCents {
		return ""
	}
	if a.typed.Fahrenheit {
		return phrase.Leader.In("en-US", a.typed.Notes.Style).Evening(e)
	}
	return phrase.Tongue{}.Evening(e)
}

// Text is the answer for people: what to do first, the small print last.
func (ans Answer) Text() string {
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
	case (s.Partial != 0 || s.Way != "") && math.Abs(float64(s.Theory)) >= 1:
		text += fmt.Sprintf("; theory %+.0f", float64(s.Theory))
	}
	return text
}

// Standing reads where slides stand from "main=14,third=3".
func Standing(in *instrument.Instrument, spec string) (instrument.Settings, error) {
	if strings.TrimSpace(spec) == "" {
		return instrument.Settings{}, nil
	}
	set, err := onSlides(in, strings.Split(spec, ","), true)
	if e, ok := errors.AsType[*plain.Error](err); ok && strings.Contains(e.Hint, "--travel") {
		e.Hint = "measure it again, in millimetres" // nothing else can be told here
	}
	return set, err
}

// onSlides reads SLIDE=MM pairs for an instrument: where its slides stand, or,
// without standing, how far they go.
func onSlides(in *instrument.Instrument, pairs []string, standing bool) (instrument.Settings, error) {
	set := instrument.Settings{}
	for _, pair := range pairs {
		name, value, ok := strings.Cut(strings.TrimSpace(pair), "=")
		mm, err := strconv.ParseFloat(value, 64)
		if !ok || err != nil || math.IsNaN(mm) || math.IsInf(mm, 0) {
			return nil, plain.Misuse("write it as main=12", "%q does not say where a slide stands", pair)
		}
		sl, ok := in.Slide(instrument.SlideID(name))
		if !ok {
			return nil, plain.Misuse("its slides are "+SlideIDs(in), "the %s has no slide %q", lower(in.Name), name)
		}
		if standing && mm < 0 {
			return nil, plain.Misuse("0 is closed", "the %s cannot stand at %g mm", sl.Name, mm)
		}
		if !standing && mm < minTravelMM {
			return nil, plain.Misuse("measure both ends once, for example --travel "+name+"=26", "the %s cannot go only %g mm", sl.Name, mm)
		}
		if !standing && mm > maxTravelMM {
			return nil, plain.Misuse("give millimetres", "the %s cannot go %g mm", sl.Name, mm)
		}
		if standing && mm > sl.TravelMM+slackMM {
			return nil, plain.Misuse(fmt.Sprintf("if yours is longer, add --travel %s=MM", name),
				"the %s cannot stand at %g mm: it comes off at %.0f", sl.Name, mm, sl.TravelMM)
		}
		set[sl.ID] = mm
	}
	return set, nil
}

// What makes sense of a slide. A setting may exceed the travel by the error of a
// ruler.
const (
	minTravelMM = 1
	maxTravelMM = 2000 // the hand slide of a bass trombone goes some 700
	slackMM     = 1
)

// SlideIDs lists the slides that can be set.
func SlideIDs(in *instrument.Instrument) string {
	var ids []string
	for _, s := range in.Slides {
		if s.Legs > 0 {
			ids = append(ids, string(s.ID))
		}
	}
	return strings.Join(ids, ", ")
}
