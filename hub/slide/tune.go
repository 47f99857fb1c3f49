package slide

import (
	"fmt"
	"math"

	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// tune answers a tuning note: the main slide, except where the theory of the
// instrument says that the note's own slide is the right one.
func (q *inquiry) tune() Advice {
	if a, ok := q.lowNote(); ok {
		return a
	}
	id := q.tuningSlide()
	st := q.step(id, q.want())
	if st.MM() == 0 {
		return q.atEnd(st)
	}
	return q.move(st)
}

// tuningSlide chooses the slide that a tuning note sets: the main slide,
// except for the F attachment, for combinations that are sharp by nature, and
// for a horn whose main slide is at its end.
func (q *inquiry) tuningSlide() instrument.SlideID {
	switch {
	case q.Instrument.Attachment && q.Path.Side == "F":
		return instrument.FMain // the main slide is set without it
	case q.Instrument.Serves(instrument.GbMain, q.Path):
		return instrument.GbMain // and the F attachment without the second valve
	case q.Instrument.Double && q.step(instrument.Main, q.want()).ShortBy != 0:
		side := map[string]instrument.SlideID{"F": instrument.FMain, "Bb": instrument.BbMain}[q.Path.Side]
		if q.step(side, q.want()).ShortBy == 0 {
			return side
		}
	case q.combination() >= combinationSharp && q.want() < 0:
		return q.valveSlide()
	}
	return instrument.Main
}

// valveSlide finds the slide that lets a sharp combination out where it is
// sharp; the main slide would take every other note along.
func (q *inquiry) valveSlide() instrument.SlideID {
	for _, id := range []instrument.SlideID{instrument.Third, instrument.First} {
		s, ok := q.Instrument.Slide(id)
		if ok && s.WhilePlaying && q.Instrument.Serves(id, q.Path) && q.step(id, q.want()).ShortBy == 0 {
			return id
		}
	}
	return instrument.Main
}

// combination returns how sharp the valve combination is in theory, without
// the deviation of the partial.
func (q *inquiry) combination() pitch.Cents {
	p := q.Path
	p.Partial = 1
	return q.Instrument.Tendency(p)
}

// lowNote answers the notes that no slide puts right: low C and B on an F
// attachment, and low notes of four valves without compensation.
func (q *inquiry) lowNote() (Advice, bool) {
	in := q.Instrument
	switch {
	case in.Attachment && q.Path.Side == "F" && q.Path.Position >= 6 && q.want() < 0:
		return q.lowAttachment(), true
	case in.Valves >= 4 && !in.Compensating && len(q.Path.Valves) >= len("1-4") && q.Path.Valves[len(q.Path.Valves)-1] == '4' && q.want() < 0:
		return q.lowValves(), true
	}
	return Advice{}, false
}

// lowAttachment: at the end of the hand slide low C is sharp by nature, and
// low B more so (The Teaching of Instrumental Music, 5th ed., p. 235).
func (q *inquiry) lowAttachment() Advice {
	st := q.step(instrument.FMain, q.want())
	if st.MM() > 0 && st.ShortBy == 0 {
		a := q.move(st)
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

func (q *inquiry) lowValves() Advice {
	if p, gain, ok := q.better(); ok {
		return Advice{Kind: Finger, Code: "non-compensating", Try: &p,
			Headline: fmt.Sprintf("Try %s instead of %s.", p, q.Path),
			Detail:   fmt.Sprintf("Without compensation the low combinations run sharp; in theory this one is about %.0f cents lower.", math.Abs(float64(gain)))}
	}
	return Advice{Kind: Nothing, Code: "non-compensating",
		Headline: "No slide puts this low note right.",
		Detail:   fmt.Sprintf("Without compensation %s is sharp by nature, about %.0f cents in theory. It is the fingering, not your slide.", q.Path, math.Abs(float64(q.combination()))),
		Next:     "Tune on the open notes and leave the slides."}
}

// betterCents is the least theoretical gain for which another way of playing
// is worth naming.
const betterCents = 5

// better finds another way of playing the note that theory puts closer.
func (q *inquiry) better() (instrument.Path, pitch.Cents, bool) {
	in := q.Instrument
	here := in.Tendency(q.Path)
	best, gain := instrument.Path{}, pitch.Cents(0)
	left := math.Abs(float64(q.want()))
	for _, p := range in.Paths(q.Note) {
		g := in.Tendency(p) - here
		if l := math.Abs(float64(g - q.want())); !p.SamePath(q.Path) && p.Partial > 1 && l < left-betterCents {
			best, gain, left = p, g, l
		}
	}
	return best, gain, gain != 0
}

// atEnd answers when the slide that is wanted has nothing left.
func (q *inquiry) atEnd(st Step) Advice {
	if math.Abs(float64(st.ShortBy)) == 0 {
		return Advice{Kind: Stay, Code: "under-a-millimetre", Headline: "Leave the slides where they are.",
			Detail: "The difference is less than a millimetre of slide."}
	}
	where := "as far out as is safe"
	if q.want() > 0 {
		where = "all the way in"
	}
	return Advice{Kind: Nothing, Code: "limit",
		Headline: fmt.Sprintf("The %s is %s already.", st.Name, where),
		Detail:   fmt.Sprintf("About %s more would be needed.", millimetres(q.missing(st))),
		Next:     "Leave it for today and see a teacher or technician about the instrument and mouthpiece."}
}

// missing is the travel that the slide cannot give, in mm.
func (q *inquiry) missing(st Step) float64 {
	return math.Abs(q.Instrument.MoveMM(q.Path, st.Slide, q.Settings, st.ShortBy)) * q.Learned.ratio()
}

// move puts a step in words.
func (q *inquiry) move(st Step) Advice {
	a := Advice{Kind: Move, Code: "move", Steps: []Step{st}, Headline: headline(st)}
	a.Detail = fmt.Sprintf("From %.0f to %.0f mm out.", math.Round(st.FromMM), math.Round(st.ToMM))
	a.Next = "Then rest, breathe, and play the note again."
	if rise := q.warmup.rise(q.Played, WarmSeconds); rise >= 1 {
		a.Detail += fmt.Sprintf(" It still comes up by about %s as it warms; that is allowed for.", rise.Size())
	}
	if st.ShortBy != 0 {
		a.Code = "limit"
		left := math.Abs(st.MM())
		a.Detail = fmt.Sprintf("%.0f of the %.0f mm are left; then see a teacher or technician.", left, math.Round(left+q.missing(st)))
	} else if st.Slide == instrument.Third || st.Slide == instrument.First {
		a.Detail = fmt.Sprintf("%s is sharp by nature on this instrument; the main slide stays.", q.Path)
		a.Next = "Play the note again, and put the slide back for other notes."
	}
	return a
}
