package show

import (
	"bellrow/hub"
	"bellrow/hub/tuneup"
	"bellrow/proto/phrase"
)

// choices are what the leader can do about a section that is off as one; to give
// each player the whole of what they are off comes last.
func choices(r *tuneup.Round, t phrase.Tongue) []ChoiceRow {
	var out []ChoiceRow
	for _, c := range r.Choices.Choices {
		label, words := c.Say(t, r.Choices.Common)
		out = append(out, ChoiceRow{string(c.Do), label, words})
	}
	return append(out, ChoiceRow{hub.DoMoves, t.Say("choice.each"), t.Say("choice.each.why")})
}
