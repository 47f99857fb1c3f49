package proto

import (
	"crypto/rand"
	"fmt"
	"net"
	"net/netip"
	"net/url"
	"strconv"
	"strings"
)

// DefaultPort is where a hub listens unless told otherwise. It is not
// registered with IANA (from memory) and lies in the user range (RFC 6335).
const DefaultPort = 7440

// Paths at the hub that both sides must agree on.
const (
	NodePath = "/ws/node" // WebSocket of the nodes
	JoinPath = "/join"    // page for players; its link carries the join code in the fragment
)

// Headers of a hub's answer to a node's upgrade, before anything is said: a
// hub that can prove that it knows the code says so, and which hub it is.
const (
	HeaderProof = "Bellrow-Proof"
	HeaderHub   = "Bellrow-Hub"
	ProofKind   = "cpace" // what HeaderProof says; see package pake
)

// JoinAlphabet has the capitals and digits that are not mistaken for one
// another when read from a screen across a room or said aloud: no I, L, O, 0,
// 1. JoinLength symbols of it give 31^8 = 853 thousand million codes: somebody
// with any number of addresses who gets a thousand tries a second finds one in
// 13 years. ShortLength is that of codes made before, still in use where a hub
// has one, and the most that older laptops take.
const (
	JoinAlphabet = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
	JoinLength   = 8
	ShortLength  = 6
)

// NewJoinCode returns a random join code.
func NewJoinCode() string {
	code := make([]byte, 0, JoinLength)
	var b [1]byte
	for len(code) < JoinLength {
		rand.Read(b[:]) // never fails (crypto/rand)
		// Reject the tail of the byte range, so that each symbol is equally likely.
		if n := int(b[0]); n < 256/len(JoinAlphabet)*len(JoinAlphabet) {
			code = append(code, JoinAlphabet[n%len(JoinAlphabet)])
		}
	}
	return string(code)
}

// NormalJoin brings a code as typed by people into its one form: capitals,
// without spaces and hyphens. It fails if that is no join code.
func NormalJoin(typed string) (string, error) {
	if len(typed) > 4*JoinLength {
		return "", fmt.Errorf("proto: join code of %d characters, need %d or %d", len(typed), JoinLength, ShortLength)
	}
	var b strings.Builder
	for _, r := range strings.ToUpper(typed) {
		if r == ' ' || r == '-' || r == '\u00a0' {
			continue
		}
		if !strings.ContainsRune(JoinAlphabet, r) {
			return "", fmt.Errorf("proto: join code with %q, which no code has", r)
		}
		b.WriteRune(r)
	}
	if b.Len() != JoinLength && b.Len() != ShortLength {
		return "", fmt.Errorf("proto: join code of %d characters, need %d or %d", b.Len(), JoinLength, ShortLength)
	}
	return b.String(), nil
}

// Link is all a node needs to reach one hub: what the join link and its QR
// code carry.
type Link struct {
	Address     string // host:port
	TLS         bool
	Code        string // join code, empty if not given
	Hub         string // hub id, empty if not given
	Fingerprint string // hex SHA-256 of the hub's certificate, empty if not given
}

// String returns the join link. Code, hub id and fingerprint go into the
// fragment, which browsers keep to themselves and servers do not log.
func (l Link) String() string {
	u := url.URL{Scheme: "http", Host: l.Address, Path: JoinPath}
	if l.TLS {
		u.Scheme = "https"
	}
	f := url.Values{}
	for k, v := range map[string]string{"code": l.Code, "hub": l.Hub, "fp": l.Fingerprint} {
		if v != "" {
			f.Set(k, v)
		}
	}
	u.Fragment = f.Encode()
	return u.String()
}

// ParseLink reads what a player typed, pasted or scanned: a join link,
// host:port, or a bare host or address, for which DefaultPort is meant.
func ParseLink(typed string) (Link, error) {
	typed = strings.TrimSpace(typed)
	if typed == "" || len(typed) > MaxText || !Printable(typed) {
		return Link{}, fmt.Errorf("proto: address of %d characters, need host, host:port or a join link", len(typed))
	}
	if !strings.Contains(typed, "://") {
		address, err := withPort(typed)
		return Link{Address: address}, err
	}
	u, err := url.Parse(typed)
	if err != nil || u.User != nil || (u.Scheme != "http" && u.Scheme != "https") {
		return Link{}, fmt.Errorf("proto: link %.60q, need http://host:port%s", typed, JoinPath)
	}
	l := Link{TLS: u.Scheme == "https"}
	if l.Address, err = withPort(u.Host); err != nil {
		return Link{}, err
	}
	f, err := url.ParseQuery(u.Fragment)
	if err != nil {
		return Link{}, fmt.Errorf("proto: link with an unreadable end %.60q", u.Fragment)
	}
	return l, l.fill(f)
}

func (l *Link) fill(f url.Values) (err error) {
	if code := f.Get("code"); code != "" {
		if l.Code, err = NormalJoin(code); err != nil {
			return err
		}
	}
	var c check
	l.Hub, l.Fingerprint = f.Get("hub"), strings.ToLower(f.Get("fp"))
	c.id("hub", l.Hub, true)
	if l.Fingerprint != "" && !isFingerprint(l.Fingerprint) {
		c.fail("fingerprint %.70q, need 64 hex digits", l.Fingerprint)
	}
	if c.err != nil {
		return fmt.Errorf("proto: link: %w", c.err)
	}
	return nil
}

func isFingerprint(s string) bool {
	return len(s) == 64 && strings.Trim(s, "0123456789abcdef") == ""
}

// withPort checks a host with or without port and adds DefaultPort.
func withPort(s string) (string, error) {
	bare := s
	if strings.HasPrefix(s, "[") && strings.HasSuffix(s, "]") {
		bare = s[1 : len(s)-1]
	}
	if ip, err := netip.ParseAddr(bare); err == nil && zoneOK(ip) {
		return netip.AddrPortFrom(ip, DefaultPort).String(), nil
	}
	if !strings.Contains(s, ":") {
		s += ":" + strconv.Itoa(DefaultPort)
	}
	host, port, err := net.SplitHostPort(s)
	if err != nil {
		return "", fmt.Errorf("proto: address %.60q, need host or host:port", s)
	}
	if n, err := strconv.ParseUint(port, 10, 16); err != nil || n == 0 {
		return "", fmt.Errorf("proto: port %.10q, need 1 to 65535", port)
	}
	if ip, err := netip.ParseAddr(host); (err != nil || !zoneOK(ip)) && !isHostname(host) {
		return "", fmt.Errorf("proto: host %.60q, need a name or an address", host)
	}
	return net.JoinHostPort(host, port), nil
}

// zoneOK reports whether an address's zone, if any, looks like the name of a
// network interface.
func zoneOK(ip netip.Addr) bool {
	var c check
	c.id("zone", ip.Zone(), true)
	return c.err == nil
}

// isHostname follows RFC 1123, section 2.1: letters, digits, hyphens, dots.
func isHostname(s string) bool {
	if s == "" || len(s) > 253 {
		return false
	}
	for _, label := range strings.Split(strings.TrimSuffix(s, "."), ".") {
		if label == "" || len(label) > 63 || label[0] == '-' || label[len(label)-1] == '-' {
			return false
		}
		for _, r := range label {
			if !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-') {
				return false
			}
		}
	}
	return true
}
