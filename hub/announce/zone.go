package announce

import (
	"net"
	"net/netip"
	"slices"
	"strings"

	"github.com/miekg/dns"

	"bellrow/proto"
)

// Lives of records in seconds (RFC 6762, section 10): records with a host's
// name or address are short-lived, others 75 minutes.
const (
	ttlHost  = 120
	ttlOther = 4500
)

// zone answers questions about the hub.
type zone struct {
	names     names
	port      uint16
	txt       func() proto.TXT
	addresses func() []netip.Addr
}

// names are a hub's names in DNS presentation format, fully qualified.
type names struct {
	service  string // _bellrow._tcp.local.
	instance string // Low\032brass._bellrow._tcp.local.
	host     string // bellrow-k3j9x2.local.
}

const enumeration = "_services._dns-sd._udp." + proto.Domain // RFC 6763, section 9

func namesOf(instance, hubID string) names {
	service := proto.Service + "." + proto.Domain
	return names{
		service:  service,
		instance: label(instance) + "." + service,
		host:     "bellrow-" + hostLabel(hubID) + "." + proto.Domain,
	}
}

// maxLabel is the longest DNS label in bytes (RFC 1035, section 2.3.4).
const maxLabel = 63

// label escapes a name for people as one DNS label.
func label(s string) string {
	for len(s) > maxLabel {
		r := []rune(s)
		s = string(r[:len(r)-1])
	}
	var b strings.Builder
	for i := range len(s) {
		switch c := s[i]; {
		case c == '.' || c == '\\' || c == '"' || c == '(' || c == ')' || c == ';' || c == '@' || c == '$':
			b.WriteByte('\\')
			b.WriteByte(c)
		case c <= ' ' || c >= 0x7f:
			b.WriteByte('\\')
			b.WriteByte('0' + c/100)
			b.WriteByte('0' + c/10%10)
			b.WriteByte('0' + c%10)
		default:
			b.WriteByte(c)
		}
	}
	return b.String()
}

// hostLabel keeps of an id what may stand in a host name.
func hostLabel(id string) string {
	s := strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= '0' && r <= '9' {
			return r
		}
		return -1
	}, strings.ToLower(id))
	return s[:min(len(s), 16)]
}

// Records implements mdns.Zone.
func (z *zone) Records(q dns.Question) []dns.RR {
	want := func(types ...uint16) bool { return q.Qtype == dns.TypeANY || slices.Contains(types, q.Qtype) }
	switch {
	case sameName(q.Name, enumeration) && want(dns.TypePTR):
		return []dns.RR{&dns.PTR{Hdr: header(q.Name, dns.TypePTR, ttlOther), Ptr: z.names.service}}
	case sameName(q.Name, z.names.service) && want(dns.TypePTR):
		return z.all()
	case sameName(q.Name, z.names.instance):
		var out []dns.RR
		if want(dns.TypeSRV) {
			out = append(append(out, z.srv()), z.hosts(dns.TypeANY)...)
		}
		if want(dns.TypeTXT) {
			out = append(out, z.text())
		}
		return out
	case sameName(q.Name, z.names.host) && want(dns.TypeA, dns.TypeAAAA):
		return z.hosts(q.Qtype)
	}
	return nil
}

// all is everything about the hub, as announced.
func (z *zone) all() []dns.RR {
	out := []dns.RR{
		&dns.PTR{Hdr: header(z.names.service, dns.TypePTR, ttlOther), Ptr: z.names.instance},
		z.srv(), z.text(),
	}
	return append(out, z.hosts(dns.TypeANY)...)
}

func (z *zone) srv() dns.RR {
	return &dns.SRV{Hdr: header(z.names.instance, dns.TypeSRV, ttlHost), Port: z.port, Target: z.names.host}
}

func (z *zone) text() dns.RR {
	rr := &dns.TXT{Hdr: header(z.names.instance, dns.TypeTXT, ttlOther)}
	for _, s := range z.txt().Strings() {
		rr.Txt = append(rr.Txt, escapeText(s))
	}
	return rr
}

// escapeText doubles what the DNS library would take for an escape.
func escapeText(s string) string {
	return strings.NewReplacer(`\`, `\\`, `"`, `\"`).Replace(s)
}

func (z *zone) hosts(kind uint16) []dns.RR {
	var out []dns.RR
	for _, a := range z.addresses() {
		switch {
		case a.Is4() && kind != dns.TypeAAAA:
			out = append(out, &dns.A{Hdr: header(z.names.host, dns.TypeA, ttlHost), A: net.IP(a.AsSlice())})
		case a.Is6() && kind != dns.TypeA:
			out = append(out, &dns.AAAA{Hdr: header(z.names.host, dns.TypeAAAA, ttlHost), AAAA: net.IP(a.AsSlice())})
		}
	}
	return out
}

func header(name string, kind uint16, ttl uint32) dns.RR_Header {
	return dns.RR_Header{Name: name, Rrtype: kind, Class: dns.ClassINET, Ttl: ttl}
}

// sameName compares DNS names without case and in whatever way they are escaped.
func sameName(a, b string) bool {
	return strings.EqualFold(a, b) || strings.EqualFold(wire(a), wire(b))
}

// wire returns the name as on the wire, so that two ways to escape it agree.
func wire(name string) string {
	buf := make([]byte, 256)
	n, err := dns.PackDomainName(dns.Fqdn(name), buf, 0, nil, false)
	if err != nil {
		return name
	}
	return string(buf[:n])
}
