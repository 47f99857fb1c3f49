package slide

import (
	"fmt"
	"math"

	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// tune answers a tuning note: the main slide, except where the theory of the
// instrument says that the note's own slide is the right one.
func (c *reading) tune() Advice {
	if a, ok := c.lowNote(); ok {
		return a
	}
	id := c.tuningSlide()
	st := c.step(id, c.want())
	if st.MM() == 0 {
		return c.atEnd(st)
	}
	return c.move(st)
}

// tuningSlide chooses the slide that a tuning note sets: the main slide,
// except for the F attachment, for combinations that are sharp by nature, and
// for a horn whose main slide is at its end.
func (c *reading) tuningSlide() instrument.SlideID {
	switch {
	case c.Instrument.Attachment && c.Path.Side == "F":
		return instrument.FMain // the main slide is set without it
	case c.Instrument.Double && c.step(instrument.Main, c.want()).ShortBy != 0:
		side := map[string]instrument.SlideID{"F": instrument.FMain, "Bb": instrument.BbMain}[c.Path.Side]
		if c.step(side, c.want()).ShortBy == 0 {
			return side
		}
	case c.combination() >= combinationSharp && c.want() < 0:
		return c.valveSlide()
	}
	return instrument.Main
}

// valveSlide finds the slide that lets a sharp combination out where it is
// sharp; the main slide would take every other note along.
func (c *reading) valveSlide() instrument.SlideID {
	for _, id := range []instrument.SlideID{instrument.Third, instrument.First} {
		s, ok := c.Instrument.Slide(id)
		if ok && s.WhilePlaying && c.Instrument.Serves(id, c.Path) && c.step(id, c.want()).ShortBy == 0 {
			return id
		}
	}
	return instrument.Main
}

// combination returns how sharp the valve combination is in theory, without
// the deviation of the partial.
func (c *reading) combination() pitch.Cents {
	p := c.Path
	p.Partial = 1
	return c.Instrument.Tendency(p)
}

// lowNote answers the notes that no slide puts right: low C and B on an F
// attachment, and low notes of four valves without compensation.
func (c *reading) lowNote() (Advice, bool) {
	in := c.Instrument
	switch {
	case in.Attachment && c.Path.Side == "F" && c.Path.Position >= 6 && c.want() < 0:
		return c.lowAttachment(), true
	case in.Valves >= 4 && !in.Compensating && len(c.Path.Valves) >= len("1-4") && c.Path.Valves[len(c.Path.Valves)-1] == '4' && c.want() < 0:
		return c.lowValves(), true
	}
	return Advice{}, false
}

// lowAttachment: at the end of the hand slide low C is sharp by nature, and
// low B more so (The Teaching of Instrumental Music, 5th ed., p. 235).
func (c *reading) lowAttachment() Advice {
	st := c.step(instrument.FMain, c.want())
	if st.MM() > 0 && st.ShortBy == 0 {
		a := c.move(st)
		a.Code = "attachment-low"
		a.Detail = "The hand slide is at its end here, and the low notes of the F attachment run sharp. Push the slide back for the other notes."
		return a
	}
	a := Advice{Kind: Nothing, Code: "attachment-low",
		Headline: "The F attachment does not reach down to this note in tune.",
		Detail:   "The hand slide and the F-attachment slide together end above it.",
		Next:     "Choose another octave, or ask a teacher about the part."}
	if st.MM() > 0 {
		a.Detail = fmt.Sprintf("With the F-attachment slide pulled %s it is still about %.0f cents sharp.", millimetres(st.MM()), math.Abs(float64(st.ShortBy)))
	}
	return a
}

func (c *reading) lowValves() Advice {
	if p, gain, ok := c.better(); ok {
		return Advice{Kind: Finger, Code: "non-compensating", Try: &p,
			Headline: fmt.Sprintf("Try %s instead of %s.", p, c.Path),
			Detail:   fmt.Sprintf("Without compensation the low combinations run sharp; in theory this one is about %.0f cents lower.", math.Abs(float64(gain)))}
	}
	return Advice{Kind: Nothing, Code: "non-compensating",
		Headline: "No slide puts this low note right.",
		Detail:   fmt.Sprintf("Without compensation %s is sharp by nature, about %.0f cents in theory. It is the fingering, not your slide.", c.Path, math.Abs(float64(c.combination()))),
		Next:     "Tune on the open notes and leave the slides."}
}

// betterCents is the least theoretical gain for which another way of playing
// is worth naming.
const betterCents = 5

// better finds another way of playing the note that theory puts closer.
func (c *reading) better() (instrument.Path, pitch.Cents, bool) {
	in := c.Instrument
	here := in.Tendency(c.Path)
	best, gain := instrument.Path{}, pitch.Cents(0)
	left := math.Abs(float64(c.want()))
	for _, p := range in.Paths(c.Note) {
		g := in.Tendency(p) - here
		if l := math.Abs(float64(g - c.want())); !p.SamePath(c.Path) && p.Partial > 1 && l < left-betterCents {
			best, gain, left = p, g, l
		}
	}
	return best, gain, gain != 0
}

// atEnd answers when the slide that is wanted has nothing left.
func (c *reading) atEnd(st Step) Advice {
	if math.Abs(float64(st.ShortBy)) == 0 {
		return Advice{Kind: Stay, Code: "under-a-millimetre", Headline: "Leave the slides where they are.",
			Detail: "The difference is less than a millimetre of slide."}
	}
	where := "as far out as is safe"
	if c.want() > 0 {
		where = "all the way in"
	}
	return Advice{Kind: Nothing, Code: "limit",
		Headline: fmt.Sprintf("The %s is %s already.", st.Name, where),
		Detail:   fmt.Sprintf("About %s more would be needed.", millimetres(c.missing(st))),
		Next:     "Leave it for today and see a teacher or technician about the instrument and mouthpiece."}
}

// missing is the travel that the slide cannot give, in mm.
func (c *reading) missing(st Step) float64 {
	return math.Abs(c.Instrument.MoveMM(c.Path, st.Slide, c.Settings, st.ShortBy)) * c.Learned.ratio()
}

// move puts a step in words.
func (c *reading) move(st Step) Advice {
	a := Advice{Kind: Move, Code: "move", Steps: []Step{st}, Headline: headline(st)}
	a.Detail = fmt.Sprintf("From %.0f to %.0f mm out.", math.Round(st.FromMM), math.Round(st.ToMM))
	a.Next = "Then rest, breathe, and play the note again."
	if st.ShortBy != 0 {
		a.Code = "limit"
		left := math.Abs(st.MM())
		a.Detail = fmt.Sprintf("%.0f of the %.0f mm are left; then see a teacher or technician.", left, math.Round(left+c.missing(st)))
	} else if st.Slide == instrument.Third || st.Slide == instrument.First {
		a.Detail = fmt.Sprintf("%s is sharp by nature on this instrument; the main slide stays.", c.Path)
		a.Next = "Play the note again, and put the slide back for other notes."
	}
	return a
}
