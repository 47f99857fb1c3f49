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
// which is longer than a player should wait.
const (
	connectWithin   = 4 * time.Second // until the socket is open
	handshakeWithin = 5 * time.Second // for each answer of the hub's
	// nextAddress is between the tries of a hub's several addresses.
	nextAddress = 250 * time.Millisecond
)

var errOtherKey = errors.New("uplink: certificate with another key")

// line is an open WebSocket with what was learnt about the way to it.
type line struct {
	*websocket.Conn
	address     string
	fingerprint string // of the certificate, with TLS
	hub         string // the id that the hub gives, "" from one of an older version
	proves      bool   // the hub says that it can prove what it knows
}

// dial connects to one address of a hub.
func (u *Uplink) dial(ctx context.Context, h find.Hub, address string) (*line, *trouble) {
	ctx, cancel := context.WithTimeout(ctx, connectWithin)
	defer cancel()
	tcp, err := u.config.Dial(ctx, "tcp", address)
	if err != nil {
		return nil, unreachable(address).by(err)
	}
	l := &line{address: address}
	d := websocket.Dialer{
		NetDialContext:  func(context.Context, string, string) (net.Conn, error) { return tcp, nil },
		TLSClientConfig: pinned(h.Fingerprint, &l.fingerprint),
	}
	at := url.URL{Scheme: "ws", Host: hostHeader(tcp.RemoteAddr()), Path: proto.NodePath}
	if h.TLS {
		at.Scheme = "wss"
	}
	conn, resp, err := d.DialContext(ctx, at.String(), nil)
	if err == nil {
		l.Conn, l.hub = conn, resp.Header.Get(proto.HeaderHub)
		l.proves = resp.Header.Get(proto.HeaderProof) == proto.ProofKind
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
