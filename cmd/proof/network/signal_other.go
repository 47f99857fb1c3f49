//go:build !unix

package network

// lacking is a signal that this system lacks: sending it is an error, and the trials
// of the network need Linux anyway.
type lacking string

func (lacking) Signal()          {}
func (s lacking) String() string { return string(s) }

const (
	askStanding lacking = "ask how it stands"
	askClock    lacking = "ask for the clock"
	freezing    lacking = "freeze"
	thawing     lacking = "thaw"
)
