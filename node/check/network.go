package check

import (
	"context"
	"errors"
	"fmt"
	"net"
	"slices"
	"strings"
	"sync"
	"time"

	"bellrow/node/find"
)

// Network says what to look at.
type Network struct {
	// Hub is the hub the player named; nil means that it is searched for.
	Hub *find.Hub
	// Interfaces lists the interfaces to look at; nil means find.Interfaces.
	Interfaces func() []net.Interface
}

// Limits of the network check.
const (
	// listenFor is how long neighbours may take to answer a multicast query:
	// they wait up to 120 ms on purpose, and longer when they sleep (RFC 6762,
	// section 6).
	listenFor = 2 * time.Second
	// dialFor bounds one connection to a hub.
	dialFor = 3 * time.Second
	// trips is how many connections the round trip is measured with.
	trips = 7
	// slowTrip is a round trip that players notice together with the rest.
	slowTrip = 100 * time.Millisecond
)

// Lines looks at the network. It takes a few seconds at most.
func (n Network) Lines(ctx context.Context) []Line {
	list := n.Interfaces
	if list == nil {
		list = find.Interfaces
	}
	interfaces := list()
	lines := []Line{interfaceLine(interfaces), multicastLine(ctx, interfaces)}
	hub, err := n.find(ctx, list)
	if err != nil {
		return append(lines, noHub(err, n.Hub), skipped("round-trip", "needs a hub"))
	}
	return append(lines, ok("hub", describe(hub)), tripLine(ctx, hub))
}

// interfaceLine lists the networks this laptop is on.
func interfaceLine(interfaces []net.Interface) Line {
	var names []string
	for _, i := range interfaces {
		if i.Flags&net.FlagLoopback == 0 {
			names = append(names, i.Name+" "+strings.Join(addresses(i), " "))
		}
	}
	if len(names) == 0 {
		return act("network", "this laptop is on no network", "join the Wi-Fi of the rehearsal, or plug in a cable")
	}
	return ok("network", strings.Join(names, ", "))
}

// addresses returns an interface's addresses, without link-local ones when
// there are others.
func addresses(i net.Interface) []string {
	addrs, err := i.Addrs()
	if err != nil {
		return nil
	}
	var global, local []string
	for _, a := range addrs {
		ip, _, err := net.ParseCIDR(a.String())
		switch {
		case err != nil:
		case ip.IsLinkLocalUnicast():
			local = append(local, ip.String())
		default:
			global = append(global, ip.String())
		}
	}
	if len(global) > 0 {
		return global
	}
	return local
}

// find returns the first hub that takes a connection.
func (n Network) find(ctx context.Context, list func() []net.Interface) (find.Hub, error) {
	var mu sync.Mutex
	var found find.Hub
	var dialled error
	try := func(ctx context.Context, h find.Hub) bool {
		address, err := reachable(ctx, h.Addresses)
		mu.Lock()
		defer mu.Unlock()
		if err != nil {
			dialled = err
			return false
		}
		found, found.Addresses = h, []string{address}
		return true
	}
	if n.Hub != nil {
		try(ctx, *n.Hub)
		return found, dialled
	}
	err := find.Hubs(ctx, find.Config{Interfaces: list}, try)
	if err != nil && dialled != nil {
		return find.Hub{}, dialled
	}
	return found, err
}

// reachable returns the first address that takes a connection.
func reachable(ctx context.Context, addresses []string) (string, error) {
	err := errors.New("check: the hub names no address")
	for _, a := range addresses {
		if _, err = trip(ctx, a); err == nil {
			return a, nil
		}
	}
	return "", err
}

// trip is the time in which a TCP connection opens: one round trip.
func trip(ctx context.Context, address string) (time.Duration, error) {
	dialer := net.Dialer{Timeout: dialFor}
	start := time.Now()
	conn, err := dialer.DialContext(ctx, "tcp", address)
	if err != nil {
		return 0, err
	}
	took := time.Since(start)
	return took, conn.Close()
}

func describe(h find.Hub) string {
	name := h.Name
	if name == "" {
		name = "the hub"
	}
	return fmt.Sprintf("%s at %s", name, strings.Join(h.Addresses, " "))
}

// noHub says which of the ways of not finding a hub it is.
func noHub(err error, typed *find.Hub) Line {
	var op *net.OpError
	switch {
	case errors.As(err, &op) && typed != nil:
		return act("hub", describe(*typed)+" does not answer", "check the address on the leader's screen, and that both laptops are on the same network")
	case errors.As(err, &op):
		return act("hub", "a hub announces itself but takes no connection", "the leader's firewall may block it: allow bellrow there")
	case errors.Is(err, find.ErrNothing):
		return act("hub", "no hub answered", "start the hub; if it runs, type its address from the leader's screen: --hub HOST:PORT")
	}
	return act("hub", "the search for a hub failed: "+err.Error(), "type the hub's address from the leader's screen: --hub HOST:PORT")
}

func tripLine(ctx context.Context, h find.Hub) Line {
	var took []time.Duration
	for range trips {
		d, err := trip(ctx, h.Addresses[0])
		if err != nil {
			return act("round-trip", "the hub answers only now and then", "move closer to the access point, or use a cable")
		}
		took = append(took, d)
	}
	slices.Sort(took)
	text := fmt.Sprintf("%.1f ms to the hub, %.1f ms at worst", ms(took[len(took)/2]), ms(took[len(took)-1]))
	if took[len(took)/2] > slowTrip {
		return act("round-trip", text, "move closer to the access point, or use a cable")
	}
	return ok("round-trip", text)
}

func ms(d time.Duration) float64 { return d.Seconds() * 1000 }
