package announce

import (
	"context"
	"net"
	"net/netip"
	"slices"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/miekg/dns"
	"go.uber.org/goleak"
	"golang.org/x/net/ipv4"

	"bellrow/testdata/require"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// heard collects what is multicast on loopback.
type heard struct {
	mu  sync.Mutex
	rrs []dns.RR
	ttl []int
}

// listen hears the group with its own socket, so that IP TTLs can be seen.
func listen(t *testing.T) *heard {
	t.Helper()
	lo := Loopback()
	if len(lo) == 0 {
		require.Missing(t, "no loopback interface that takes multicast")
	}
	c, err := net.ListenMulticastUDP("udp4", &lo[0], group4)
	if err != nil {
		require.Missing(t, "loopback takes no multicast here: "+err.Error())
	}
	p := ipv4.NewPacketConn(c)
	if err := p.SetControlMessage(ipv4.FlagTTL|ipv4.FlagInterface, true); err != nil {
		t.Fatal(err)
	}
	h := &heard{}
	done := make(chan struct{})
	go func() {
		defer close(done)
		buf := make([]byte, 9000)
		for {
			n, cm, _, err := p.ReadFrom(buf)
			if err != nil {
				return
			}
			var m dns.Msg
			if m.Unpack(buf[:n]) != nil || !m.Response || cm.IfIndex != lo[0].Index {
				continue
			}
			h.mu.Lock()
			for _, rr := range m.Answer {
				h.rrs = append(h.rrs, rr)
				h.ttl = append(h.ttl, cm.TTL)
			}
			h.mu.Unlock()
		}
	}()
	t.Cleanup(func() { c.Close(); <-done })
	return h
}

func (h *heard) count(keep func(dns.RR) bool) int {
	h.mu.Lock()
	defer h.mu.Unlock()
	n := 0
	for _, rr := range h.rrs {
		if keep(rr) {
			n++
		}
	}
	return n
}

// wait waits until want records were heard.
func (h *heard) wait(t *testing.T, what string, want int, keep func(dns.RR) bool) {
	t.Helper()
	for range 6000 { // a minute
		if h.count(keep) >= want {
			return
		}
		time.Sleep(10 * time.Millisecond)
	}
	t.Fatalf("%s: heard %d records, want %d", what, h.count(keep), want)
}

func announced(t *testing.T, c Config) (stop func()) {
	t.Helper()
	a, err := New(c)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- a.Run(ctx) }()
	stop = sync.OnceFunc(func() {
		cancel()
		if err := <-done; err != nil {
			t.Errorf("Run: %v", err)
		}
	})
	t.Cleanup(stop)
	return stop
}

// RFC 6762, section 8.3: announced twice, a second apart; section 10.1:
// goodbye with life 0; section 10.2: cache-flush bit on unique records only;
// section 11: IP TTL 255.
func TestAnnouncesAndSaysGoodbye(t *testing.T) {
	h := listen(t)
	ours := func(alive bool) func(dns.RR) bool {
		return func(rr dns.RR) bool {
			p, ok := rr.(*dns.PTR)
			return ok && p.Ptr == `Announced\ here._bellrow._tcp.local.` && (p.Hdr.Ttl > 0) == alive
		}
	}
	stop := announced(t, Config{Hub: "h1", Name: "Announced here", Port: 7440, Interfaces: Loopback})
	h.wait(t, "announcements", 2, ours(true))
	stop()
	h.wait(t, "goodbye", 1, ours(false))
	h.mu.Lock()
	defer h.mu.Unlock()
	for i, rr := range h.rrs {
		if h.ttl[i] != 255 {
			t.Errorf("%v with IP TTL %d", rr, h.ttl[i])
		}
		flush := rr.Header().Class&(1<<15) != 0
		if shared := rr.Header().Rrtype == dns.TypePTR; flush == shared {
			t.Errorf("%v: cache-flush %v", rr, flush)
		}
	}
}

func TestSecondHubOfOneNameTakesAnother(t *testing.T) {
	h := listen(t)
	named := func(instance string) func(dns.RR) bool {
		return func(rr dns.RR) bool {
			p, ok := rr.(*dns.PTR)
			return ok && p.Ptr == instance && p.Hdr.Ttl > 0
		}
	}
	announced(t, Config{Hub: "h1", Name: "Brass", Port: 7440, Interfaces: Loopback})
	h.wait(t, "the first", 1, named(`Brass._bellrow._tcp.local.`))
	announced(t, Config{Hub: "h2", Name: "Brass", Port: 7441, Interfaces: Loopback})
	h.wait(t, "the second", 1, named(`Brass\ \(2\)._bellrow._tcp.local.`))
	if got := h.count(named(`Brass\ \(2\)._bellrow._tcp.local.`)); got == 0 {
		t.Error("the second hub has the first one's name")
	}
}

func TestAddressesAreLookedUpEachTime(t *testing.T) {
	a, err := New(Config{Hub: "h1", Port: 1, Interfaces: Loopback, Addresses: []netip.Addr{netip.MustParseAddr("127.0.0.1")}})
	if err != nil {
		t.Fatal(err)
	}
	z := a.zone()
	if got := z.addresses(); !slices.Equal(got, a.config.Addresses) {
		t.Errorf("addresses %v", got)
	}
	a.config.Addresses = []netip.Addr{netip.MustParseAddr("::1")}
	if got := z.addresses(); len(got) > 1 || len(got) == 1 && got[0] != a.config.Addresses[0] {
		t.Errorf("after a change: %v", got)
	}
}

func TestNewRefuses(t *testing.T) {
	for _, c := range []Config{{}, {Hub: "h"}, {Port: 1}, {Hub: "h", Port: 70000}} {
		if _, err := New(c); err == nil {
			t.Errorf("%+v was accepted", c)
		}
	}
}

func TestNoInterfaceIsNoFailure(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		stop := announced(t, Config{Hub: "h1", Port: 1, Interfaces: func() []net.Interface { return nil }})
		time.Sleep(time.Hour)
		stop()
	})
}
