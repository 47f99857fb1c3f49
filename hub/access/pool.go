package access

import (
	"net"
	"net/netip"
	"sync"
	"time"
)

// Pool is a bounded number of places for strangers: whoever has shown neither
// a token nor the leader's key. Nobody is turned away at the door. When all
// places are taken, a newcomer gets that of the stranger who has been idle
// longest, among those whose address holds the most places, beyond the few that
// a browser opens: one laptop with a thousand connections costs itself its own.
// Each address counts singly: a prefix would be the whole local network. It is
// safe for concurrent use.
type Pool struct {
	max int
	now func() time.Time

	mu     sync.Mutex
	places map[*Place]struct{}
	held   map[string]int // by address
}

// Place is one stranger's. Its methods are safe for concurrent use.
type Place struct {
	pool    *Pool
	address string
	evict   func()
	used    time.Time // guarded by pool.mu
	left    bool
}

// NewPool returns a pool of max places; nil now means time.Now.
func NewPool(max int, now func() time.Time) *Pool {
	if now == nil {
		now = time.Now
	}
	return &Pool{max: max, now: now, places: map[*Place]struct{}{}, held: map[string]int{}}
}

// Enter takes a place for a remote address; evict is called, once and from
// another's Enter, when it is taken away again.
func (p *Pool) Enter(remote string, evict func()) *Place {
	p.mu.Lock()
	var out *Place
	if len(p.places) >= p.max {
		out = p.idlest()
		out.leave()
	}
	pl := &Place{pool: p, address: addressKey(remote), evict: evict, used: p.now()}
	p.places[pl] = struct{}{}
	p.held[pl.address]++
	p.mu.Unlock()
	if out != nil {
		out.evict()
	}
	return pl
}

// share is what an address may hold without being the first to give way: a
// browser opens six connections, and a feed.
const share = 8

// idlest finds the place to give away; callers hold mu.
func (p *Pool) idlest() *Place {
	var out *Place
	for pl := range p.places {
		if out == nil {
			out = pl
			continue
		}
		switch more := max(share, p.held[pl.address]) - max(share, p.held[out.address]); {
		case more > 0, more == 0 && pl.used.Before(out.used):
			out = pl
		}
	}
	return out
}

// Taken is how many places are taken.
func (p *Pool) Taken() int {
	p.mu.Lock()
	defer p.mu.Unlock()
	return len(p.places)
}

// Touch notes that the stranger did something.
func (pl *Place) Touch() {
	now := pl.pool.now()
	pl.pool.mu.Lock()
	defer pl.pool.mu.Unlock()
	pl.used = now
}

// Leave gives the place back. A second call is harmless.
func (pl *Place) Leave() {
	pl.pool.mu.Lock()
	defer pl.pool.mu.Unlock()
	pl.leave()
}

func (pl *Place) leave() {
	if pl.left {
		return
	}
	pl.left = true
	delete(pl.pool.places, pl)
	if pl.pool.held[pl.address]--; pl.pool.held[pl.address] <= 0 {
		delete(pl.pool.held, pl.address)
	}
}

// addressKey brings "host:port" or a bare address into the form that counts:
// the address alone, with its zone.
func addressKey(remote string) string {
	host, _, err := net.SplitHostPort(remote)
	if err != nil {
		host = remote
	}
	a, err := netip.ParseAddr(host)
	if err != nil {
		return host
	}
	return a.Unmap().String()
}

// Local reports whether remote is this machine itself: its programs are its
// owner's, and need no place.
func Local(remote string) bool {
	a, err := netip.ParseAddr(addressKey(remote))
	return err == nil && a.IsLoopback()
}
