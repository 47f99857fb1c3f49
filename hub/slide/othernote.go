package slide

import (
	"fmt"
	"math"

	"bellrow/proto/pitch"
)

// otherNote answers readings beyond MaxMove: the note heard is named, and the
// likeliest way it came about.
func (q *inquiry) otherNote() (Advice, bool) {
	far := math.Abs(float64(q.offset))
	if !q.Reading.Settled {
		if !wandering[q.Reading.Reason] {
			return Advice{}, false
		}
		far -= math.Max(float64(q.Reading.CI95), float64(q.Reading.Spread))
	}
	if far <= float64(MaxMove) {
		return Advice{}, false
	}
	heard := q.Note + pitch.Note(math.Round(float64(q.offset)/100))
	code, why := q.slip(heard)
	return Advice{
		Kind: Note, Code: code, Heard: heard,
		Headline: fmt.Sprintf("That sounded as %s.", q.both(heard)),
		Detail:   why,
		Next:     fmt.Sprintf("Play %s again: %s.", q.both(q.Note), q.Path),
	}, true
}

// wandering holds the reasons of unsettled notes that still tell which note
// was played.
var wandering = map[string]bool{"moving": true, "vibrato": true, "wide": true}

// both names a note for this player: "concert B♭4, your C5", or "B♭3" for an
// instrument that reads at concert pitch.
func (q *inquiry) both(n pitch.Note) string {
	if q.Instrument.Transposition == 0 {
		return n.Display()
	}
	return fmt.Sprintf("concert %s, your %s", n.Display(), q.Instrument.Written(n).Display())
}

// slip finds the likeliest reason for sounding another note.
func (q *inquiry) slip(heard pitch.Note) (code, why string) {
	in := q.Instrument
	switch {
	case heard != q.Note && heard.Class() == q.Note.Class():
		return "octave", "That is the called note in another octave."
	case in.Double && q.otherSide(heard):
		return "wrong-side", "That is this fingering on the other side of the horn."
	case in.Transposition%12 != 0 && heard.Class() == in.Sounding(q.Note).Class():
		return "transposition", fmt.Sprintf("It looks as if the concert name was read as a written note: the call is your %s.", in.Written(q.Note).Display())
	case in.Transposition%12 != 0 && heard.Class() == in.Written(q.Note).Class():
		return "transposition", fmt.Sprintf("It looks as if the note was transposed twice or the wrong way: the call is your %s.", in.Written(q.Note).Display())
	case q.neighbour(heard):
		return "wrong-partial", "That is the neighbouring partial of the same fingering."
	}
	return "other-note", "That is too far away for a slide: another note, fingering or partial is likelier."
}

// otherSide reports whether the same valves on the other side of a double
// horn sound the note heard.
func (q *inquiry) otherSide(heard pitch.Note) bool {
	other := q.Path
	other.Side = map[string]string{"F": "Bb", "Bb": "F"}[q.Path.Side]
	if other.Side == "" {
		return false
	}
	// Only the same partial: every note is on some partial of either side.
	return q.Instrument.Sounds(other) == heard
}

// neighbour reports whether the next partial up or down sounds the note heard.
func (q *inquiry) neighbour(heard pitch.Note) bool {
	for _, d := range []int{-1, 1} {
		p := q.Path
		p.Partial += d
		if p.Partial >= 1 && q.Instrument.Sounds(p) == heard {
			return true
		}
	}
	return false
}
