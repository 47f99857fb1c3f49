package hub

import "bellrow/proto/instrument"

// Peer is a node that asks for a chair.
type Peer struct {
	Node       string // stable identity of the laptop and chair
	Boot       string // this start of it
	Chair      string // the name the player gave
	Part       string
	Instrument instrument.ID
	Device     string
	Tracks     bool
	// TokenHash is stored for the node when not empty.
	TokenHash []byte
}

// Joined is what a node gets.
type Joined struct {
	Chair   ChairID
	Section string
	// Stored is the highest sequence up to which this boot is committed.
	Stored uint64
	// Replaced is the node that held the chair until now and whose view feeds
	// have ended; empty when the chair was free.
	Replaced string
}
