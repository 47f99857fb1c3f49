// Package check looks at what a player's laptop brings to a rehearsal: the
// microphone with its room, and the network with its hub. Each finding is one
// Line: all is well, or what to do.
//
// Sound and Pace are calculators without clock or device; the network part
// sends multicast DNS queries and connects to the hub, nothing else.
package check

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
}

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
