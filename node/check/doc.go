// Package check looks at what a player's laptop brings to a rehearsal: the
// microphone with its room, and the network with its hub. Each finding is one
// Line: all is well, or what to do.
//
// Sound and Pace are calculators without clock or device; the network part
// sends multicast DNS queries and connects to the hub, nothing else.
package check

import (
	"fmt"
	"strings"

	"bellrow/proto/phrase"
)

// State is how a Line stands.
type State string

// The states.
const (
	OK      State = "ok"
	Act     State = "act"     // something has to be put right; Do says what
	Skipped State = "skipped" // not looked at; Finding says why
)

// A Line is one finding.
type Line struct {
	Check   string `json:"check"` // stable name, such as "noise"
	State   State  `json:"state"`
	Finding string `json:"finding"`      // one sentence or less, no full stop
	Do      string `json:"do,omitempty"` // the next action, with Act
	// Finding and Do are English. A page says a line about the microphone in its
	// own language, by the key of what was found and its figures.
	key     string
	figures []any
}

// In says a line in a tongue: what is found, and what to do. A line that no page
// shows, such as one about the network, stays in English.
func (l Line) In(t phrase.Tongue) (finding, do string) {
	if l.key == "" {
		return l.Finding, l.Do
	}
	if _, _, do = t.Parts(l.key); do == "" {
		do = t.Say("check." + l.Check + ".next")
	}
	return t.Say(l.key, l.figures...), do
}

// told asks for what has to be put right, in the words of proto/phrase.
func told(check, key string, figures ...any) Line {
	l := Line{Check: check, State: Act, key: key, figures: figures}
	finding, do := l.In(phrase.Tongue{})
	l.Finding, l.Do = clause(finding), clause(do)
	return l
}

// clause is a sentence as the command prints it, in what every terminal shows.
func clause(sentence string) string {
	return strings.ReplaceAll(strings.TrimSuffix(phrase.Tongue{}.Clause(sentence), "."), "’", "'")
}

// whole writes a figure as a whole number, alike in every language.
func whole(x float64) string { return fmt.Sprintf("%.0f", x) }

func ok(check, finding string) Line { return Line{Check: check, State: OK, Finding: finding} }

func act(check, finding, do string) Line {
	return Line{Check: check, State: Act, Finding: finding, Do: do}
}

func skipped(check, why string) Line { return Line{Check: check, State: Skipped, Finding: why} }

// Well reports whether no line asks for anything.
func Well(lines []Line) bool {
	for _, l := range lines {
		if l.State == Act {
			return false
		}
	}
	return true
}
