package web_test

import (
	"net"
	"net/http"
	"sync"
	"testing"

	"bellrow/hub/show"
	"bellrow/hub/web/webtest"
	"bellrow/proto/page/browser"
)

// cutter is a listener that can cut what it accepted, sockets that left the
// HTTP server included.
type cutter struct {
	net.Listener
	mu    sync.Mutex
	conns []net.Conn
}

func (c *cutter) Accept() (net.Conn, error) {
	conn, err := c.Listener.Accept()
	if err == nil {
		c.mu.Lock()
		defer c.mu.Unlock()
		c.conns = append(c.conns, conn)
	}
	return conn, err
}

func (c *cutter) cut() {
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, conn := range c.conns {
		conn.Close()
	}
}

// TestReconnect stops the hub's server and starts it again: the page says so,
// keeps what it showed, and is right again by itself.
func TestReconnect(t *testing.T) {
	h := webtest.New(4, webtest.Midway)
	start := func(addr string) (*cutter, *http.Server) {
		l, err := net.Listen("tcp", addr)
		if err != nil {
			t.Fatal(err)
		}
		c, srv := &cutter{Listener: l}, &http.Server{Handler: handler(t, h, webtest.Guard{})}
		go srv.Serve(c)
		t.Cleanup(func() { srv.Close(); c.cut() })
		return c, srv
	}
	c, srv := start("127.0.0.1:0")
	b := browser.Open(t)
	b.Go("http://" + c.Addr().String() + "/row")
	b.Until("the row", "document.querySelectorAll('li.line').length === 4")
	srv.Close()
	c.cut()
	b.Until("the break is said", "!document.getElementById('offline').hidden")
	if n := browser.Eval[int](b, "document.querySelectorAll('li.line').length"); n != 4 {
		t.Errorf("%d chairs are left on the page, need the 4 last known", n)
	}
	h.Set(func(r *show.Row) { r.Say = "Back again." })
	start(c.Addr().String())
	b.Until("the row again", "document.getElementById('offline').hidden && document.getElementById('say').textContent === 'Back again.'")
}
