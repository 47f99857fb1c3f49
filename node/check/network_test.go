package check

import (
	"net"
	"strings"
	"testing"

	"bellrow/node/find"
)

func TestHubThatAnswers(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	n := Network{Hub: &find.Hub{Addresses: []string{l.Addr().String()}}, Interfaces: find.Loopback}
	lines := byCheck(n.Lines(t.Context()))
	if lines["hub"].State != OK || lines["round-trip"].State != OK {
		t.Errorf("hub %+v, round trip %+v", lines["hub"], lines["round-trip"])
	}
	if got := lines["network"]; got.State != Act {
		t.Errorf("loopback alone is no network, got %+v", got)
	}
}

func TestHubThatDoesNotAnswer(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	address := l.Addr().String()
	l.Close()
	n := Network{Hub: &find.Hub{Addresses: []string{address}}, Interfaces: find.Loopback}
	lines := byCheck(n.Lines(t.Context()))
	if got := lines["hub"]; got.State != Act || !strings.Contains(got.Finding, address) || got.Do == "" {
		t.Errorf("hub %+v, want what to do about %s", got, address)
	}
}

func TestNoHubAnswers(t *testing.T) {
	none := func() []net.Interface { return nil }
	lines := byCheck(Network{Interfaces: none}.Lines(t.Context()))
	if got := lines["hub"]; got.State != Act || !strings.Contains(got.Do, "--hub") {
		t.Errorf("hub %+v, want the way to type an address", got)
	}
	if got := lines["round-trip"]; got.State != Skipped {
		t.Errorf("round trip %+v, want skipped", got)
	}
}

func byCheck(lines []Line) map[string]Line {
	m := map[string]Line{}
	for _, l := range lines {
		m[l.Check] = l
	}
	return m
}

func TestNeighboursAreOthers(t *testing.T) {
	n := newNeighbours(find.Loopback())
	n.note(net.IPv4(127, 0, 0, 1))
	if n.count() != 0 {
		t.Error("this laptop counts as its own neighbour")
	}
	n.note(net.IPv4(192, 0, 2, 7)) // TEST-NET-1, RFC 5737
	n.note(net.IPv4(192, 0, 2, 7))
	if n.count() != 1 {
		t.Errorf("%d neighbours, want 1", n.count())
	}
}
