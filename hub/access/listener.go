package access

import (
	"net"
	"sync"
)

// Limits on open connections, from all addresses and from one: a row of 120
// nodes and ten screens with several connections each fits, a flood from one
// laptop does not take everybody's place.
const (
	DefaultConnections        = 1024
	DefaultConnectionsPerHost = 400
)

// LimitListener wraps l so that no more than total connections, and no more
// than perHost from one address, are open at a time; further ones are closed
// at once. Together with http.Server.ReadHeaderTimeout it bounds what clients
// can hold by sending slowly. Zero means the defaults. Loopback counts towards
// the total only: programs on the hub's own machine are its owner's.
func LimitListener(l net.Listener, total, perHost int) net.Listener {
	if total <= 0 {
		total = DefaultConnections
	}
	if perHost <= 0 {
		perHost = DefaultConnectionsPerHost
	}
	return &limited{Listener: l, total: total, perHost: perHost, open: map[string]int{}}
}

type limited struct {
	net.Listener
	total, perHost int

	mu   sync.Mutex
	sum  int
	open map[string]int
}

// Accept returns the next connection within the limits.
func (l *limited) Accept() (net.Conn, error) {
	for {
		c, err := l.Listener.Accept()
		if err != nil {
			return nil, err
		}
		key := addressKey(c.RemoteAddr().String())
		if l.take(key, isLoopback(c.RemoteAddr())) {
			return &counted{Conn: c, release: sync.OnceFunc(func() { l.give(key) })}, nil
		}
		c.Close()
	}
}

func (l *limited) take(key string, loopback bool) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.sum >= l.total || l.open[key] >= l.perHost && !loopback {
		return false
	}
	l.sum++
	l.open[key]++
	return true
}

func (l *limited) give(key string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.sum--
	if l.open[key]--; l.open[key] <= 0 {
		delete(l.open, key)
	}
}

// counted gives its place back when it is closed.
type counted struct {
	net.Conn
	release func()
}

func (c *counted) Close() error {
	err := c.Conn.Close()
	c.release()
	return err
}

func isLoopback(a net.Addr) bool {
	t, ok := a.(*net.TCPAddr)
	return ok && t.IP.IsLoopback()
}
