package uplink

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"encoding/hex"
	"io"
	"log"
	"math/big"
	"net"
	"net/http"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"testing/synctest"
	"time"
)

// bubble runs a test in a bubble, whose clock goes on when nobody has anything to do: waits cost
// nothing, and one that never ends is a deadlock at once.
func bubble(t *testing.T, test func(t *testing.T)) {
	t.Helper()
	synctest.Test(t, test)
}

// lan is a network in memory. At 192.0.2.0/24 nothing ever answers (RFC 5737 gives these to nobody);
// at any other address where nobody listens a connection is refused.
var lan struct {
	sync.Mutex
	doors map[string]*door
	next  int
}

// door is where somebody listens, once for each connection.
type door struct {
	addr   *net.TCPAddr
	comes  chan net.Conn
	closed chan bool
}

// listen opens a door at an address of its own.
func listen() *door {
	lan.Lock()
	defer lan.Unlock()
	lan.next++
	d := &door{addr: &net.TCPAddr{IP: net.IPv4(198, 51, 100, byte(lan.next)), Port: 7440 + lan.next>>8}, comes: make(chan net.Conn), closed: make(chan bool)}
	if lan.doors == nil {
		lan.doors = map[string]*door{}
	}
	lan.doors[d.addr.String()] = d
	return d
}

func (d *door) Accept() (net.Conn, error) {
	select {
	case c := <-d.comes:
		return c, nil
	case <-d.closed:
		return nil, net.ErrClosed
	}
}

func (d *door) Close() error {
	lan.Lock()
	defer lan.Unlock()
	if lan.doors[d.addr.String()] == d {
		delete(lan.doors, d.addr.String())
		close(d.closed)
	}
	return nil
}

func (d *door) Addr() net.Addr { return d.addr }

// wire is one end of a connection. As a socket does, it takes what is written before the other end
// reads it, and hands it over even when it is closed right after.
type wire struct {
	net.Conn
	local, remote net.Addr

	mu     sync.Mutex
	out    chan []byte
	closed bool
}

func newWire(c net.Conn, local, remote net.Addr) *wire {
	w := &wire{Conn: c, local: local, remote: remote, out: make(chan []byte, 1<<12)}
	go func() {
		defer c.Close()
		for p := range w.out {
			if _, err := c.Write(p); err != nil {
				c.Close() // and what else is written goes nowhere
			}
		}
	}()
	return w
}

func (w *wire) Write(p []byte) (int, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.closed {
		return 0, net.ErrClosed
	}
	w.out <- slices.Clone(p)
	return len(p), nil
}

func (w *wire) Close() error {
	w.mu.Lock()
	defer w.mu.Unlock()
	if !w.closed {
		w.closed = true
		close(w.out)
		w.SetReadDeadline(time.Unix(1, 0)) // whoever reads stops
		w.SetReadDeadline(time.Time{})
		go io.Copy(io.Discard, w.Conn)
	}
	return nil
}

func (w *wire) Read(p []byte) (int, error) {
	w.mu.Lock()
	closed := w.closed
	w.mu.Unlock()
	if closed {
		return 0, net.ErrClosed
	}
	return w.Conn.Read(p)
}

func (w *wire) LocalAddr() net.Addr              { return w.local }
func (w *wire) RemoteAddr() net.Addr             { return w.remote }
func (w *wire) SetDeadline(at time.Time) error   { return w.SetReadDeadline(at) }
func (w *wire) SetWriteDeadline(time.Time) error { return nil }

// dialLAN is a node's Config.Dial.
func dialLAN(ctx context.Context, network, address string) (net.Conn, error) {
	lan.Lock()
	d := lan.doors[address]
	lan.Unlock()
	switch {
	case strings.HasPrefix(address, "192.0.2."):
		<-ctx.Done()
		return nil, &net.OpError{Op: "dial", Net: network, Err: ctx.Err()}
	case d == nil:
		return nil, &net.OpError{Op: "dial", Net: network, Err: syscall.ECONNREFUSED}
	}
	here, there := net.Pipe()
	mine := &net.TCPAddr{IP: net.IPv4(127, 0, 0, 1), Port: 50000} // a laptop has that one wherever it is
	w, err := newWire(there, d.addr, mine), error(syscall.ECONNREFUSED)
	select {
	case d.comes <- w:
		return newWire(here, mine, d.addr), nil
	case <-d.closed:
	case <-ctx.Done():
		err = ctx.Err()
	}
	w.Close()
	here.Close()
	return nil, &net.OpError{Op: "dial", Net: network, Err: err}
}

// serveLAN serves h at d until the test ends, over TLS with a certificate.
func serveLAN(t *testing.T, d *door, h http.Handler, cert *tls.Certificate) {
	srv := &http.Server{Handler: h, ErrorLog: log.New(io.Discard, "", 0)}
	var l net.Listener = d
	if cert != nil {
		l = tls.NewListener(d, &tls.Config{Certificates: []tls.Certificate{*cert}})
	}
	done := make(chan bool)
	go func() {
		defer close(done)
		srv.Serve(l)
	}()
	t.Cleanup(func() {
		srv.Close()
		<-done
	})
}

// newCertificate makes a key and its certificate.
func newCertificate(t *testing.T) *tls.Certificate {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	template := &x509.Certificate{SerialNumber: big.NewInt(1), NotAfter: time.Now().Add(time.Hour)}
	der, err := x509.CreateCertificate(rand.Reader, template, template, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	return &tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key}
}

func fingerprintOf(c *tls.Certificate) string {
	if c == nil {
		return ""
	}
	sum := sha256.Sum256(c.Certificate[0])
	return hex.EncodeToString(sum[:])
}
