package find

import (
	"context"
	"errors"
	"fmt"
	"net/netip"
	"reflect"
	"slices"
	"strings"
	"sync"
	"testing"
	"unicode/utf8"

	"github.com/hashicorp/mdns"
	"github.com/miekg/dns"
	"go.uber.org/goleak"

	"bellrow/proto"
	"bellrow/testdata/require"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// RFC 1035, section 5.1, and RFC 6763, section 4.3.
func TestInstance(t *testing.T) {
	for full, want := range map[string]string{
		`Low\ brass._bellrow._tcp.local.`:                   "Low brass",
		`St\.\ Mary\ R\195\182hre._bellrow._tcp.local.`:     "St. Mary Röhre",
		`back\\slash._BELLROW._TCP.local.`:                  `back\slash`,
		`Printer._ipp._tcp.local.`:                          "",
		`_bellrow._tcp.local.`:                              "",
		`x._bellrow._tcp.example.`:                          "",
		`Low\255brass._bellrow._tcp.local.`:                 "", // no UTF-8
		`evil\027[31m._bellrow._tcp.local.`:                 "", // control characters
		`a.b._bellrow._tcp.local.`:                          "a.b",
		`end\._bellrow._tcp.local.`:                         "",
		`a\2._bellrow._tcp.local.`:                          "a2",
		`Printer._ipp._tcp.local._bellrow._tcp.evil.local.`: "",
	} {
		got, ok := instance(full)
		if got != want || ok != (want != "") {
			t.Errorf("%s: %q, %v, want %q", full, got, ok, want)
		}
	}
}

func told(name string, port int, at string, txt ...string) *entry {
	e := &entry{name: name, target: "h.", port: port, txt: txt, from: netip.MustParseAddr("fe80::1%eth0"), hosts: map[string][]netip.Addr{}}
	if at != "" {
		e.hosts["h."] = []netip.Addr{netip.MustParseAddr(at)}
	}
	return e
}

func TestGather(t *testing.T) {
	const service = "._bellrow._tcp.local."
	linkLocal := told("C"+service, 7440, "fe80::7", "v=1", "id=h3")
	got := gather([]*entry{
		told("B"+service, 7440, "192.0.2.7", "v=1", "id=h1", "a=192.0.2.7,198.51.100.7"),
		told("B"+service, 7440, "203.0.113.7", "v=1", "id=h1"),        // of the same id, but from where?
		told("B"+service, 7441, "192.0.2.8", "v=1", "id=h2", "tls=1"), // another hub of one name
		linkLocal,
		told("Printer._ipp._tcp.local.", 631, "192.0.2.9", "v=1", "id=h4"),
		told("No TXT"+service, 7440, "192.0.2.10"),
		told("No port"+service, 0, "192.0.2.11", "v=1", "id=h5"),
		told("No address"+service, 7440, "", "v=1", "id=h6"),
	})
	want := []Hub{
		{ID: "h1", Name: "B", Addresses: []string{"192.0.2.7:7440", "198.51.100.7:7440"}, From: FromMDNS},
		{ID: "h1", Name: "B", Addresses: []string{"203.0.113.7:7440"}, From: FromMDNS},
		{ID: "h2", Name: "B", Addresses: []string{"192.0.2.8:7441"}, TLS: true, From: FromMDNS},
		{ID: "h3", Name: "C", Addresses: []string{"[fe80::7%eth0]:7440"}, From: FromMDNS},
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got  %+v\nwant %+v", got, want)
	}
}

// record serves one hub on loopback by the library's own server, with a stray
// service of another kind beside it.
type record struct{ rrs []dns.RR }

func (r record) Records(dns.Question) []dns.RR { return r.rrs }

func serve(t *testing.T) {
	t.Helper()
	lo := Loopback()
	if len(lo) == 0 {
		require.Missing(t, "no loopback interface that takes multicast")
	}
	var rrs []dns.RR
	for _, line := range []string{
		`_bellrow._tcp.local. 120 IN PTR Low\ brass._bellrow._tcp.local.`,
		`Low\ brass._bellrow._tcp.local. 120 IN SRV 0 0 7440 hub.local.`,
		`Low\ brass._bellrow._tcp.local. 120 IN TXT "v=1" "id=find-test" "a=127.0.0.1"`,
		`hub.local. 120 IN A 127.0.0.1`,
	} {
		rr, err := dns.NewRR(line)
		if err != nil {
			t.Fatal(err)
		}
		rrs = append(rrs, rr)
	}
	s, err := mdns.NewServer(&mdns.Config{Zone: record{rrs}, Iface: &lo[0]})
	if err != nil {
		require.Missing(t, "loopback takes no multicast here: "+err.Error())
	}
	t.Cleanup(func() { s.Shutdown() })
}

func TestBrowse(t *testing.T) {
	serve(t)
	hubs, err := Browse(t.Context(), Loopback())
	if err != nil {
		t.Fatal(err)
	}
	i := slices.IndexFunc(hubs, func(h Hub) bool { return h.ID == "find-test" })
	if i < 0 || hubs[i].Name != "Low brass" || hubs[i].Addresses[0] != "127.0.0.1:7440" {
		t.Errorf("%+v", hubs)
	}
}

func TestBrowseEnds(t *testing.T) {
	if _, err := Browse(t.Context(), nil); !errors.Is(err, ErrNoMulticast) {
		t.Errorf("no interface: %v", err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := Browse(ctx, Loopback()); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}

func TestHubsInOrder(t *testing.T) {
	serve(t)
	last := &Hub{ID: "h9", Addresses: []string{"192.0.2.9:7440"}, From: FromLast}
	typed := &Hub{Addresses: []string{"192.0.2.8:7440"}, From: FromTyped}
	for _, c := range []struct {
		what    string
		c       Config
		accept  string // From that is accepted
		tried   []string
		wantErr error
	}{
		{"the last good hub first", Config{Last: last, Interfaces: Loopback}, FromLast, []string{FromLast}, nil},
		{"then the network", Config{Last: last, Interfaces: Loopback}, FromMDNS, []string{FromLast, FromMDNS}, nil},
		{"what was typed, and past it", Config{Typed: typed, Last: last, Interfaces: Loopback}, "", []string{FromTyped, FromLast, FromMDNS}, ErrDeclined},
		{"what was typed, and no further", Config{Typed: typed, Last: last, Interfaces: Loopback}, FromTyped, []string{FromTyped}, nil},
		{"none will do", Config{Interfaces: Loopback}, "", []string{FromMDNS}, ErrDeclined},
		{"nothing known, nothing asked", Config{NoMulticast: true}, "", nil, ErrNothing},
		{"the known one will not do, nothing asked", Config{NoMulticast: true, Last: last}, "", []string{FromLast}, ErrDeclined},
	} {
		var tried []string
		var mu sync.Mutex
		err := Hubs(t.Context(), c.c, func(_ context.Context, h Hub) bool {
			if h.From == FromMDNS && h.ID != "find-test" {
				return false // some other hub on this machine
			}
			mu.Lock()
			defer mu.Unlock()
			if !slices.Contains(tried, h.From) {
				tried = append(tried, h.From)
			}
			return h.From == c.accept
		})
		if !errors.Is(err, c.wantErr) || !slices.Equal(tried, c.tried) {
			t.Errorf("%s: tried %v, %v; want %v, %v", c.what, tried, err, c.tried, c.wantErr)
		}
	}
}

// A hub that does not answer gives way to the next after a moment, and is told
// to stop when another will do.
func TestHubsThatHangHoldUpNobody(t *testing.T) {
	typed := &Hub{Addresses: []string{"192.0.2.8:7440"}, From: FromTyped}
	last := &Hub{ID: "h9", Addresses: []string{"192.0.2.9:7440"}, From: FromLast}
	stopped := false
	err := Hubs(t.Context(), Config{Typed: typed, Last: last, NoMulticast: true}, func(ctx context.Context, h Hub) bool {
		if h.From == FromLast {
			return true
		}
		<-ctx.Done()
		stopped = true
		return false
	})
	if err != nil || !stopped {
		t.Errorf("%v; the hanging one stopped: %v", err, stopped)
	}
}

// Answers of one hub id that share no address may come from two laptops, of
// which one is false; those of one hub by several ways are one.
func TestAnswersOfOneID(t *testing.T) {
	at := func(addresses string) *entry {
		return told("Low brass._bellrow._tcp.local.", 7440, "", "v=1", "id=h1", "a="+addresses)
	}
	hubs := gather([]*entry{at("192.0.2.1,192.0.2.2"), at("192.0.2.66"), at("192.0.2.2,192.0.2.3")})
	if len(hubs) != 2 || len(hubs[0].Addresses) != 3 || len(hubs[1].Addresses) != 1 {
		t.Errorf("%+v", hubs)
	}
}

func TestTyped(t *testing.T) {
	l := proto.Link{Address: "192.0.2.7:7440", TLS: true, Hub: "h1", Fingerprint: strings.Repeat("ab", 32)}
	if h := Typed(l); h.ID != "h1" || !h.TLS || h.Fingerprint != l.Fingerprint || h.Addresses[0] != l.Address || h.From != FromTyped {
		t.Errorf("%+v", h)
	}
}

// What two hosts say about one name stays apart, and who tells only a name is
// asked for more, once.
func TestHostsOfOneName(t *testing.T) {
	packet := func(id, at string) *dns.Msg {
		m := new(dns.Msg)
		for _, line := range []string{
			`_bellrow._tcp.local. 120 IN PTR Low\ brass._bellrow._tcp.local.`,
			`Low\ brass._bellrow._tcp.local. 120 IN SRV 0 0 7440 hub.local.`,
			`Low\ brass._bellrow._tcp.local. 120 IN TXT "v=1" "id=` + id + `"`,
			`hub.local. 120 IN A ` + at,
			`_ipp._tcp.local. 120 IN PTR Printer._ipp._tcp.local.`,
		} {
			rr, err := dns.NewRR(line)
			if err != nil {
				t.Fatal(err)
			}
			m.Extra = append(m.Extra, rr)
		}
		return m
	}
	a := answers{}
	right, wrong, third := netip.MustParseAddr("192.0.2.1"), netip.MustParseAddr("192.0.2.66"), netip.MustParseAddr("192.0.2.3")
	a.add(right, packet("right", "192.0.2.1"))
	for range 3 {
		a.add(wrong, packet("wrong", "192.0.2.66"))
	}
	bare := packet("bare", "192.0.2.3")
	bare.Extra = bare.Extra[:1]
	if got := a.add(third, bare); len(got) != 1 || len(a.add(third, bare)) != 0 {
		t.Errorf("asked for more about %v", got)
	}
	hubs := gather(a.entries())
	slices.SortFunc(hubs, func(x, y Hub) int { return strings.Compare(x.ID, y.ID) })
	if len(hubs) != 2 || hubs[0].ID != "right" || hubs[0].Addresses[0] != "192.0.2.1:7440" || hubs[1].ID != "wrong" {
		t.Errorf("%+v", hubs)
	}
	for i := range 2 * maxEntries {
		m := new(dns.Msg)
		m.Answer = []dns.RR{&dns.PTR{Hdr: dns.RR_Header{Rrtype: dns.TypePTR}, Ptr: fmt.Sprintf("h%d._bellrow._tcp.local.", i)}}
		a.add(wrong, m)
	}
	if len(a) > maxEntries {
		t.Errorf("%d entries kept", len(a))
	}
}

// FuzzInstance: names from the network come out printable, or not at all, and
// what the DNS library escapes is unescaped to the same bytes.
func FuzzInstance(f *testing.F) {
	f.Add(`Low\ brass._bellrow._tcp.local.`, "Low brass")
	f.Add(`\195\182\\\.`, "ö\\.")
	f.Fuzz(func(t *testing.T, full, label string) {
		if name, ok := instance(full); ok && (!utf8.ValidString(name) || !proto.Printable(name)) {
			t.Fatalf("%q gives %q", full, name)
		}
		if len(label) == 0 || len(label) > 63 {
			return
		}
		packed := append([]byte{byte(len(label))}, label...)
		text, _, err := dns.UnpackDomainName(append(packed, 0), 0)
		if err != nil {
			return
		}
		if got := unescape(strings.TrimSuffix(text, ".")); got != label && got+"." != label {
			t.Fatalf("%q became %q, then %q", label, text, got)
		}
	})
}

func ExampleTyped() {
	l, _ := proto.ParseLink("192.0.2.7")
	fmt.Println(Typed(l).Addresses[0])
	// Output: 192.0.2.7:7440
}
