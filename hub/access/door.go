package access

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"bellrow/proto"
)

// Rules are what the leader has said about who may come in. The zero value
// lets in everybody who knows the code, and asks about older laptops.
type Rules struct {
	// Locked lets nobody new in: whoever has a chair comes back to it.
	Locked bool `json:"locked"`
	// Older lets in laptops of an older version, which send the code openly.
	Older bool `json:"older"`
}

// Kept is what a guard needs of its last start. Nothing in it opens a door for
// who reads it but the code.
type Kept struct {
	Code    string   `json:"-"`
	Rules   Rules    `json:"rules"`
	Leaders []string `json:"leaders"` // hex SHA-256 of the leader's cookies
}

// Why a laptop waits for the leader's word.
const (
	WhyLocked = "locked" // the section is locked and the laptop new
	WhyOlder  = "older"  // it is of an older version
	WhyTaken  = "taken"  // another laptop is at work on the chair
	WhyAlike  = "alike"  // its name looks like another's
)

// Ask is a laptop that has shown the code and waits for the leader's word. One of
// an older version has not: its code has six symbols only, and whoever may try
// those would be told the first six of eight.
type Ask struct {
	Node  string    `json:"node"`
	Chair string    `json:"chair"` // the name that its player gave
	From  string    `json:"from"`  // its address
	Why   string    `json:"why"`
	At    time.Time `json:"at"` // when it asked last
}

// Bounds on what waits.
const (
	maxAsks        = 64
	maxAsksOfOne   = 4                // from one address
	maxUnproven    = 8                // of older laptops, whose code is not looked at before
	askedFor       = time.Minute      // laptops ask again each 15 s; who does not is gone
	admittedFor    = 10 * time.Minute // from the leader's yes to the laptop's coming
	maxNewAtOnce   = 6                // chairs made from one address at once,
	newChairsEvery = 20 * time.Second // then one each
)

// door is the part of a Guard that the leader changes; guarded by Guard.mu.
type door struct {
	code     string
	rules    Rules
	leaders  []string // hex SHA-256 of the cookies
	asks     []Ask    // oldest first
	admitted map[Ask]time.Time
}

// key is what a yes holds for.
func (a Ask) key() Ask { return Ask{Node: a.Node, Why: a.Why} }

// JoinCode returns the code in force.
func (g *Guard) JoinCode() string {
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.door.code
}

// Rules returns the leader's present rules.
func (g *Guard) Rules() Rules {
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.door.rules
}

// SetRules changes the rules. It fails, changing nothing, when they cannot be
// kept.
func (g *Guard) SetRules(r Rules) error { return g.change(func(d *door) { d.rules = r }) }

// NewCode puts another join code in force and returns it. Laptops that have
// their token are not concerned.
func (g *Guard) NewCode() (string, error) {
	code := proto.NewJoinCode()
	return code, g.change(func(d *door) { d.code = code })
}

func (g *Guard) change(do func(*door)) error {
	g.mu.Lock()
	defer g.mu.Unlock()
	d := g.door
	do(&d)
	if g.keep != nil {
		if err := g.keep(Kept{d.code, d.rules, d.leaders}); err != nil {
			return fmt.Errorf("access: the rules of the door are not kept: %w", err)
		}
	}
	g.door = d
	return nil
}

// May reports whether the leader has let this laptop in, and otherwise keeps
// its question for the leader.
func (g *Guard) May(a Ask) bool {
	g.mu.Lock()
	defer g.mu.Unlock()
	d := &g.door
	now := g.now()
	if at, yes := d.admitted[a.key()]; yes && now.Sub(at) < admittedFor {
		return true
	}
	a.At, a.From = now, addressKey(a.From)
	d.asks = slices.DeleteFunc(d.asks, func(o Ask) bool { return o.key() == a.key() || now.Sub(o.At) > askedFor })
	older := func(o Ask) bool { return o.Why == WhyOlder }
	if count(d.asks, func(o Ask) bool { return o.From == a.From }) >= maxAsksOfOne {
		return false
	}
	switch { // the oldest gives way: who is there asks again
	case older(a) && count(d.asks, older) >= maxUnproven:
		i := slices.IndexFunc(d.asks, older)
		d.asks = slices.Delete(d.asks, i, i+1)
	case len(d.asks) >= maxAsks:
		d.asks = d.asks[1:]
	}
	d.asks = append(d.asks, a)
	return false
}

func count(asks []Ask, is func(Ask) bool) (n int) {
	for _, a := range asks {
		if is(a) {
			n++
		}
	}
	return n
}

// Waiting returns who asks for the leader's word, by name.
func (g *Guard) Waiting() []Ask {
	g.mu.Lock()
	defer g.mu.Unlock()
	now := g.now()
	out := slices.DeleteFunc(slices.Clone(g.door.asks), func(a Ask) bool { return now.Sub(a.At) > askedFor })
	slices.SortFunc(out, func(a, b Ask) int { return cmp.Or(cmp.Compare(a.Chair, b.Chair), cmp.Compare(a.Node, b.Node)) })
	return out
}

// Admit is the leader's yes to a laptop that waits, for all it asks; it reports
// whether one of that id does.
func (g *Guard) Admit(node string) bool {
	g.mu.Lock()
	defer g.mu.Unlock()
	d, now, found := &g.door, g.now(), false
	for a, at := range d.admitted {
		if now.Sub(at) >= admittedFor {
			delete(d.admitted, a)
		}
	}
	d.asks = slices.DeleteFunc(d.asks, func(a Ask) bool {
		if a.Node != node {
			return false
		}
		d.admitted[a.key()], found = now, true
		return true
	})
	return found
}

// NewChair reports whether a laptop at the remote address may have a new chair
// now, and counts it. This machine's own are not limited.
func (g *Guard) NewChair(remote string) bool { return Local(remote) || g.chairs.Take(remote) }
