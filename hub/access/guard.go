package access

import (
	"cmp"
	"crypto/subtle"
	"errors"
	"fmt"
	"net/http"
	"strings"
	"sync"
	"time"

	"golang.org/x/time/rate"

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
	// LeaderKey is the leader's secret; empty makes one. It need not be kept: a
	// browser that was opened with it stays known by its cookie.
	LeaderKey string
	// Names are the host names of this hub beside localhost, such as
	// "bellrow.local". Addresses are always allowed: a page of another site
	// cannot make a browser send an address as Host for it.
	Names []string
	// TLS marks cookies Secure.
	TLS bool
	// Rules and Leaders are as they were kept. Keep is told of each change of
	// them or of the code before it counts; nil keeps nothing.
	Rules   Rules
	Leaders []string
	Keep    func(Kept) error
	// NewChairs is how many chairs one address makes at once; 0 means six.
	NewChairs int
	// Now is the clock; nil means time.Now.
	Now func() time.Time
}

// Guard answers the questions of access. It is safe for concurrent use.
type Guard struct {
	names  map[string]bool
	leader string
	tls    bool
	wrong  *Limiter
	chairs *Limiter      // new chairs
	pages  *rate.Limiter // strangers' requests at once, and the line of the others
	line   chan struct{}
	keep   func(Kept) error
	now    func() time.Time

	mu   sync.Mutex
	door door
}

// Wrong secrets allowed from one address: wrongBurst at once, then one every
// wrongEvery. An address so gets through 720 codes in two hours; a person who
// mistypes does not notice.
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
	if c.Now == nil {
		c.Now = time.Now
	}
	g := &Guard{
		names:  map[string]bool{"localhost": true},
		leader: c.LeaderKey, tls: c.TLS, keep: c.Keep, now: c.Now,
		wrong: NewLimiter(wrongBurst, wrongEvery, c.Now),
		pages: rate.NewLimiter(pagesPerSecond, pagesAtOnce), line: make(chan struct{}, linePlaces),
		chairs: NewLimiter(cmp.Or(c.NewChairs, maxNewAtOnce), newChairsEvery, c.Now),
		door:   door{code: code, rules: c.Rules, leaders: c.Leaders, admitted: map[Ask]time.Time{}},
	}
	for _, n := range c.Names {
		g.names[strings.ToLower(strings.TrimSuffix(n, "."))] = true
	}
	return g, nil
}

// CheckJoin says whether code, as typed, lets a node at the remote address
// enrol: nil, ErrWrongCode or ErrTooMany. Only wrong codes count against an
// address, so that a whole section behind one address can join at once.
func (g *Guard) CheckJoin(remote, code string) error {
	typed, err := proto.NormalJoin(code)
	return g.check(remote, err == nil && equal(typed, g.JoinCode()), ErrWrongCode)
}

// CheckOlder is CheckJoin for a laptop of an older version, which takes no
// more than the first symbols of a code.
func (g *Guard) CheckOlder(remote, code string) error {
	typed, err := proto.NormalJoin(code)
	return g.check(remote, err == nil && (equal(typed, g.JoinCode()) || equal(typed, g.OlderCode())), ErrWrongCode)
}

// OlderCode is the join code for laptops of an older version.
func (g *Guard) OlderCode() string { return g.JoinCode()[:proto.ShortLength] }

// BeginProof counts a try from the remote address before a proof begins, since
// the hub's part of it tells the other side whether its guess was right:
// ErrTooMany if there is none left. EndProof gives it back after a right one.
func (g *Guard) BeginProof(remote string) error {
	if !g.wrong.Take(remote) {
		return ErrTooMany
	}
	return nil
}

// EndProof says that a proof from the remote address was right.
func (g *Guard) EndProof(remote string) { g.wrong.Give(remote) }

// CheckToken says whether token is the one with this hash: nil, ErrWrongCode
// or ErrTooMany.
func (g *Guard) CheckToken(remote, token string, hash []byte) error {
	return g.check(remote, subtle.ConstantTimeCompare(HashToken(token), hash) == 1, ErrWrongCode)
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
