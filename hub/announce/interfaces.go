package announce

import (
	"net"

	"bellrow/proto/lan"
)

// Interfaces returns the interfaces to announce on; see lan.Interfaces.
func Interfaces() []net.Interface { return lan.Interfaces() }

// Loopback returns only the loopback interface, for a hub whose nodes all run
// on its own machine.
func Loopback() []net.Interface { return lan.Loopback() }
