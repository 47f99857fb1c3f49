package find

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"net/netip"
	"slices"
	"strings"
	"sync"
	"time"

	"bellrow/proto"
)

// queryFor is how long answers to one query are awaited. RFC 6762, section 6,
// lets a responder delay by up to 120 ms, 500 ms with the TC bit; a loaded
// Wi-Fi adds as much.
const queryFor = time.Second

// maxEntries bounds the answers kept of one query.
const maxEntries = 2048

// ErrNoMulticast means that no interface could be asked: there is no network,
// or multicast is forbidden on this machine.
var ErrNoMulticast = errors.New("find: no network interface takes multicast")

// ErrForbidden is an ErrNoMulticast: there is a network, and the system refused to
// send, as its firewall tells it to.
var ErrForbidden = fmt.Errorf("%w: it is forbidden", ErrNoMulticast)

// Browse asks each interface once, over IPv4 and IPv6, and returns the hubs
// that answered, in order of name: one entry for each hub id, or several where
// answers of one id have no address in common, since one of them may be false. It takes
// queryFor. An error means that nothing could be asked at all.
func Browse(ctx context.Context, interfaces []net.Interface) ([]Hub, error) {
	var (
		wait  sync.WaitGroup
		mu    sync.Mutex
		found []*entry
		asked bool
		// forbidden says that a query was refused rather than that it failed.
		forbidden bool
	)
	for i := range interfaces {
		for _, v6 := range []bool{false, true} {
			wait.Go(func() {
				entries, err := query(ctx, &interfaces[i], v6)
				mu.Lock()
				defer mu.Unlock()
				found = append(found, entries...)
				asked = asked || err == nil
				forbidden = forbidden || errors.Is(err, fs.ErrPermission)
			})
		}
	}
	wait.Wait()
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	switch {
	case asked:
	case forbidden:
		return nil, ErrForbidden
	default:
		return nil, ErrNoMulticast
	}
	return gather(found), nil
}

// gather turns answers into hubs: those of our service with a readable TXT
// record, merged by hub id and address.
func gather(entries []*entry) []Hub {
	var hubs []Hub
	for _, e := range entries {
		h, ok := hubOf(e)
		if !ok {
			continue
		}
		i := slices.IndexFunc(hubs, func(o Hub) bool {
			return o.ID == h.ID && slices.ContainsFunc(h.Addresses, func(a string) bool { return slices.Contains(o.Addresses, a) })
		})
		if i < 0 {
			hubs = append(hubs, h)
			continue
		}
		for _, a := range h.Addresses {
			if !slices.Contains(hubs[i].Addresses, a) {
				hubs[i].Addresses = append(hubs[i].Addresses, a)
			}
		}
	}
	slices.SortFunc(hubs, func(a, b Hub) int { return strings.Compare(a.Name+a.ID, b.Name+b.ID) })
	return hubs
}

func hubOf(e *entry) (Hub, bool) {
	name, ours := instance(e.name)
	txt, err := proto.ParseTXT(e.txt)
	if !ours || err != nil || e.port <= 0 || e.port > 65535 {
		return Hub{}, false
	}
	h := Hub{ID: txt.Hub, Name: name, TLS: txt.TLS, From: FromMDNS}
	more := func(a netip.Addr) {
		if a.Is6() && a.IsLinkLocalUnicast() {
			if a = a.WithZone(e.from.Zone()); a.Zone() == "" {
				return // useless without its zone, which only the packet's source tells
			}
		}
		if at := netip.AddrPortFrom(a, uint16(e.port)).String(); !slices.Contains(h.Addresses, at) {
			h.Addresses = append(h.Addresses, at)
		}
	}
	for _, a := range txt.Addresses {
		more(a)
	}
	for _, a := range e.hosts[e.target] {
		more(a)
	}
	return h, len(h.Addresses) > 0
}
