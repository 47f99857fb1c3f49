package check

import (
	"context"
	"fmt"
	"net"
	"sync"
	"time"

	"golang.org/x/net/dns/dnsmessage"
)

// mdnsGroup is where multicast DNS lives (RFC 6762, section 3).
var mdnsGroup = &net.UDPAddr{IP: net.IPv4(224, 0, 0, 251), Port: 5353}

// multicastLine asks every network what services there are and counts the
// neighbours that are heard answering. Hearing nobody is no proof that multicast
// is filtered, so the hub's own line decides.
func multicastLine(ctx context.Context, interfaces []net.Interface) Line {
	const name = "multicast"
	heard := newNeighbours(interfaces)
	var wg sync.WaitGroup
	var mu sync.Mutex
	var asked int
	var failed error
	for _, i := range interfaces {
		if i.Flags&net.FlagLoopback != 0 {
			continue
		}
		wg.Go(func() {
			err := ask(ctx, i, heard)
			mu.Lock()
			defer mu.Unlock()
			if err != nil {
				failed = err
			} else {
				asked++
			}
		})
	}
	wg.Wait()
	switch {
	case asked == 0 && failed != nil:
		return act(name, "no multicast query can be sent: "+failed.Error(), "a firewall on this laptop may forbid it; type the hub's address: --hub HOST:PORT")
	case asked == 0:
		return skipped(name, "this laptop is on no network")
	case heard.count() == 0:
		return skipped(name, "no neighbour was heard; that is normal on a small network, or it filters multicast")
	}
	return ok(name, fmt.Sprintf("%d neighbours heard", heard.count()))
}

// ask sends one query on an interface and listens for a while.
func ask(ctx context.Context, on net.Interface, heard *neighbours) error {
	conn, err := net.ListenMulticastUDP("udp4", &on, mdnsGroup)
	if err != nil {
		return err
	}
	defer conn.Close()
	query, err := servicesQuery()
	if err != nil {
		return err
	}
	if _, err := conn.WriteToUDP(query, mdnsGroup); err != nil {
		return err
	}
	until := time.Now().Add(listenFor)
	if d, ok := ctx.Deadline(); ok && d.Before(until) {
		until = d
	}
	conn.SetReadDeadline(until)
	stop := context.AfterFunc(ctx, func() { conn.SetReadDeadline(time.Now()) })
	defer stop()
	buf := make([]byte, 9000) // RFC 6762, section 17
	for {
		_, from, err := conn.ReadFromUDP(buf)
		if err != nil {
			return nil // the time is over
		}
		heard.note(from.IP)
	}
}

// servicesQuery asks for the types of service on the network (RFC 6763,
// section 9).
func servicesQuery() ([]byte, error) {
	name, err := dnsmessage.NewName("_services._dns-sd._udp.local.")
	if err != nil {
		return nil, err
	}
	m := dnsmessage.Message{Questions: []dnsmessage.Question{{
		Name: name, Type: dnsmessage.TypePTR, Class: dnsmessage.ClassINET,
	}}}
	return m.Pack()
}

// neighbours is a set of addresses that are not this laptop's own. It is safe
// for concurrent use.
type neighbours struct {
	mu    sync.Mutex
	own   map[string]bool
	heard map[string]bool
}

func newNeighbours(interfaces []net.Interface) *neighbours {
	n := &neighbours{own: map[string]bool{}, heard: map[string]bool{}}
	for _, i := range interfaces {
		addrs, err := i.Addrs()
		if err != nil {
			continue
		}
		for _, a := range addrs {
			if ip, _, err := net.ParseCIDR(a.String()); err == nil {
				n.own[ip.String()] = true
			}
		}
	}
	return n
}

func (n *neighbours) note(ip net.IP) {
	n.mu.Lock()
	defer n.mu.Unlock()
	if !n.own[ip.String()] {
		n.heard[ip.String()] = true
	}
}

func (n *neighbours) count() int {
	n.mu.Lock()
	defer n.mu.Unlock()
	return len(n.heard)
}
