package uplink

import (
	"errors"
	"net"
	"net/netip"
	"time"
)

// lookEvery is how often a connection's own address is looked for: a laptop
// that changed networks need not wait for the silence to be noticed.
const lookEvery = 3 * time.Second

var errRoamed = errors.New("uplink: this laptop has another address by now")

// gone reports whether the address that a connection was made from belongs to
// this laptop no longer, so that no answer can ever come back.
func gone(local net.Addr) bool {
	ap, err := netip.ParseAddrPort(local.String())
	if err != nil {
		return false
	}
	addrs, err := net.InterfaceAddrs()
	if err != nil || ap.Addr().IsLoopback() {
		return false
	}
	for _, a := range addrs {
		if p, err := netip.ParsePrefix(a.String()); err == nil && p.Addr().Unmap() == ap.Addr().Unmap().WithZone("") {
			return false
		}
	}
	return true
}
