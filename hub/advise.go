package hub

import (
	"fmt"
	"math"

	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// advise asks hub/slide what to tell the player.
func (h *Hub) advise(c Chair, r *Reading) slide.Advice {
	in, err := instrument.Find(c.Instrument)
	if err != nil {
		return slide.Advice{Kind: slide.Nothing, Code: "instrument", Headline: "Choose your instrument on your page."}
	}
	in = in.WithTravel(c.Travel)
	if !r.Wire.Settled {
		return slide.Advice{Kind: slide.Again, Code: r.Wire.Reason, Headline: "Once more, please.", Detail: reasonWords(r.Wire.Reason), Next: "Breathe, then play the note again, relaxed."}
	}
	if math.Abs(float64(r.Cents)) > 60 {
		n, _ := h.section.Reference.Nearest(r.hz())
		return slide.Advice{Kind: slide.Note, Code: "note", Headline: fmt.Sprintf("That was written %s.", in.Written(n).Display()),
			Detail: fmt.Sprintf("You are asked for written %s.", in.Written(r.Note).Display()), Next: "Play it again."}
	}
	if math.Abs(float64(r.Cents)) <= float64(h.section.Good) {
		return slide.Advice{Kind: slide.Stay, Code: "in-band", Headline: "Leave the slide where it is."}
	}
	paths := in.Paths(r.Note)
	sl, ok := in.Slide(instrument.Main)
	if !ok || len(paths) == 0 {
		return slide.Advice{Kind: slide.Nothing, Code: "no-slide", Headline: "No slide serves this note."}
	}
	from := in.MM(c.Settings, sl.ID)
	to := math.Round(min(max(from+in.MoveMM(paths[0], sl.ID, c.Settings, -r.Cents), 0), sl.TravelMM))
	word := "Pull"
	if to < from {
		word = "Push"
	}
	return slide.Advice{Kind: slide.Move, Code: "move",
		Headline: fmt.Sprintf("%s the %s %.0f mm.", word, sl.Name, math.Abs(to-from)),
		Steps:    []slide.Step{{Slide: sl.ID, Name: sl.Name, FromMM: from, ToMM: to, TravelMM: sl.TravelMM, Expected: -r.Cents}}}
}

// followWords is the verdict on a move.
func followWords(expected, measured, _, _ pitch.Cents) string {
	if expected == 0 {
		return ""
	}
	switch ratio := measured / expected; {
	case ratio < 0.3:
		return "The pitch stayed where it was."
	case ratio < 0.7:
		return "The pitch changed less than the slide."
	}
	return "The pitch went with the slide."
}
