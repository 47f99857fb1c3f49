package find

import (
	"context"
	"net"
	"net/netip"
	"strings"
	"time"

	"github.com/miekg/dns"
	"golang.org/x/net/ipv4"

	"bellrow/proto"
)

// The groups and the port of multicast DNS (RFC 6762, section 3).
var (
	group4 = net.IPv4(224, 0, 0, 251)
	group6 = net.ParseIP("ff02::fb")
)

const mdnsPort = 5353

// askAgain is when a query is repeated within queryFor: a multicast frame on a
// Wi-Fi is sent once and may be lost.
const askAgain = 400 * time.Millisecond

// query asks on one interface, over one IP version, from a port of its own, so
// that answers come by unicast (RFC 6762, section 6.7), and returns what came
// within queryFor. The error means that nothing could be asked.
func query(ctx context.Context, on *net.Interface, v6 bool) ([]*entry, error) {
	conn, to, err := socket(on, v6)
	if err != nil {
		return nil, err
	}
	defer conn.Close()
	ctx, cancel := context.WithTimeout(ctx, queryFor)
	defer cancel()
	stop := context.AfterFunc(ctx, func() { conn.SetReadDeadline(time.Unix(1, 0)) })
	defer stop()
	service := proto.Service + "." + proto.Domain
	if err := ask(conn, to, service, dns.TypePTR); err != nil {
		return nil, err
	}
	again := time.AfterFunc(askAgain, func() { ask(conn, to, service, dns.TypePTR) })
	defer again.Stop()
	a := answers{}
	buf := make([]byte, 9000) // the largest (RFC 6762, section 17)
	for {
		n, from, err := conn.ReadFromUDPAddrPort(buf)
		if err != nil {
			return a.entries(), nil // the time is over
		}
		var m dns.Msg
		if m.Unpack(buf[:n]) != nil || !m.Response {
			continue
		}
		for _, name := range a.add(from.Addr(), &m) {
			ask(conn, to, name, dns.TypeANY) // it told its name only
		}
	}
}

func socket(on *net.Interface, v6 bool) (*net.UDPConn, *net.UDPAddr, error) {
	if v6 {
		conn, err := net.ListenUDP("udp6", &net.UDPAddr{IP: net.IPv6unspecified})
		return conn, &net.UDPAddr{IP: group6, Port: mdnsPort, Zone: on.Name}, err
	}
	conn, err := net.ListenUDP("udp4", &net.UDPAddr{IP: net.IPv4zero})
	if err != nil {
		return nil, nil, err
	}
	p := ipv4.NewPacketConn(conn)
	if err := p.SetMulticastInterface(on); err != nil {
		conn.Close()
		return nil, nil, err
	}
	_ = p.SetMulticastTTL(255)       // RFC 6762, section 11; not every system lets it be set
	_ = p.SetMulticastLoopback(true) // a hub on this laptop
	return conn, &net.UDPAddr{IP: group4, Port: mdnsPort}, nil
}

func ask(conn *net.UDPConn, to *net.UDPAddr, name string, kind uint16) error {
	m := new(dns.Msg)
	m.SetQuestion(name, kind)
	m.RecursionDesired = false
	m.Question[0].Qclass |= 1 << 15 // by unicast, which spares the Wi-Fi a multicast at its lowest rate (section 5.4)
	data, err := m.Pack()
	if err == nil {
		_, err = conn.WriteToUDP(data, to)
	}
	return err
}

// entry is what one host told about one name. What another host tells about
// the same name is another entry: it may be somebody who poses as the hub.
type entry struct {
	name   string // full service name, in DNS presentation format
	target string // of the SRV record
	port   int
	txt    []string
	from   netip.Addr
	hosts  map[string][]netip.Addr // addresses by host name
	asked  bool
}

// source tells entries apart.
type source struct {
	from netip.Addr
	name string
}

type answers map[source]*entry

// add takes in one packet and returns the names that it told nothing more
// about.
func (a answers) add(from netip.Addr, m *dns.Msg) (bare []string) {
	suffix := "." + strings.ToLower(proto.Service+"."+proto.Domain)
	of := func(name string) *entry {
		key := source{from, strings.ToLower(name)}
		e := a[key]
		if e == nil && len(a) < maxEntries && strings.HasSuffix(key.name, suffix) {
			e = &entry{name: name, from: from, hosts: map[string][]netip.Addr{}}
			a[key] = e
		}
		return e
	}
	records := append(append(m.Answer, m.Ns...), m.Extra...)
	for _, rr := range records {
		switch rr := rr.(type) {
		case *dns.PTR:
			of(rr.Ptr)
		case *dns.SRV:
			if e := of(rr.Hdr.Name); e != nil {
				e.target, e.port = strings.ToLower(rr.Target), int(rr.Port)
			}
		case *dns.TXT:
			if e := of(rr.Hdr.Name); e != nil {
				e.txt = rr.Txt
			}
		}
	}
	for key, e := range a {
		if key.from != from {
			continue
		}
		e.take(records)
		if (e.port == 0 || e.txt == nil) && !e.asked {
			e.asked = true
			bare = append(bare, e.name)
		}
	}
	return bare
}

// take adds the addresses of hosts.
func (e *entry) take(records []dns.RR) {
	for _, rr := range records {
		var ip net.IP
		switch rr := rr.(type) {
		case *dns.A:
			ip = rr.A
		case *dns.AAAA:
			ip = rr.AAAA
		default:
			continue
		}
		host := strings.ToLower(rr.Header().Name)
		if at, ok := netip.AddrFromSlice(ip); ok && len(e.hosts) < 16 && len(e.hosts[host]) < 16 {
			e.hosts[host] = append(e.hosts[host], at.Unmap())
		}
	}
}

func (a answers) entries() (out []*entry) {
	for _, e := range a {
		out = append(out, e)
	}
	return out
}
