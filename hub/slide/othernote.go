package slide

import (
	"fmt"
	"math"

	"bellrow/proto/pitch"
)

// otherNote answers readings beyond MaxMove: the note heard is named, and the
// likeliest way it came about.
func (c *reading) otherNote() (Advice, bool) {
	far := math.Abs(float64(c.offset))
	if !c.Reading.Settled {
		if !wandering[c.Reading.Reason] {
			return Advice{}, false
		}
		far -= math.Max(float64(c.Reading.CI95), float64(c.Reading.Spread))
	}
	if far <= float64(MaxMove) {
		return Advice{}, false
	}
	heard := c.Note + pitch.Note(math.Round(float64(c.offset)/100))
	code, why := c.slip(heard)
	return Advice{
		Kind: Note, Code: code, Heard: heard,
		Headline: fmt.Sprintf("That sounded as %s.", c.both(heard)),
		Detail:   why,
		Next:     fmt.Sprintf("Play %s again: %s.", c.both(c.Note), c.Path),
	}, true
}

// wandering holds the reasons of unsettled notes that still tell which note
// was played.
var wandering = map[string]bool{"moving": true, "vibrato": true, "wide": true}

// both names a note for this player: "concert B♭4, your C5", or "B♭3" for an
// instrument that reads at concert pitch.
func (c *reading) both(n pitch.Note) string {
	if c.Instrument.Transposition == 0 {
		return n.Display()
	}
	return fmt.Sprintf("concert %s, your %s", n.Display(), c.Instrument.Written(n).Display())
}

// slip finds the likeliest reason for sounding another note.
func (c *reading) slip(heard pitch.Note) (code, why string) {
	in := c.Instrument
	switch {
	case heard != c.Note && heard.Class() == c.Note.Class():
		return "octave", "That is the called note in another octave."
	case in.Double && c.otherSide(heard):
		return "wrong-side", "That is this fingering on the other side of the horn."
	case in.Transposition%12 != 0 && heard.Class() == in.Sounding(c.Note).Class():
		return "transposition", fmt.Sprintf("It looks as if the concert name was read as a written note: the call is your %s.", in.Written(c.Note).Display())
	case in.Transposition%12 != 0 && heard.Class() == in.Written(c.Note).Class():
		return "transposition", fmt.Sprintf("It looks as if the note was transposed twice or the wrong way: the call is your %s.", in.Written(c.Note).Display())
	case c.neighbour(heard):
		return "wrong-partial", "That is the neighbouring partial of the same fingering."
	}
	return "other-note", "That is too far away for a slide: another note, fingering or partial is likelier."
}

// otherSide reports whether the same valves on the other side of a double
// horn sound the note heard.
func (c *reading) otherSide(heard pitch.Note) bool {
	other := c.Path
	other.Side = map[string]string{"F": "Bb", "Bb": "F"}[c.Path.Side]
	if other.Side == "" {
		return false
	}
	// Only the same partial: every note is on some partial of either side.
	return c.Instrument.Sounds(other) == heard
}

// neighbour reports whether the next partial up or down sounds the note heard.
func (c *reading) neighbour(heard pitch.Note) bool {
	for _, d := range []int{-1, 1} {
		p := c.Path
		p.Partial += d
		if p.Partial >= 1 && c.Instrument.Sounds(p) == heard {
			return true
		}
	}
	return false
}
