package find

import (
	"net"

	"bellrow/proto/lan"
)

// Interfaces returns the interfaces to ask; see lan.Interfaces.
func Interfaces() []net.Interface { return lan.Interfaces() }

// Loopback returns only the loopback interface, for nodes that run on the hub's
// own machine.
func Loopback() []net.Interface { return lan.Loopback() }
