package uplink

import (
	"errors"
	"fmt"

	"bellrow/node/find"
	"bellrow/proto"
)

// Phase is where an uplink stands.
type Phase string

// The phases.
const (
	Searching  Phase = "searching"  // looking for a hub
	Connecting Phase = "connecting" // a hub was found and is being tried
	Connected  Phase = "connected"
	Refused    Phase = "refused" // the hub said no; the player must act
)

// Status says how the connection stands, for people.
type Status struct {
	Phase Phase
	// Code is stable: "", "nothing-answered", "no-network", "forbidden", "unreachable",
	// "not-a-hub", "other-hub", "other-key", "unproven", "older-hub", or a code of
	// the hub's, such as "wrong-code".
	Code    string
	Message string // one sentence
	Hint    string // the next action
	// Hub and Section name the hub when it is connected.
	Hub     string
	Section string
	// Waiting is how many readings are not acknowledged yet; Dropped how many
	// found no room.
	Waiting int
	Dropped int
}

// codeNumbers is the trouble of a hub whose numbers are not the queue's.
const codeNumbers = "numbers"

// Codes of hubs that have not shown who they are.
const (
	codeUnproven = "unproven"  // it was asked to, and could not
	codeOlder    = "older-hub" // its version is not able to
)

// graver returns the trouble that tells the player more; either may be nil.
func graver(a, b *trouble) *trouble {
	rank := func(t *trouble) int {
		switch {
		case t == nil:
			return 0
		case t.code == "unreachable" || t.code == "closed":
			return 1
		case t.code == "not-a-hub" || t.code == "other-hub":
			return 2
		case t.code == codeOlder || t.code == codeUnproven:
			return 3
		}
		return 4
	}
	if rank(b) > rank(a) {
		return b
	}
	return a
}

// trouble is why an attempt ended, in words for the player.
type trouble struct {
	code, message, hint string
	final               bool  // do not retry with the same words
	cause               error // for the log
}

func (t *trouble) Error() string { return "uplink: " + t.message }

// by adds what lies behind the trouble.
func (t *trouble) by(cause error) *trouble {
	t.cause = cause
	return t
}

func searchTrouble(err error) *trouble {
	if errors.Is(err, find.ErrForbidden) {
		return &trouble{code: "forbidden", message: "a firewall on this laptop forbids it to look for the hub",
			hint: "let bellrow through the firewall, or type the address or link from the leader's screen"}
	}
	if errors.Is(err, find.ErrNoMulticast) {
		return &trouble{code: "no-network", message: "this laptop has no network that can be searched",
			hint: "switch the Wi-Fi on and join the leader's network"}
	}
	return &trouble{code: "nothing-answered", message: "no hub answered on this network",
		hint: "ask the leader whether the hub is running; if it is, this network hides it: type the address or link from the leader's screen"}
}

func unreachable(address string) *trouble {
	return &trouble{code: "unreachable", message: fmt.Sprintf("the hub at %s cannot be reached", address),
		hint: "check that both laptops are on the same network, that the hub is running, and that its firewall lets the port in; guest networks often keep laptops apart"}
}

func notHub(address string) *trouble {
	return &trouble{code: "not-a-hub", message: fmt.Sprintf("something answers at %s, but it is not a hub", address),
		hint: "compare the address and port with the leader's screen"}
}

func otherHub(address string) *trouble {
	return &trouble{code: "other-hub", message: "another hub answers at " + address,
		hint: "compare the address with the leader's screen"}
}

func needsCode() *trouble {
	return &trouble{code: proto.CodeWrongCode, message: "this hub needs its join code",
		hint: "type the join code from the leader's screen", final: true}
}

func unproven(address string) *trouble {
	return &trouble{code: codeUnproven, message: fmt.Sprintf("the hub at %s does not know that join code", address),
		hint: "compare the code with the leader's screen, letter by letter; if it is right, another laptop poses as the hub, and has not learnt the code", final: true}
}

func older(name, address string) *trouble {
	if name == "" {
		name = "the hub"
	}
	return &trouble{code: codeOlder, message: fmt.Sprintf("%s at %s is of an older version and cannot prove that it is the right hub", name, address),
		hint: "if that is the address on the leader's screen, type it and confirm it; better, update bellrow on the leader's laptop", final: true}
}

func otherKey(address string) *trouble {
	return &trouble{code: "other-key", message: fmt.Sprintf("the hub at %s does not have the key that was expected", address),
		hint: "somebody may be posing as the hub; scan the link on the leader's screen again", final: true}
}
