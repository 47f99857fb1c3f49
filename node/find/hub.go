// Package find finds the hub: the last good one first, then whatever answers
// multicast DNS on any network interface. Typed addresses and links skip the
// search.
//
// It wraps hashicorp/mdns v1.0.7 and works around what that leaves open: one
// query for each interface and IP version, since one that cannot be sent
// ends the other; repeated with growing pauses, since a query is not
// retried; entries read only after the query has ended, since they are still
// written to until then; names of other services filtered out and escapes
// undone; all addresses from the TXT record, since an entry holds only one of
// each kind; and its own logger, since any neighbour could fill the standard one.
package find

import (
	"net"
	"strconv"

	"bellrow/proto"
)

// How a hub was found.
const (
	FromLast  = "last"  // it was used before
	FromMDNS  = "mdns"  // it answered on the network
	FromTyped = "typed" // the player gave its address or link
)

// Hub is one hub that may be tried.
type Hub struct {
	ID        string   // hub id, empty when only an address is known
	Name      string   // instance name, for people
	Addresses []string // host:port, all of them
	TLS       bool
	// Fingerprint pins the hub's certificate: hex SHA-256. It comes from a link
	// or from an earlier visit, never from the network.
	Fingerprint string
	From        string
}

// Typed returns the hub that a link or a typed address names.
func Typed(l proto.Link) Hub {
	return Hub{ID: l.Hub, Addresses: []string{l.Address}, TLS: l.TLS, Fingerprint: l.Fingerprint, From: FromTyped}
}

func join(ip net.IP, zone string, port int) string {
	host := ip.String()
	if zone != "" {
		host += "%" + zone
	}
	return net.JoinHostPort(host, strconv.Itoa(port))
}
