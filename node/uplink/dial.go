package uplink

import (
	"context"
	"crypto/sha256"
	"crypto/subtle"
	"crypto/tls"
	"encoding/hex"
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"time"

	"github.com/gorilla/websocket"

	"bellrow/node/find"
	"bellrow/proto"
)

// Limits on an attempt. A LAN answers within milliseconds; an address that
// drops packets takes three TCP attempts, 1 + 2 + 4 s (RFC 6298), to show it,
// which is longer than a player should wait for the next candidate.
const (
	connectWithin   = 4 * time.Second
	handshakeWithin = 5 * time.Second
)

var errOtherKey = errors.New("uplink: certificate with another key")

// line is an open WebSocket with what was learnt about the way to it.
type line struct {
	*websocket.Conn
	address     string // the one of the hub's addresses that answered first
	fingerprint string // of the certificate, with TLS
}

// dial connects to the first of the hub's addresses that answers.
func dial(ctx context.Context, h find.Hub) (*line, *trouble) {
	tcp, address, err := race(ctx, h.Addresses)
	if err != nil {
		return nil, unreachable(h.Addresses[0]).by(err)
	}
	l := &line{address: address}
	d := websocket.Dialer{
		NetDialContext:   func(context.Context, string, string) (net.Conn, error) { return tcp, nil },
		HandshakeTimeout: handshakeWithin,
		TLSClientConfig:  pinned(h.Fingerprint, &l.fingerprint),
	}
	u := url.URL{Scheme: "ws", Host: hostHeader(tcp.RemoteAddr()), Path: proto.NodePath}
	if h.TLS {
		u.Scheme = "wss"
	}
	ctx, cancel := context.WithTimeout(ctx, handshakeWithin)
	defer cancel()
	conn, resp, err := d.DialContext(ctx, u.String(), nil)
	if err == nil {
		l.Conn = conn
		return l, nil
	}
	tcp.Close()
	switch {
	case errors.Is(err, errOtherKey):
		return nil, otherKey(address)
	case resp != nil && resp.StatusCode == http.StatusServiceUnavailable:
		return nil, &trouble{code: "full", message: "the hub has no room for another connection",
			hint: "it is tried again in a moment"}
	case resp != nil || !isTimeout(err):
		return nil, notHub(address).by(err)
	}
	return nil, unreachable(address).by(err)
}

// race connects to all addresses at once and keeps the first.
func race(ctx context.Context, addresses []string) (net.Conn, string, error) {
	if len(addresses) == 0 {
		return nil, "", errors.New("uplink: no address")
	}
	ctx, cancel := context.WithTimeout(ctx, connectWithin)
	defer cancel()
	type result struct {
		conn    net.Conn
		address string
		err     error
	}
	results := make(chan result)
	for _, a := range addresses {
		go func() {
			c, err := new(net.Dialer).DialContext(ctx, "tcp", a)
			results <- result{c, a, err}
		}()
	}
	var won result
	for range addresses {
		r := <-results
		switch {
		case r.err == nil && won.conn == nil:
			won = r
			cancel() // ends the others
		case r.err == nil:
			r.conn.Close()
		case won.conn == nil:
			won.err = errors.Join(won.err, r.err)
		}
	}
	if won.conn != nil {
		return won.conn, won.address, nil
	}
	return nil, "", won.err
}

// hostHeader names the hub by its address: hubs accept any of their
// addresses but only their own names. A zone does not belong into the header.
func hostHeader(a net.Addr) string {
	ap, err := netip.ParseAddrPort(a.String())
	if err != nil {
		return a.String()
	}
	return netip.AddrPortFrom(ap.Addr().Unmap().WithZone(""), ap.Port()).String()
}

// pinned accepts exactly the certificate with this fingerprint, or any when
// there is none yet, and reports the one it saw. Names and authorities mean
// nothing on a local network.
func pinned(fingerprint string, seen *string) *tls.Config {
	return &tls.Config{
		MinVersion:         tls.VersionTLS13,
		InsecureSkipVerify: true, // replaced by VerifyConnection
		VerifyConnection: func(s tls.ConnectionState) error {
			if len(s.PeerCertificates) == 0 {
				return errOtherKey
			}
			sum := sha256.Sum256(s.PeerCertificates[0].Raw)
			*seen = hex.EncodeToString(sum[:])
			if fingerprint != "" && subtle.ConstantTimeCompare([]byte(*seen), []byte(fingerprint)) != 1 {
				return fmt.Errorf("%w: %s", errOtherKey, *seen)
			}
			return nil
		},
	}
}

func isTimeout(err error) bool {
	var t net.Error
	return errors.As(err, &t) && t.Timeout()
}
