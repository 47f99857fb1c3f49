package access

import (
	"maps"
	"math"
	"net"
	"net/netip"
	"slices"
	"sync"
	"time"
)

// Pool is a bounded number of places for strangers: whoever has shown neither
// a token nor the leader's key. When all places are taken, a newcomer gets that
// of the stranger who has been idle longest, among those whose address asks for
// most: it holds many places, or has opened many connections lately. Up to what
// a few browsers open, all addresses are alike. One laptop with a thousand
// connections so costs itself its own, also where it puts on three hundred
// addresses. An address that pours in gets no place at all for a while.
// Each address counts singly: a prefix would be the whole local network. It is
// safe for concurrent use.
type Pool struct {
	max int
	now func() time.Time

	mu     sync.Mutex
	places []*Place
	from   map[string]*caller
	work   []*Place // who proves a secret, oldest first
}

// caller is an address.
type caller struct {
	held   int     // places
	opened float64 // connections lately, falling by e in each memory
	at     time.Time
}

// Place is one stranger's. Its methods are safe for concurrent use, and do
// nothing for nil.
type Place struct {
	pool  *Pool
	from  *caller
	evict func()
	used  time.Time // guarded by pool.mu
	left  bool
}

// What an address may ask for.
const (
	// fair is what a laptop opens within memory without anything wrong with it: a
	// browser's six and its feed, loaded twice, and a node.
	fair   = 16
	memory = 10 * time.Second
	// pouring is no laptop any more, but forty players behind one router, whose
	// hub has started anew, may look like this for a moment; it is put up with
	// while there are places.
	pouring = 32
	// flooding is refused even then.
	flooding = 60
	// maxWorking are strangers whose place is safe because they prove a code.
	maxWorking = 32
	// maxCallers bounds the memory of addresses that hold no place.
	maxCallers = 4096
)

// NewPool returns a pool of max places; nil now means time.Now.
func NewPool(max int, now func() time.Time) *Pool {
	if now == nil {
		now = time.Now
	}
	return &Pool{max: max, now: now, from: map[string]*caller{}}
}

// Enter takes a place for a remote address, or returns nil for one that pours
// in. evict is called, once and from another's Enter, when the place is taken
// away again.
func (p *Pool) Enter(remote string, evict func()) *Place {
	pl, out := p.enter(remote, evict)
	if out != nil {
		out.evict()
	}
	return pl
}

func (p *Pool) enter(remote string, evict func()) (in, out *Place) {
	p.mu.Lock()
	defer p.mu.Unlock()
	now := p.now()
	c := p.caller(addressKey(remote), now)
	c.opened, c.at = min(c.lately(now)+1, 2*flooding), now // half a minute is the longest anybody waits
	full := len(p.places) >= p.max
	if c.opened > flooding || full && c.opened > pouring {
		return nil, nil
	}
	if full {
		if out = p.idlest(now); out == nil {
			return nil, nil
		}
		out.leave()
	}
	in = &Place{pool: p, from: c, evict: evict, used: now}
	c.held++
	p.places = append(p.places, in)
	return in, out
}

// caller finds what is known of an address; callers hold mu.
func (p *Pool) caller(key string, now time.Time) *caller {
	if c := p.from[key]; c != nil {
		return c
	}
	if len(p.from) >= maxCallers {
		maps.DeleteFunc(p.from, func(_ string, c *caller) bool { return c.held == 0 })
	}
	c := &caller{at: now}
	p.from[key] = c
	return c
}

// lately is how many connections an address has opened, fading with memory.
func (c *caller) lately(now time.Time) float64 {
	return c.opened * math.Exp(-max(0, now.Sub(c.at).Seconds())/memory.Seconds())
}

// idlest finds the place to give away, nil if all are at work; callers hold mu.
func (p *Pool) idlest(now time.Time) (out *Place) {
	most := 0.0
	for _, pl := range p.places {
		asks := max(fair, float64(pl.from.held), pl.from.lately(now))
		if asks > most || asks == most && pl.used.Before(out.used) {
			if !slices.Contains(p.work, pl) {
				out, most = pl, asks
			}
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
	if pl == nil {
		return
	}
	now := pl.pool.now()
	pl.pool.mu.Lock()
	defer pl.pool.mu.Unlock()
	pl.used = now
}

// Work keeps the place while the stranger proves that it knows a secret: of
// those who do, the oldest beyond a few dozen is as any other again.
func (pl *Place) Work() {
	if pl == nil {
		return
	}
	p := pl.pool
	p.mu.Lock()
	defer p.mu.Unlock()
	if pl.left || slices.Contains(p.work, pl) {
		return
	}
	if len(p.work) >= maxWorking {
		p.work = p.work[1:]
	}
	p.work = append(p.work, pl)
}

// Known gives the place back, and forgets what its address has opened: it is
// no flood.
func (pl *Place) Known() {
	if pl == nil {
		return
	}
	pl.pool.mu.Lock()
	defer pl.pool.mu.Unlock()
	pl.leave()
	pl.from.opened = 0
}

// Leave gives the place back. A second call is harmless.
func (pl *Place) Leave() {
	if pl == nil {
		return
	}
	pl.pool.mu.Lock()
	defer pl.pool.mu.Unlock()
	pl.leave()
}

func (pl *Place) leave() {
	if pl.left {
		return
	}
	pl.left = true
	pl.from.held--
	pl.pool.places = without(pl.pool.places, pl)
	pl.pool.work = without(pl.pool.work, pl)
}

func without(from []*Place, pl *Place) []*Place {
	if i := slices.Index(from, pl); i >= 0 {
		return slices.Delete(from, i, i+1)
	}
	return from
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
