// Package find finds the hub: the last good one first, then whatever answers
// multicast DNS on any network interface. Typed addresses and links are tried
// before, and searched past.
//
// It asks by one-shot queries (RFC 6762, section 5.1): one for each interface
// and IP version, repeated once, from a port of its own; and it keeps apart what
// different hosts say about one name, since one of them may pose as the hub.
package find

import "bellrow/proto"

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
