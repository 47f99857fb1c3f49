// Package instrument is the catalogue of brass instruments: transposition,
// range, air path, slides and what each slide serves.
//
// Lengths are in metres in the air path and in millimetres on a slide. A
// slide's setting is how far it stands out from closed; positive moves pull
// it out and flatten. Effective length is c/(2 f1), not the nominal length
// of the tube.
package instrument

import "bellrow/proto/pitch"

// ID names an instrument in the catalogue: "trumpet_bb".
type ID string

// SlideID names a slide of an instrument: Main, First, Third, Hand …
type SlideID string

// The slides.
const (
	Main   SlideID = "main"   // main tuning slide; a trombone's bell slide, a flugelhorn's lead-pipe shank
	First  SlideID = "first"  // first valve slide
	Second SlideID = "second" // second valve slide
	Third  SlideID = "third"  // third valve slide
	Fourth SlideID = "fourth" // fourth valve slide
	Fifth  SlideID = "fifth"  // fifth valve slide
	Sixth  SlideID = "sixth"  // sixth valve slide
	Hand   SlideID = "hand"   // trombone hand slide
	FMain  SlideID = "f"      // horn F slide; trombone F-attachment slide
	BbMain SlideID = "bb"     // horn B flat slide
	GbMain SlideID = "gb"     // slide of a bass trombone's second valve
	Bell   SlideID = "bell"   // the hand in the bell of a horn: no millimetres, cover or open

	// A full double horn has a second set of valve slides, for its B flat side.
	BbFirst  SlideID = "bb-first"
	BbSecond SlideID = "bb-second"
	BbThird  SlideID = "bb-third"
)

// Settings holds how far slides stand out, in mm. A missing slide stands at
// its usual pull (Slide.UsualMM).
type Settings map[SlideID]float64

// End is what ends a slide's travel at the pulled end.
type End string

// The ends of slides.
const (
	ComesOff End = "comes-off" // a free tube: some of it has to stay in
	Stops    End = "stops"     // a ring, trigger, screw or stocking stops it: all of the travel can be used
)

// Slide is one movable slide.
type Slide struct {
	ID   SlideID `json:"id"`
	Name string  `json:"name"` // as players say it: "main slide", "third valve slide"
	// TravelMM is the whole travel from closed to its End; UsualMM where it
	// normally stands. Both vary by maker, and no travel of the catalogue has a
	// source: the player is asked to measure them once.
	TravelMM float64 `json:"travel_mm"`
	UsualMM  float64 `json:"usual_mm"`
	End      End     `json:"end"`
	// Legs is how many lengths of tube a millimetre of travel adds: 2 for a
	// U-shaped slide, 1 for a lead-pipe shank, 0 for the hand in the bell.
	Legs int `json:"legs"`
	// WhilePlaying is true for slides a player moves note by note (hand
	// slide, first and third valve slides with a ring or trigger).
	WhilePlaying bool `json:"while_playing"`
}

// What stays in of a tube that would come off, in mm (common practice, no
// source): a main slide tunes on two long legs, a lead-pipe shank on one short
// one with a clamp.
const (
	keepMM      = 10
	keepShankMM = 5
)

// Reach returns how far in and out a slide can be sent, in mm: closed, and its
// stop, or what has to stay in before it would come off. A tube too short for
// that may go half way, and any as far as it usually stands.
func (s Slide) Reach() (lo, hi float64) {
	if s.End == Stops {
		return 0, s.TravelMM
	}
	keep := float64(keepMM)
	if s.Legs == 1 {
		keep = keepShankMM
	}
	return 0, max(s.TravelMM-keep, s.TravelMM/2, s.UsualMM)
}

// Path is one way of playing a note: which partial on which air path.
type Path struct {
	Partial int `json:"partial"` // 1 = fundamental
	// Valves holds the valves pressed, "" or "0" for open: "1-2".
	Valves string `json:"valves,omitempty"`
	// Position is the hand-slide position, 1 to 7, and 0 without a hand slide.
	Position float64 `json:"position,omitempty"`
	// Side is "F" or "Bb" on a double horn; on a trombone "F" with the F
	// attachment, "Gb" with the second valve, "D" with both.
	Side string `json:"side,omitempty"`
}

// Base is the entry of the same instrument with its usual part; see Of.
func (in *Instrument) Base() ID {
	if in.Of != "" {
		return in.Of
	}
	return in.ID
}

// Air is the air in the instrument. The zero value means DefaultAir.
type Air struct {
	TemperatureC float64 `json:"temperature_c"`
	Humidity     float64 `json:"humidity"` // relative, 0 to 1
}

// Instrument is one entry of the catalogue. It is read-only and shared.
type Instrument struct {
	ID     ID     `json:"id"`
	Name   string `json:"name"`
	Family string `json:"family"` // trumpet, horn, trombone, euphonium, tuba …
	Clef   string `json:"clef"`   // clef of the written part: treble, bass, alto, tenor
	// Of is the entry that this one reads another part for: the same instrument
	// under another clef or transposition. Empty for the usual part.
	Of ID `json:"of,omitempty"`
	// Transposition is what to add to the written note to get the sounding
	// one, in semitones: -2 for a B flat trumpet.
	Transposition int `json:"transposition"`
	// Fundamental is the first resonance of the open tube (the pedal note) at
	// A4 = 440 Hz with every slide at its usual place.
	Fundamental pitch.Hertz `json:"fundamental_hz"`
	// Low and High bound the usual sounding range.
	Low  pitch.Note `json:"low"`
	High pitch.Note `json:"high"`
	// Slides are in the order a player would name them, the main slide first.
	Slides []Slide `json:"slides"`

	// Middle is the middle of the comfortable register; a tuning note is the
	// octave nearest to it.
	Middle pitch.Note `json:"middle"`
	// Valves is the number of valves, 0 for a slide trombone.
	Valves int `json:"valves"`
	// Compensating is true when the last valve sends the air a second time
	// through the others, which makes them longer in the same proportion.
	Compensating bool `json:"compensating,omitempty"`
	// Loops holds what each valve adds as a share of the open length, valve 1
	// first; nil means that each valve alone is in tune. Makers lengthen single
	// valves to share out the errors of combinations, each in their own way.
	Loops []float64 `json:"loops,omitempty"`
	// HandSlide is true for trombones, Attachment when a valve adds a fourth
	// (F attachment), SecondValve when another one in line with it adds a major
	// third (G flat; with both the trombone stands in D).
	HandSlide   bool `json:"hand_slide,omitempty"`
	Attachment  bool `json:"attachment,omitempty"`
	SecondValve bool `json:"second_valve,omitempty"`
	// Double is true for a double horn: Fundamental is the F side's, the B
	// flat side stands five semitones above.
	Double bool `json:"double,omitempty"`
	// TubeM is the published length of the open tube in metres, 0 where none
	// is known. It is for show: Length uses c/(2 f1).
	TubeM float64 `json:"tube_m,omitempty"`
	// Source says where the entry's figures come from.
	Source string `json:"source"`
}
