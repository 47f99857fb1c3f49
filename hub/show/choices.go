package show

import (
	"fmt"
	"math"

	"bellrow/hub"
	"bellrow/hub/slide"
	"bellrow/hub/tuneup"
)

// choices are what the leader can do about a section that is off as one; to give
// each player the whole of what they are off comes last.
func choices(r *tuneup.Round) []ChoiceRow {
	var out []ChoiceRow
	for _, c := range r.Choices.Choices {
		label, words := choiceWords(c, r.Choices)
		out = append(out, ChoiceRow{string(c.Do), label, words})
	}
	return append(out, ChoiceRow{hub.DoMoves, "Each their own", "What all have in common and what is each one's own, at once."})
}

// choiceWords names one choice and says what it means.
func choiceWords(c slide.Choice, t slide.AsOne) (label, words string) {
	switch c.Do {
	case slide.WarmUp:
		return "Warm up first", "Cold instruments are flat and come up by themselves."
	case slide.AllMove:
		label = "Everybody in"
		if t.Common > 0 {
			label = "Everybody out"
		}
		words = fmt.Sprintf("By the common part alone, %s: up to %.0f mm.", t.Common.Size(), math.Abs(math.Round(c.MM)))
		switch c.Beyond {
		case 0:
		case 1:
			words += " One of the slides cannot go so far."
		default:
			words += fmt.Sprintf(" %s of the slides cannot go so far.", count(c.Beyond))
		}
		return label, words
	case slide.TuneThere:
		return "Tune there", fmt.Sprintf("To where they stand: A at %g Hz for everybody, and no slide moves for what is common.", float64(c.Reference.A4))
	}
	words = "The same call for all, before anything moves."
	if t.Common > 0 {
		words = "The same call for all, mezzo-forte and rested, before anything moves."
	}
	return "Hear it again", words
}
