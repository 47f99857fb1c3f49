// Package lan lists the network interfaces on which hubs and nodes look for
// one another. It asks the operating system anew at each call, because laptops
// change networks.
package lan

import (
	"net"
	"net/netip"
	"slices"
	"strings"
)

// virtual lists prefixes of names of interfaces that lead to containers and
// virtual machines on the same laptop, where nobody else is.
var virtual = []string{"docker", "br-", "veth", "virbr", "vmnet", "vboxnet", "cni", "podman", "vEthernet", "VirtualBox", "VMware"}

// Interfaces returns the interfaces that are up, can multicast, have an
// address, and are not virtual; loopback comes last, for hub and node on one
// laptop. Loopback carries multicast on Linux although its flags do not say so.
func Interfaces() []net.Interface {
	all, err := net.Interfaces()
	if err != nil {
		return nil
	}
	out := slices.DeleteFunc(all, func(i net.Interface) bool {
		return i.Flags&net.FlagUp == 0 || i.Flags&(net.FlagMulticast|net.FlagLoopback) == 0 ||
			isVirtual(i.Name) || len(Addresses(i)) == 0
	})
	slices.SortStableFunc(out, func(a, b net.Interface) int {
		return int(a.Flags&net.FlagLoopback) - int(b.Flags&net.FlagLoopback)
	})
	return out
}

// Loopback returns only the loopback interface, for a hub and nodes that all
// run on one laptop.
func Loopback() []net.Interface {
	return slices.DeleteFunc(Interfaces(), func(i net.Interface) bool { return i.Flags&net.FlagLoopback == 0 })
}

func isVirtual(name string) bool {
	return slices.ContainsFunc(virtual, func(p string) bool { return strings.HasPrefix(name, p) })
}

// Addresses returns an interface's addresses, sorted, without zones.
func Addresses(i net.Interface) []netip.Addr {
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
