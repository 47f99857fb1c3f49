package announce

import (
	"net/netip"
	"strings"
	"testing"

	"github.com/miekg/dns"

	"bellrow/proto"
)

func testZone(instance string) *zone {
	return &zone{
		names: namesOf(instance, "H1"), port: 7440,
		txt: func() proto.TXT { return proto.TXT{Version: 1, Hub: "H1", Name: instance} },
		addresses: func() []netip.Addr {
			return []netip.Addr{netip.MustParseAddr("192.0.2.7"), netip.MustParseAddr("2001:db8::7")}
		},
	}
}

// RFC 6763, section 4.1.1: an instance name may hold any characters; section
// 4.3: dots and backslashes are escaped; RFC 1035, section 5.1, for the rest.
func TestNamesOnTheWire(t *testing.T) {
	for name, first := range map[string]string{
		"Low brass":             "Low brass",
		"St. Mary Röhre":        "St. Mary Röhre",
		`back\slash "q" (2);@$`: `back\slash "q" (2);@$`,
		strings.Repeat("ö", 40): strings.Repeat("ö", 31), // 63 bytes, whole characters
	} {
		packed := wire(testZone(name).names.instance)
		if packed == testZone(name).names.instance {
			t.Errorf("%q cannot be packed", name)
			continue
		}
		if n := int(packed[0]); packed[1:1+n] != first {
			t.Errorf("%q: first label %q, want %q", name, packed[1:1+n], first)
		}
	}
}

func TestRecords(t *testing.T) {
	z := testZone("Low brass")
	for _, c := range []struct {
		name string
		kind uint16
		want []uint16
	}{
		{"_bellrow._tcp.local.", dns.TypePTR, []uint16{dns.TypePTR, dns.TypeSRV, dns.TypeTXT, dns.TypeA, dns.TypeAAAA}},
		{"_BELLROW._TCP.LOCAL.", dns.TypePTR, []uint16{dns.TypePTR, dns.TypeSRV, dns.TypeTXT, dns.TypeA, dns.TypeAAAA}}, // RFC 6762, section 16
		{"_bellrow._tcp.local.", dns.TypeA, nil},
		{"_services._dns-sd._udp.local.", dns.TypePTR, []uint16{dns.TypePTR}}, // RFC 6763, section 9
		{"_other._tcp.local.", dns.TypePTR, nil},
		{`Low\032brass._bellrow._tcp.local.`, dns.TypeSRV, []uint16{dns.TypeSRV, dns.TypeA, dns.TypeAAAA}},
		{`low\ BRASS._bellrow._tcp.local.`, dns.TypeTXT, []uint16{dns.TypeTXT}},
		{"bellrow-h1.local.", dns.TypeA, []uint16{dns.TypeA}},
		{"bellrow-h1.local.", dns.TypeAAAA, []uint16{dns.TypeAAAA}},
		{"bellrow-h1.local.", dns.TypeANY, []uint16{dns.TypeA, dns.TypeAAAA}},
		{"bellrow-h2.local.", dns.TypeA, nil},
	} {
		var got []uint16
		rrs := z.Records(dns.Question{Name: c.name, Qtype: c.kind, Qclass: dns.ClassINET})
		for _, rr := range rrs {
			got = append(got, rr.Header().Rrtype)
		}
		if len(got) != len(c.want) {
			t.Errorf("%s %d: types %v, want %v", c.name, c.kind, got, c.want)
			continue
		}
		for i := range got {
			if got[i] != c.want[i] {
				t.Errorf("%s %d: types %v, want %v", c.name, c.kind, got, c.want)
				break
			}
		}
		m := dns.Msg{MsgHdr: dns.MsgHdr{Response: true}, Compress: true, Answer: rrs}
		if data, err := m.Pack(); err != nil || len(data) > 1400 {
			t.Errorf("%s: %d bytes, %v", c.name, len(data), err)
		}
	}
}

// Backslashes and quotes in a name must reach the other side as they are.
func TestTextSurvivesPacking(t *testing.T) {
	z := testZone(`a\b "c" ö 100%`)
	m := dns.Msg{Answer: []dns.RR{z.text()}}
	data, err := m.Pack()
	if err != nil {
		t.Fatal(err)
	}
	// The strings as they stand in the packet, read without the library.
	if !strings.Contains(string(data), "\x11n=a\\b \"c\" ö 100%") {
		t.Errorf("packet %q", data)
	}
}
