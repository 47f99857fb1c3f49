package network

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"strings"
	"sync"
	"sync/atomic"
)

// lan is a bridge with hosts, each a network namespace.
type lan struct {
	name  string
	hosts []string
}

// missing says why no lan can be built here, "" if it can.
var missing = sync.OnceValue(func() string {
	if os.Geteuid() != 0 {
		return "network namespaces need root"
	}
	for _, tool := range []string{"ip", "nft"} {
		if _, err := exec.LookPath(tool); err != nil {
			return "the program " + tool + " is not installed"
		}
	}
	probe := fmt.Sprintf("bp%d", os.Getpid())
	if err := run("ip", "netns", "add", probe); err != nil {
		return err.Error()
	}
	defer run("ip", "netns", "del", probe)
	err := run("ip", "netns", "exec", probe, "nft", "add table inet t; add chain inet t in { type filter hook input priority 0; }; "+
		"add rule inet t in numgen random mod 100 < 1 drop")
	if err != nil {
		return "nftables cannot drop at random here: " + err.Error()
	}
	return ""
})

func run(name string, args ...string) error { return runWith("", name, args...) }

// runWith runs a program with text on its standard input.
func runWith(stdin, name string, args ...string) error {
	cmd := exec.Command(name, args...)
	cmd.Stdin = strings.NewReader(stdin)
	out, err := cmd.CombinedOutput()
	if err != nil {
		return fmt.Errorf("soak: %s %s: %w: %s", name, strings.Join(args, " "), err, strings.TrimSpace(string(out)))
	}
	return nil
}

var lans atomic.Int32

// newLAN builds a bridge in a namespace of its own.
func newLAN() (*lan, error) {
	l := &lan{name: fmt.Sprintf("bel%d-%d", os.Getpid(), lans.Add(1))}
	err := errors.Join(
		run("ip", "netns", "add", l.name),
		run("ip", "-n", l.name, "link", "add", "bridge", "type", "bridge", "mcast_snooping", "0"),
		run("ip", "-n", l.name, "link", "set", "bridge", "up"),
	)
	if err != nil {
		l.close()
		return nil, err
	}
	return l, nil
}

// host adds a host and returns the name of its namespace. Its interface is
// "lan"; its own loopback is up, too.
func (l *lan) host(address string) (string, error) {
	n := len(l.hosts)
	ns := fmt.Sprintf("%sh%d", l.name, n)
	port := fmt.Sprintf("p%d", n)
	l.hosts = append(l.hosts, ns)
	return ns, errors.Join(
		run("ip", "netns", "add", ns),
		run("ip", "-n", ns, "link", "add", "lan", "type", "veth", "peer", "name", port, "netns", l.name),
		run("ip", "-n", l.name, "link", "set", port, "master", "bridge", "up"),
		run("ip", "-n", ns, "link", "set", "lo", "up"),
		run("ip", "-n", ns, "link", "set", "lan", "up"),
		run("ip", "-n", ns, "addr", "add", address, "dev", "lan"),
		run("ip", "-n", ns, "route", "add", "default", "dev", "lan"),
	)
}

// only4 takes IPv6 from a host, as many school networks do.
func (l *lan) only4(ns string) error {
	return run("ip", "netns", "exec", ns, "sh", "-c", "echo 1 > /proc/sys/net/ipv6/conf/all/disable_ipv6")
}

// readdress moves a host to another address.
func (l *lan) readdress(ns, from, to string) error {
	return errors.Join(
		// In this order: with the first address of a subnet go all others of it.
		run("ip", "-n", ns, "addr", "del", from, "dev", "lan"),
		run("ip", "-n", ns, "addr", "add", to, "dev", "lan"),
		run("ip", "-n", ns, "route", "replace", "default", "dev", "lan"),
	)
}

// loss drops a share of what comes in at a host, in percent; 0 ends that.
// Input only: a drop on output would show as an error to the sender.
func (l *lan) loss(ns string, percent int) error {
	rules := "add table inet loss; delete table inet loss;"
	if percent > 0 {
		rules += fmt.Sprintf("add table inet loss; add chain inet loss in { type filter hook input priority 0; };"+
			"add rule inet loss in iifname lan numgen random mod 100 < %d drop", percent)
	}
	return run("ip", "netns", "exec", ns, "nft", rules)
}

// link takes a host off the network, or puts it back.
func (l *lan) link(ns string, up bool) error {
	port := fmt.Sprintf("p%d", l.index(ns))
	state := "down"
	if up {
		state = "up"
	}
	return run("ip", "-n", l.name, "link", "set", port, state)
}

// bounce takes a host's own interface down and up again, so that the host
// itself notices.
func (l *lan) bounce(ns string, up bool) error {
	if !up {
		return run("ip", "-n", ns, "link", "set", "lan", "down")
	}
	return errors.Join(
		run("ip", "-n", ns, "link", "set", "lan", "up"),
		run("ip", "-n", ns, "route", "replace", "default", "dev", "lan"),
	)
}

func (l *lan) index(ns string) int {
	for i, h := range l.hosts {
		if h == ns {
			return i
		}
	}
	return -1
}

func (l *lan) close() {
	for _, ns := range append(l.hosts, l.name) {
		if ns != "" {
			run("ip", "netns", "del", ns)
		}
	}
}
