package intonation

import (
	"strings"

	"bellrow/hub/slide"
	"bellrow/proto/instrument"
)

// maxWays is as many other fingerings as a player weighs while holding a note.
const maxWays = 2

// Told is what the chair's player is told once the chord was judged: the move
// within the chord or the honest alternative, where the tone stands, and how
// else the note could be played where it is not set.
func (sj SeatJudgement) Told() slide.Advice {
	a := sj.Advice
	if len(sj.Instead) > 0 {
		a.Next = sj.Instead[0]
	}
	if a.Detail == "" && sj.Words != "" {
		a.Detail = "You have " + sj.Words + "."
	}
	if sj.Verdict != Set {
		a.Detail = strings.TrimSpace(a.Detail + " " + otherWays(sj.Alternates))
	}
	return a
}

// otherWays names other fingerings or positions of a note, "" when there are none.
func otherWays(paths []instrument.Path) string {
	var ways []string
	for _, p := range paths[:min(maxWays, len(paths))] {
		ways = append(ways, p.String())
	}
	if len(ways) == 0 {
		return ""
	}
	return "This note can also be played " + strings.Join(ways, " or ") + "."
}
