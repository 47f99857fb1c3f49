package access

import (
	"bytes"
	"context"
	stdlog "log"
	"log/slog"
	"net"
	"net/http"
	"strings"
	"sync"
	"sync/atomic"
	"time"
)

// Places at a door. A row of 250 nodes and its screens fits among those who
// are known; the limits below hold for the rest.
const (
	// maxStrangers are open connections of all who have not shown who they are:
	// forty players may arrive at once, each with a browser's six.
	maxStrangers = 256
	// maxLocal are those of this machine: the leader's pages and the nodes of
	// telephones. They are counted apart, so that no flood takes their place.
	maxLocal = 512
)

// Deadlines of requests. Sockets are hijacked and have their own. A local
// network carries a page within milliseconds; whoever takes longer is gone, or
// means to hold a place.
const (
	headerWithin  = 5 * time.Second
	requestWithin = 10 * time.Second // header and body
	answerWithin  = 15 * time.Second
	idleFor       = 30 * time.Second
	// leaderWithin is the leader's patience with a large score or a report.
	leaderWithin = 2 * time.Minute
	// maxHeaderBytes is far more than a browser sends to a hub.
	maxHeaderBytes = 16 << 10
)

// NewServer returns a server with the deadlines of a hub's door. Serve it on a
// listener of Listen.
func NewServer(h http.Handler, log *slog.Logger) *http.Server {
	return &http.Server{
		Handler: h, ReadHeaderTimeout: headerWithin, ReadTimeout: requestWithin, WriteTimeout: answerWithin, IdleTimeout: idleFor,
		MaxHeaderBytes: maxHeaderBytes, ErrorLog: stdlog.New(remarks{log}, "", 0),
		ConnContext: func(ctx context.Context, c net.Conn) context.Context {
			if t, ok := c.(interface{ NetConn() net.Conn }); ok { // TLS
				c = t.NetConn()
			}
			return context.WithValue(ctx, connKey{}, c)
		},
	}
}

// remarks are what the standard library's server logs. Most is about whoever
// went away or spoke nonsense, and of no use; a panic is a fault of the hub.
type remarks struct{ log *slog.Logger }

func (r remarks) Write(line []byte) (int, error) {
	level := slog.LevelDebug
	if bytes.HasPrefix(line, []byte("http: panic")) {
		level = slog.LevelError
	}
	r.log.Log(context.Background(), level, strings.TrimSpace(string(line)))
	return len(line), nil
}

type connKey struct{}

// Known says that whoever sent the request has shown who they are: the
// connection no longer takes a stranger's place.
func Known(r *http.Request) {
	if c, ok := r.Context().Value(connKey{}).(*counted); ok {
		c.place.Known()
		c.leave()
	}
}

// Working says that whoever sent the request is about to prove a secret: the
// connection is not taken away in the middle of it.
func Working(r *http.Request) {
	if c, ok := r.Context().Value(connKey{}).(*counted); ok {
		c.place.Work()
	}
}

// patient gives the leader's request more time.
func patient(w http.ResponseWriter) {
	c, until := http.NewResponseController(w), time.Now().Add(leaderWithin)
	_ = c.SetReadDeadline(until) // not every writer has one
	_ = c.SetWriteDeadline(until)
}

// Open listens on a TCP address for Listen, without the kernel's own probes of
// silent connections: deadlines and pings end those, and each connection that
// is refused costs less without.
func Open(address string) (net.Listener, error) {
	return (&net.ListenConfig{KeepAlive: -1}).Listen(context.Background(), "tcp", address)
}

// Listen wraps l so that strangers hold a bounded number of connections, by
// the rules of a Pool, and this machine's own a number of their own.
func Listen(l net.Listener) net.Listener { return listen(l, maxStrangers, maxLocal) }

func listen(l net.Listener, strangers, local int) *limited {
	return &limited{Listener: l, strangers: NewPool(strangers, nil), maxLocal: int32(local)}
}

type limited struct {
	net.Listener
	strangers *Pool
	maxLocal  int32
	local     atomic.Int32
}

// Accept returns the next connection within the limits.
func (l *limited) Accept() (net.Conn, error) {
	for {
		c, err := l.Listener.Accept()
		if err != nil {
			return nil, err
		}
		remote := c.RemoteAddr().String()
		if !Local(remote) {
			if place := l.strangers.Enter(remote, func() { abort(c) }); place != nil {
				return &counted{Conn: c, place: place, leave: place.Leave}, nil
			}
			abort(c)
			continue
		}
		if l.local.Add(1) <= l.maxLocal {
			return &counted{Conn: c, leave: sync.OnceFunc(func() { l.local.Add(-1) })}, nil
		}
		l.local.Add(-1)
		c.Close()
	}
}

// abort closes a connection at once, without waiting for what was not taken.
func abort(c net.Conn) {
	if t, ok := c.(*net.TCPConn); ok {
		t.SetLinger(0)
	}
	c.Close()
}

// counted gives its place back when it is closed.
type counted struct {
	net.Conn
	place *Place // of a stranger, nil for this machine's own
	leave func() // gives the place back; further calls are harmless
}

// Read notes that something came.
func (c *counted) Read(p []byte) (int, error) {
	n, err := c.Conn.Read(p)
	if n > 0 {
		c.place.Touch()
	}
	return n, err
}

// Close closes the connection.
func (c *counted) Close() error {
	c.leave()
	return c.Conn.Close()
}
