package proto

import (
	"fmt"
	"net/netip"
	"reflect"
	"strings"
	"testing"
)

func TestTXTRoundTrip(t *testing.T) {
	many := TXT{Version: 1, Hub: "h1", Name: "Low brass", TLS: true}
	for i := range maxTXTAddresses {
		many.Addresses = append(many.Addresses, netip.AddrFrom4([4]byte{10, 0, 0, byte(i + 1)}))
	}
	for name, want := range map[string]TXT{
		"bare":           {Version: 1, Hub: "h1"},
		"one of each":    {Version: 2, Hub: "h1", Name: "St. Mary Röhre", Addresses: []netip.Addr{netip.MustParseAddr("192.0.2.7"), netip.MustParseAddr("2001:db8::7")}},
		"many addresses": many,
	} {
		got, err := ParseTXT(want.Strings())
		if err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("%s: %+v, %v, want %+v", name, got, err, want)
		}
	}
}

// RFC 6763, section 6.1: each string is at most 255 bytes; section 6.2: the
// whole should fit 1300 bytes.
func TestTXTStaysWithinLimits(t *testing.T) {
	record := TXT{Version: 1, Hub: "h1", Name: strings.Repeat("ö", 400)}
	for i := range 500 {
		record.Addresses = append(record.Addresses, netip.MustParseAddr(fmt.Sprintf("2001:db8:1111:2222:3333:4444:5555:%x", i+1)))
	}
	total := 0
	for _, s := range record.Strings() {
		if len(s) > 255 {
			t.Errorf("string of %d bytes: %s", len(s), s)
		}
		total += len(s) + 1
	}
	if total > 1300 {
		t.Errorf("record of %d bytes", total)
	}
	got, err := ParseTXT(record.Strings())
	if err != nil || len(got.Addresses) < 20 || !strings.HasPrefix(record.Name, got.Name) || !Printable(got.Name) {
		t.Errorf("%+v, %v", got, err)
	}
}

func TestParseTXT(t *testing.T) {
	for _, c := range []struct {
		what string
		in   []string
		want TXT
		fail bool
	}{
		{"keys without case (RFC 6763, 6.4)", []string{"V=1", "ID=h"}, TXT{Version: 1, Hub: "h"}, false},
		{"the first of a repeated key counts (RFC 6763, 6.4)", []string{"v=1", "id=h", "id=evil", "v=9"}, TXT{Version: 1, Hub: "h"}, false},
		{"a key without value (RFC 6763, 6.4)", []string{"v=1", "id=h", "tls"}, TXT{Version: 1, Hub: "h"}, false},
		{"a value with =", []string{"v=1", "id=h", "n=a=b"}, TXT{Version: 1, Hub: "h", Name: "a=b"}, false},
		{"bad addresses are dropped", []string{"v=1", "id=h", "a=x,192.0.2.1,224.0.0.1,0.0.0.0,fe80::1%eth0,"}, TXT{Version: 1, Hub: "h", Addresses: []netip.Addr{netip.MustParseAddr("192.0.2.1")}}, false},
		{"unprintable name", []string{"v=1", "id=h", "n=a\x1b[31m"}, TXT{Version: 1, Hub: "h"}, false},
		{"no version", []string{"id=h"}, TXT{}, true},
		{"no hub id", []string{"v=1"}, TXT{}, true},
		{"hub id with a slash", []string{"v=1", "id=a/b"}, TXT{}, true},
		{"nothing", nil, TXT{}, true},
		{"empty string (RFC 6763, 6.1)", []string{""}, TXT{}, true},
	} {
		got, err := ParseTXT(c.in)
		if (err != nil) != c.fail || !reflect.DeepEqual(got, c.want) {
			t.Errorf("%s: %+v, %v, want %+v", c.what, got, err, c.want)
		}
	}
}

// FuzzTXT: whatever parses is within its limits and survives a round trip.
func FuzzTXT(f *testing.F) {
	f.Add("v=1\x00id=h\x00a=192.0.2.1,2001:db8::1\x00a2=10.0.0.1\x00tls=1\x00n=Low brass")
	f.Add("v=1\x00id=h\x00ID=x\x00=\x00a")
	f.Fuzz(func(t *testing.T, joined string) {
		got, err := ParseTXT(strings.Split(joined, "\x00"))
		if err != nil {
			return
		}
		if len(got.Addresses) > maxTXTAddresses || !Printable(got.Name) {
			t.Fatalf("%+v", got)
		}
		again, err := ParseTXT(got.Strings())
		if err != nil || again.Hub != got.Hub || again.Version != got.Version || again.TLS != got.TLS {
			t.Fatalf("%+v became %+v, %v", got, again, err)
		}
	})
}
