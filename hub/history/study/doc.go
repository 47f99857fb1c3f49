// Package study leads a player through a short exercise and says afterwards
// what it showed: alone with bellrow solo, or with a teacher and a class.
//
//	Centre     five fresh attacks, eyes closed: how near to one another
//	Bend       one note bent down and up on purpose: how far, how evenly, and back
//	HandSlide  millimetres of the hand slide for 5 and 10 cents, out and in, beside the theory
//	Tendencies the notes of a scale: the instrument's own map, and what to set
//
// A Study is a pure state machine: Now says what to do, Take hands it a note,
// Go passes a rest or a move. It has no clock, no goroutine and no I/O, and is
// used by one goroutine. Nothing moves while a note sounds: notes come in
// whole, and figures are said when all is over.
//
// Rests are part of the plan, nobody is asked for a note more than triesEach
// times, and a study has an end. How much a player practises is decided by
// the player and the teacher.
package study

import (
	"fmt"
	"math"

	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// Cautions are shown before every study.
func Cautions(t phrase.Tongue) []string {
	return []string{t.Say("study.caution.stop"), t.Say("study.caution.loud"), t.Say("study.caution.practice")}
}

// Kind names a study.
type Kind string

// The studies.
const (
	Centre     Kind = "centre"
	Bend       Kind = "bend"
	HandSlide  Kind = "hand-slide"
	Tendencies Kind = "tendencies"
)

// Kinds lists the studies in the order of the help text.
var Kinds = []Kind{Centre, Bend, HandSlide, Tendencies}

// Point is one point of a note's pitch path.
type Point struct {
	Seconds float64 // from the onset
	Hz      pitch.Hertz
}

// Note is one note as it was heard, whole.
type Note struct {
	slide.Reading
	Path []Point // needed by Bend alone
}

// Act is what is to be done now.
type Act string

// What can be asked.
const (
	Play Act = "play" // sound one note; then Take
	Rest Act = "rest" // wait for Prompt.Seconds; then Go
	Move Act = "move" // move a slide; then Go
	Done Act = "done" // the study is over; Report says what it showed
)

// Prompt is what a player is asked now.
type Prompt struct {
	Act     Act
	Say     Said
	Nth, Of int             // which of how many notes to play this is, for Play
	Note    pitch.Note      // sounding, for Play
	Path    instrument.Path // how, for Play; the zero Path for as usual
	Seconds float64         // for Rest
	Slide   instrument.SlideID
	FromMM  float64 // for Move, of the slide
	ToMM    float64
}

// Study is one exercise under way.
type Study interface {
	Now() Prompt
	// Take hands over the note that Now asked for and returns what to say about
	// it, nil when it counts.
	Take(Note) Said
	// Go passes a rest or a move that was done.
	Go()
	// Report says what was found; the zero figures of what was not heard.
	Report() Report
}

// Config chooses a study.
type Config struct {
	Kind       Kind
	Instrument *instrument.Instrument
	// Note is the sounding note to play; 0 means the octave of B flat nearest
	// to the middle of the instrument's comfortable register.
	Note      pitch.Note
	Reference pitch.Reference
	Notes     pitch.Style // how notes are named
	Settings  instrument.Settings
	Travel    instrument.Settings
	// Position is the one hand-slide position of a HandSlide study, 1 to 7; 0 means
	// first, third and fifth.
	Position float64
}

// written names a sounding note as the player reads it.
func (c Config) written(n pitch.Note) string {
	return c.Notes.Both(pitch.Written(pitch.Usual(n), c.Instrument.Transposition))
}

// New returns a study, ready for its first prompt.
func New(c Config) (Study, error) {
	if c.Instrument == nil {
		return nil, fmt.Errorf("study: no instrument, need one")
	}
	if !c.Instrument.Tuned() {
		return nil, fmt.Errorf("study: %s has no slide; the studies are for brass", c.Instrument.Name)
	}
	if c.Note == 0 {
		c.Note = c.Instrument.TuningNote(usualNote)
	}
	if len(c.Instrument.Paths(c.Note)) == 0 {
		return nil, fmt.Errorf("study: %s is out of reach of the %s", c.Notes.Of(c.Note), c.Instrument.Name)
	}
	switch c.Kind {
	case Centre:
		return newCentre(c), nil
	case Bend:
		return newBend(c), nil
	case HandSlide:
		if !c.Instrument.HandSlide {
			return nil, fmt.Errorf("study: the %s has no hand slide", c.Instrument.Name)
		}
		if c.Position != 0 && (c.Position != math.Trunc(c.Position) || c.Position < 1 || c.Position > 7) {
			return nil, fmt.Errorf("study: position %g, need 1 to 7", c.Position)
		}
		return newHandSlide(c), nil
	case Tendencies:
		return newTendencies(c), nil
	}
	return nil, fmt.Errorf("study: kind %q, need centre, bend, hand-slide or tendencies", c.Kind)
}

// usualNote is B flat, which suits most brass (J. Barnes, The Instrumentalist,
// May 2010).
const usualNote pitch.Note = 58

// Report is what a study showed. One of the parts is set, the study's own.
type Report struct {
	Kind  Kind     `json:"study"`
	Notes int      `json:"notes"` // heard
	Words []string `json:"words"` // to the player, in English
	Try   string   `json:"try,omitempty"`
	// In words the two in a tongue.
	In func(phrase.Tongue) (words []string, try string) `json:"-"`

	Centre     *CentreReport     `json:"centre,omitempty"`
	Bend       *BendReport       `json:"bend,omitempty"`
	HandSlide  *HandSlideReport  `json:"hand_slide,omitempty"`
	Tendencies *TendenciesReport `json:"tendencies,omitempty"`
}
