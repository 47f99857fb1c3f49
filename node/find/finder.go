package find

import (
	"context"
	"errors"
	"net"
	"time"
)

// Config sets up a search.
type Config struct {
	// Last is the last good hub; nil when there is none.
	Last *Hub
	// Only accepts hubs with this id; empty accepts any.
	Only string
	// Typed is the hub the player named; then nothing else is tried.
	Typed *Hub
	// Interfaces lists the interfaces to ask; nil means Interfaces.
	Interfaces func() []net.Interface
	// NoMulticast skips multicast DNS.
	NoMulticast bool
}

// Pauses between queries grow from firstPause to lastPause: RFC 6762, section
// 5.2, wants at least one second, doubled each time; half a minute is as
// long as a player would wait before asking for the address.
const (
	firstPause = time.Second
	lastPause  = 30 * time.Second
)

// ErrNothing means that nothing answered.
var ErrNothing = errors.New("find: no hub answered")

// Hubs hands candidates to try, best first, until try accepts one by
// returning true, or ctx ends. It calls heard after each round of the search
// with ErrNothing, ErrNoMulticast, or nil when candidates were found but none
// accepted, so that the caller can tell the player. The error is that of ctx.
func Hubs(ctx context.Context, c Config, try func(Hub) bool, heard func(error)) error {
	pause := firstPause
	for {
		accepted, err := c.round(ctx, try)
		if accepted {
			return nil
		}
		if ctx.Err() != nil {
			return ctx.Err()
		}
		heard(err)
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(pause):
		}
		pause = min(2*pause, lastPause)
	}
}

func (c Config) round(ctx context.Context, try func(Hub) bool) (bool, error) {
	if c.Typed != nil {
		return try(*c.Typed), nil
	}
	tried := false
	if c.Last != nil {
		if tried = true; try(*c.Last) {
			return true, nil
		}
	}
	if c.NoMulticast {
		if tried {
			return false, nil
		}
		return false, ErrNothing
	}
	list := c.Interfaces
	if list == nil {
		list = Interfaces
	}
	hubs, err := Browse(ctx, list())
	if err != nil {
		return false, err
	}
	for _, h := range hubs {
		if c.Only != "" && h.ID != c.Only {
			continue
		}
		if c.Last != nil && h.ID == c.Last.ID {
			h.Fingerprint = c.Last.Fingerprint
		}
		if tried = true; try(h) {
			return true, nil
		}
	}
	if len(hubs) == 0 {
		return false, ErrNothing
	}
	return false, nil
}
