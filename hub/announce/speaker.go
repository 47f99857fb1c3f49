package announce

import (
	"errors"
	"net"

	"github.com/miekg/dns"
	"golang.org/x/net/ipv4"
	"golang.org/x/net/ipv6"
)

// The multicast groups (RFC 6762, section 3).
var (
	group4 = &net.UDPAddr{IP: net.IPv4(224, 0, 0, 251), Port: 5353}
	group6 = &net.UDPAddr{IP: net.ParseIP("ff02::fb"), Port: 5353}
)

// hops is the IP TTL of everything sent (RFC 6762, section 11).
const hops = 255

// speaker multicasts on one interface, from port 5353, as other responders
// expect (RFC 6762, section 6). Either half may be nil.
type speaker struct {
	v4, v6 *net.UDPConn
}

func newSpeaker(on *net.Interface) (*speaker, error) {
	s := &speaker{}
	c4, err4 := net.ListenMulticastUDP("udp4", on, group4)
	if err4 == nil {
		p := ipv4.NewPacketConn(c4)
		err4 = errors.Join(p.SetMulticastInterface(on), p.SetMulticastTTL(hops), p.SetMulticastLoopback(true))
		if s.v4 = c4; err4 != nil {
			c4.Close()
			s.v4 = nil
		}
	}
	c6, err6 := net.ListenMulticastUDP("udp6", on, group6)
	if err6 == nil {
		p := ipv6.NewPacketConn(c6)
		err6 = errors.Join(p.SetMulticastInterface(on), p.SetMulticastHopLimit(hops), p.SetMulticastLoopback(true))
		if s.v6 = c6; err6 != nil {
			c6.Close()
			s.v6 = nil
		}
	}
	if s.v4 == nil && s.v6 == nil {
		return nil, errors.Join(err4, err6)
	}
	return s, nil
}

// say multicasts records as an unasked answer. Unique records get the
// cache-flush bit (RFC 6762, section 10.2); goodbye sets every life to 0
// (section 10.1).
func (s *speaker) say(records []dns.RR, goodbye bool) error {
	m := &dns.Msg{MsgHdr: dns.MsgHdr{Response: true, Authoritative: true}, Compress: true}
	for _, rr := range records {
		rr = dns.Copy(rr)
		if rr.Header().Rrtype != dns.TypePTR {
			rr.Header().Class |= 1 << 15
		}
		if goodbye {
			rr.Header().Ttl = 0
		}
		m.Answer = append(m.Answer, rr)
	}
	data, err := m.Pack()
	if err != nil {
		return err
	}
	err4, err6 := errors.New("no IPv4"), errors.New("no IPv6")
	if s.v4 != nil {
		_, err4 = s.v4.WriteToUDP(data, group4)
	}
	if s.v6 != nil {
		_, err6 = s.v6.WriteToUDP(data, group6)
	}
	if err4 != nil && err6 != nil {
		return errors.Join(err4, err6)
	}
	return nil
}

func (s *speaker) close() {
	if s.v4 != nil {
		s.v4.Close()
	}
	if s.v6 != nil {
		s.v6.Close()
	}
}
