package slide

import (
	"math"

	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// Lever is one slide on one way of playing a note, where the slides stand now:
// the one place where cents become millimetres. Positive millimetres pull out,
// positive cents are sharp. The zero value moves nothing.
type Lever struct {
	Slide instrument.Slide
	At    float64 // where it stands, in mm out
	// Length is the effective length of the air path in metres, Ratio the
	// player's own millimetres per cent over the model's.
	Length, Ratio float64
}

// LeverOf returns the lever of a slide; the zero value when the slide does not
// serve the path. A hand slide stands where its position is, no further out
// than it goes.
func LeverOf(in *instrument.Instrument, p instrument.Path, id instrument.SlideID, set instrument.Settings, l Learned) Lever {
	s, ok := in.Slide(id)
	if !ok || s.Legs == 0 || !in.Serves(id, p) {
		return Lever{}
	}
	v := Lever{Slide: s, At: in.MM(set, id), Length: in.Length(p, set, instrument.DefaultAir), Ratio: l.ratio()}
	if id == instrument.Hand {
		v.At = min(max(in.HandMM(p, v.At), 0), s.TravelMM)
	}
	return v
}

// Serves reports whether the slide moves the note at all.
func (v Lever) Serves() bool { return v.Slide.Legs > 0 }

// MM is the travel that changes the pitch by x.
func (v Lever) MM(x pitch.Cents) float64 {
	if !v.Serves() {
		return 0
	}
	return v.Ratio * instrument.Travel(v.Length, v.Slide.Legs, x)
}

// Cents is the change of pitch that a travel of mm brings: MM the other way
// round.
func (v Lever) Cents(mm float64) pitch.Cents {
	if !v.Serves() {
		return 0
	}
	return pitch.Cents(-1200 * math.Log2(1+float64(v.Slide.Legs)*mm/v.Ratio/1000/v.Length))
}

// PerMM is the slope of Cents here, in cents per mm: negative.
func (v Lever) PerMM() pitch.Cents {
	if !v.Serves() {
		return 0
	}
	return pitch.Cents(-1200 / math.Ln2 * float64(v.Slide.Legs) / v.Ratio / 1000 / v.Length)
}

// Room is how far the slide can still go in and out from where it stands, in
// mm: in is negative or 0, out positive or 0.
func (v Lever) Room() (in, out float64) {
	lo, hi := Limits(v.Slide)
	return min(0, lo-v.At), max(0, hi-v.At)
}

// Step is the move in whole millimetres, within the slide's limits, that comes
// nearest to a change of pitch by want.
func (v Lever) Step(want pitch.Cents) Step {
	in, out := v.Room()
	mm := math.Round(v.MM(want))
	whole := min(max(mm, math.Ceil(in)), math.Floor(out))
	st := Step{Slide: v.Slide.ID, Name: v.Slide.Name, FromMM: v.At, ToMM: v.At + whole, TravelMM: v.Slide.TravelMM}
	st.Expected = v.Cents(whole)
	if whole != mm {
		st.ShortBy, st.ShortMM = want-st.Expected, math.Abs(mm-whole)
	}
	return st
}

// Limits returns how far in and out a slide may be sent, in mm.
func Limits(s instrument.Slide) (lo, hi float64) { return s.Reach() }
