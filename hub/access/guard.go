package access

import (
	"crypto/subtle"
	"errors"
	"fmt"
	"net/http"
	"strings"
	"time"

	"bellrow/proto"
)

// Errors of the guard that callers branch on.
var (
	ErrWrongCode = errors.New("access: wrong join code")
	ErrWrongKey  = errors.New("access: wrong leader key")
	// ErrTooMany means that this address tried too many wrong secrets lately.
	ErrTooMany = errors.New("access: too many wrong tries from this address")
)

// Config sets up a Guard.
type Config struct {
	// JoinCode is the code in force; empty makes one.
	JoinCode string
	// LeaderKey is the leader's secret; empty makes one. Keep it with the hub's
	// data, so that the leader's browser stays known after a restart.
	LeaderKey string
	// Names are the host names of this hub beside localhost, such as
	// "bellrow.local". Addresses are always allowed: a page of another site
	// cannot make a browser send an address as Host for it.
	Names []string
	// TLS marks cookies Secure.
	TLS bool
	// Now is the clock; nil means time.Now.
	Now func() time.Time
}

// Guard answers the questions of access. It is safe for concurrent use.
type Guard struct {
	names  map[string]bool
	leader string
	tls    bool
	code   string
	wrong  *Limiter
}

// Wrong secrets allowed from one address: wrongBurst at once, then one every
// wrongEvery. Against 887 million join codes an address so gets through 720
// in two hours; a person who mistypes does not notice.
const (
	wrongBurst = 6
	wrongEvery = 10 * time.Second
)

// New returns a guard.
func New(c Config) (*Guard, error) {
	if c.JoinCode == "" {
		c.JoinCode = proto.NewJoinCode()
	}
	code, err := proto.NormalJoin(c.JoinCode)
	if err != nil {
		return nil, fmt.Errorf("access: %w", err)
	}
	if c.LeaderKey == "" {
		c.LeaderKey = NewSecret()
	}
	if n := len(c.LeaderKey); n < 16 {
		return nil, fmt.Errorf("access: leader key of %d characters, need at least 16", n)
	}
	g := &Guard{
		names:  map[string]bool{"localhost": true},
		leader: c.LeaderKey, tls: c.TLS, code: code,
		wrong: NewLimiter(wrongBurst, wrongEvery, c.Now),
	}
	for _, n := range c.Names {
		g.names[strings.ToLower(strings.TrimSuffix(n, "."))] = true
	}
	return g, nil
}

// JoinCode returns the code in force.
func (g *Guard) JoinCode() string { return g.code }

// CheckJoin says whether code, as typed, lets a node at the remote address
// enrol: nil, ErrWrongCode or ErrTooMany. Only wrong codes count against an
// address, so that a whole section behind one address can join at once.
func (g *Guard) CheckJoin(remote, code string) error {
	typed, err := proto.NormalJoin(code)
	return g.check(remote, err == nil && equal(typed, g.code), ErrWrongCode)
}

// CheckToken says whether token is the one with this hash: nil, ErrWrongCode
// or ErrTooMany.
func (g *Guard) CheckToken(remote, token string, hash []byte) error {
	return g.check(remote, len(hash) > 0 && subtle.ConstantTimeCompare(HashToken(token), hash) == 1, ErrWrongCode)
}

// check charges wrong secrets to the address, and refuses even right ones
// from an address that is out of tries: otherwise guessing would go on.
func (g *Guard) check(remote string, right bool, wrong error) error {
	if !g.wrong.Left(remote) {
		return ErrTooMany
	}
	if !right {
		g.wrong.Take(remote)
		return wrong
	}
	return nil
}

// HostAllowed reports whether r was addressed to this hub by an address or by
// one of its own names. A page that rebinds its name to the hub's address
// (DNS rebinding) fails here.
func (g *Guard) HostAllowed(r *http.Request) bool { return g.hostAllowed(r.Host) }

func equal(a, b string) bool {
	return subtle.ConstantTimeCompare([]byte(a), []byte(b)) == 1
}
