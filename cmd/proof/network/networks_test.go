package network

import (
	"errors"
	"fmt"
	"iter"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"bellrow/testdata/require"
)

// delivers runs one node on a host until all it sent has arrived.
func delivers(t *testing.T, ns string, first int) {
	t.Helper()
	dir, err := os.MkdirTemp("", "bellrow-node-")
	if err != nil {
		t.Fatal(err)
	}
	defer os.RemoveAll(dir)
	p, err := start(ns, roleNodes, "-dir", dir, "-first", fmt.Sprint(first), "-every", "100ms")
	if err != nil {
		t.Fatal(err)
	}
	played(t, dir, 1)
	if err := p.stop(drainWithin); err != nil {
		t.Errorf("a node on %s: %v", ns, err)
	}
}

// played waits until the nodes of a folder have played so many notes.
func played(t *testing.T, dir string, notes int) {
	t.Helper()
	waitFor(t, "a note to be played", func() bool {
		sent, err := journals(dir)
		return err == nil && len(sent) >= notes
	})
}

// names yields the second field, the name, of each line of the find role.
func names(text string) iter.Seq[string] {
	return func(yield func(string) bool) {
		for line := range strings.Lines(text) {
			if f := strings.Split(line, "|"); len(f) == 3 && !yield(f[1]) {
				return
			}
		}
	}
}

// A hub on two networks, a cable and a Wi-Fi say, is found and reached from
// both, although each is told the addresses of both.
func TestHubOnTwoNetworks(t *testing.T) {
	if testing.Short() {
		t.Skip("takes some seconds")
	}
	t.Parallel()
	cable, one, two := twoHosts(t)
	wifi, three, _ := twoHosts(t)
	if err := errors.Join(
		wifi.attach(one, "wifi", "10.77.2.1/24"),
		wifi.readdress(three, "10.77.1.1/24", "10.77.2.3/24"),
		cable.only4(two),
	); err != nil {
		t.Fatal(err)
	}
	hub, err := start(one, roleHub, "-data", filepath.Join(t.TempDir(), "hub.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer hub.kill()
	delivers(t, two, 0)
	delivers(t, three, 1)
}

// Two hubs of one name on one network: each node stays with the hub it knows.
func TestTwoHubsOfOneName(t *testing.T) {
	if testing.Short() {
		t.Skip("takes some seconds")
	}
	t.Parallel()
	if why := missing(); why != "" {
		require.Missing(t, why)
	}
	l, one, two := twoHosts(t)
	player, err := l.host("10.77.1.3/24")
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	first, err := start(one, roleHub, "-data", filepath.Join(dir, "1", "hub.db"), "-section", "Brass")
	if err != nil {
		t.Fatal(err)
	}
	defer first.kill()
	waitFor(t, "the first hub", func() bool { return len(first.out.String()) > 0 })
	nodes := filepath.Join(dir, "nodes")
	visit := func() {
		before, err := journals(nodes)
		if err != nil {
			t.Fatal(err)
		}
		p, err := start(player, roleNodes, "-dir", nodes, "-every", "50ms")
		if err != nil {
			t.Fatal(err)
		}
		played(t, nodes, len(before)+5)
		if err := p.stop(drainWithin); err != nil {
			t.Fatal(err)
		}
	}
	visit()
	second, err := start(two, roleHub, "-data", filepath.Join(dir, "2", "hub.db"), "-section", "Brass")
	if err != nil {
		t.Fatal(err)
	}
	defer second.kill()
	waitFor(t, "both hubs to be found, under two names", func() bool {
		f, err := start(player, roleFind)
		if err != nil {
			t.Fatal(err)
		}
		<-f.done
		a, b := 0, 0
		for line := range names(f.out.String()) {
			switch line {
			case "Brass":
				a++
			case "Brass (2)":
				b++
			}
		}
		return a == 1 && b == 1
	})
	visit()
	if err := errors.Join(first.stop(endWithin), second.stop(endWithin)); err != nil {
		t.Fatal(err)
	}
	sent, err := journals(nodes)
	if err != nil {
		t.Fatal(err)
	}
	at1, err := count(t.Context(), filepath.Join(dir, "1", "hub.db"), sent)
	if err != nil {
		t.Fatal(err)
	}
	at2, err := count(t.Context(), filepath.Join(dir, "2", "hub.db"), sent)
	if err != nil {
		t.Fatal(err)
	}
	if err := at1.err(); err != nil || at2.Stored != 0 {
		t.Errorf("at its hub: %v; at the other: %v", at1, at2)
	}
}

// attach puts a host of another lan on this one, too, as interface name.
func (l *lan) attach(ns, name, address string) error {
	n := len(l.hosts)
	port := fmt.Sprintf("p%d", n)
	l.hosts = append(l.hosts, "") // the other lan's to delete
	return errors.Join(
		run("ip", "-n", ns, "link", "add", name, "type", "veth", "peer", "name", port, "netns", l.name),
		run("ip", "-n", l.name, "link", "set", port, "master", "bridge", "up"),
		run("ip", "-n", ns, "link", "set", name, "up"),
		run("ip", "-n", ns, "addr", "add", address, "dev", name),
	)
}
