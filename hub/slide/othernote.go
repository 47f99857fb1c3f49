package slide

import (
	"math"

	"bellrow/proto/pitch"
)

// otherNote answers readings beyond MaxMove: the note heard is named, and the
// likeliest way it came about.
func (q *inquiry) otherNote() (Advice, bool) {
	far := math.Abs(float64(q.offset))
	if !q.Reading.usable() {
		if !wandering[q.Reading.Reason] {
			return Advice{}, false
		}
		far -= math.Max(float64(q.Reading.CI95), float64(q.Reading.Spread))
	}
	far -= float64(q.Reading.Vibrato) / 2
	// Three valves together are half a semitone sharp by nature: that is no other note.
	if math.Min(far, math.Abs(float64(q.offset-q.facts.Theory.Cents()))) <= float64(MaxMove) {
		return Advice{}, false
	}
	heard := q.Note + pitch.Note(math.Round(float64(q.offset)/100))
	a := q.answer(Note, "")
	a.Heard = heard
	a.Code, a.Facts.Slip = q.slip(heard)
	return a, true
}

// wandering holds the reasons of unsettled notes that still tell which note
// was played.
var wandering = map[string]bool{"moving": true, "vibrato": true, "wide": true}

// slip finds the likeliest reason for sounding another note: its code, and for
// a transposition which.
func (q *inquiry) slip(heard pitch.Note) (code, slip string) {
	in := q.Instrument
	switch {
	case q.Mute == Stopped && heard == q.Note+StoppedUp:
		return "stopped", ""
	case heard != q.Note && heard.Class() == q.Note.Class():
		return "octave", ""
	case in.Double && q.otherSide(heard):
		return "wrong-side", ""
	case in.Transposition%12 != 0 && heard.Class() == in.Sounding(q.Note).Class():
		return "transposition", slipConcert
	case in.Transposition%12 != 0 && heard.Class() == in.Written(q.Note).Class():
		return "transposition", slipTwice
	case in.Tuned() && q.neighbour(heard):
		return "wrong-partial", ""
	}
	return "other-note", ""
}

// How a transposition goes wrong.
const (
	slipConcert = "concert-name" // the concert name was read as a written note
	slipTwice   = "twice"        // transposed twice, or the wrong way
)

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
