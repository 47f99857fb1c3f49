package find

import (
	"net"
	"slices"
	"strings"
)

// virtual lists prefixes of interface names that lead to containers and
// virtual machines on the same laptop, where no hub is.
var virtual = []string{"docker", "br-", "veth", "virbr", "vmnet", "vboxnet", "cni", "podman"}

// Interfaces returns the interfaces to ask: up, able to multicast, with an
// address, not virtual, and loopback too, for a hub on the same laptop.
func Interfaces() []net.Interface {
	all, err := net.Interfaces()
	if err != nil {
		return nil
	}
	var out []net.Interface
	for _, i := range all {
		if Usable(i) {
			out = append(out, i)
		}
	}
	return out
}

// Loopback returns only the loopback interface, for nodes that run on the hub's
// own machine.
func Loopback() []net.Interface {
	return slices.DeleteFunc(Interfaces(), func(i net.Interface) bool { return i.Flags&net.FlagLoopback == 0 })
}

// Usable reports whether Interfaces would return i. Loopback carries
// multicast on Linux although its flags do not say so.
func Usable(i net.Interface) bool {
	if i.Flags&net.FlagUp == 0 || i.Flags&(net.FlagMulticast|net.FlagLoopback) == 0 {
		return false
	}
	for _, prefix := range virtual {
		if strings.HasPrefix(i.Name, prefix) {
			return false
		}
	}
	addresses, err := i.Addrs()
	return err == nil && len(addresses) > 0
}
