package find

import (
	"context"
	"errors"
	"net"
)

// Config sets up a search.
type Config struct {
	// Last is the last good hub; nil when there is none.
	Last *Hub
	// Typed is the hub the player named; then nothing else is tried.
	Typed *Hub
	// Interfaces lists the interfaces to ask; nil means Interfaces.
	Interfaces func() []net.Interface
	// NoMulticast skips multicast DNS.
	NoMulticast bool
}

// Results of a search that found no hub to stay with.
var (
	ErrNothing  = errors.New("find: no hub answered")
	ErrDeclined = errors.New("find: hubs were found, but none could be used")
)

// Hubs searches once and hands candidates to try, best first, until try
// returns true; then it returns nil. Otherwise it returns ErrDeclined,
// ErrNothing, ErrNoMulticast or the error of ctx. A search of the network
// takes a second; callers repeat it with growing pauses, at least a second
// apart at first (RFC 6762, section 5.2), and with jitter.
func Hubs(ctx context.Context, c Config, try func(Hub) bool) error {
	if c.Typed != nil {
		return outcome(try(*c.Typed))
	}
	if c.Last != nil && try(*c.Last) {
		return nil
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	if c.NoMulticast {
		if c.Last != nil {
			return ErrDeclined
		}
		return ErrNothing
	}
	list := c.Interfaces
	if list == nil {
		list = Interfaces
	}
	hubs, err := Browse(ctx, list())
	if err != nil {
		return err
	}
	if len(hubs) == 0 {
		return ErrNothing
	}
	for _, h := range hubs {
		if c.Last != nil && h.ID == c.Last.ID {
			h.Fingerprint = c.Last.Fingerprint
			h.TLS = h.TLS || c.Last.Fingerprint != "" // nobody on the network may talk a node out of TLS
		}
		if try(h) {
			return nil
		}
	}
	return ErrDeclined
}

func outcome(accepted bool) error {
	if accepted {
		return nil
	}
	return ErrDeclined
}
