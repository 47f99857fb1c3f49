package announce

import (
	"net"
	"net/netip"
	"slices"
	"strings"
)

// virtual lists prefixes of interface names that lead to containers and
// virtual machines on the same laptop, where no player is.
var virtual = []string{"docker", "br-", "veth", "virbr", "vmnet", "vboxnet", "cni", "podman"}

// Interfaces returns the interfaces to announce on: up, able to multicast,
// with an address, and not virtual; loopback last, for nodes on this laptop.
func Interfaces() []net.Interface {
	all, err := net.Interfaces()
	if err != nil {
		return nil
	}
	out := slices.DeleteFunc(all, func(i net.Interface) bool {
		return i.Flags&net.FlagUp == 0 || i.Flags&(net.FlagMulticast|net.FlagLoopback) == 0 ||
			slices.ContainsFunc(virtual, func(p string) bool { return strings.HasPrefix(i.Name, p) }) ||
			len(addressesOf(i)) == 0
	})
	slices.SortStableFunc(out, func(a, b net.Interface) int {
		return int(a.Flags&net.FlagLoopback) - int(b.Flags&net.FlagLoopback)
	})
	return out
}

// Loopback returns only the loopback interface, for a hub whose nodes all run
// on its own machine.
func Loopback() []net.Interface {
	return slices.DeleteFunc(Interfaces(), func(i net.Interface) bool { return i.Flags&net.FlagLoopback == 0 })
}

// addressesOf returns an interface's addresses, sorted, without zones.
func addressesOf(i net.Interface) []netip.Addr {
	addrs, err := i.Addrs()
	if err != nil {
		return nil
	}
	var out []netip.Addr
	for _, a := range addrs {
		if p, err := netip.ParsePrefix(a.String()); err == nil {
			out = append(out, p.Addr().Unmap())
		}
	}
	slices.SortFunc(out, netip.Addr.Compare)
	return out
}
