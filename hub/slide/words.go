package slide

import (
	"fmt"
	"math"

	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// headline is what a player does with a slide: "Pull the main slide 6 mm."
func headline(st Step) string {
	verb := "Push in"
	if st.MM() > 0 {
		verb = "Pull"
	}
	if st.Slide == instrument.Hand {
		verb = "Bring in"
		if st.MM() > 0 {
			verb = "Move out"
		}
	}
	return fmt.Sprintf("%s the %s %s.", verb, st.Name, millimetres(st.MM()))
}

// millimetres writes a distance as players see it: whole, without sign.
func millimetres(mm float64) string {
	return fmt.Sprintf("%.0f mm", math.Abs(math.Round(mm)))
}

// small is the small print of an answer: "11 cents sharp, give or take 2".
func small(x, ci pitch.Cents) string {
	within := pitch.Cents(math.Ceil(float64(ci)))
	if math.Round(float64(x)) == 0 {
		return "in tune, give or take " + within.Size()
	}
	return fmt.Sprintf("%s, give or take %.0f", x.Off(), float64(within))
}
