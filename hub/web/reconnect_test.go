package web_test

import (
	"net"
	"net/http"
	"net/http/httptest"
	"sync"
	"testing"
	"time"

	"bellrow/hub"
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

// hole is a network between a page and its hub that can go down: what is sent into it then stays in it, as in a radio's
// buffers, until it is up again.
type hole struct {
	net.Listener
	hub  string
	mu   sync.Mutex
	up   *sync.Cond
	down bool
}

func newHole(t *testing.T, hub string) *hole {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	h := &hole{Listener: l, hub: hub}
	h.up = sync.NewCond(&h.mu)
	go h.serve()
	t.Cleanup(func() { l.Close(); h.set(false) })
	return h
}

func (h *hole) set(down bool) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.down = down
	h.up.Broadcast()
}

func (h *hole) serve() {
	for {
		here, err := h.Accept()
		if err != nil {
			return
		}
		go func() {
			h.pass()
			there, err := net.Dial("tcp", h.hub)
			if err != nil {
				here.Close()
				return
			}
			go h.copy(here, there)
			h.copy(there, here)
		}()
	}
}

// pass returns once the network is up.
func (h *hole) pass() {
	h.mu.Lock()
	defer h.mu.Unlock()
	for h.down {
		h.up.Wait()
	}
}

func (h *hole) copy(to, from net.Conn) {
	defer to.Close()
	defer from.Close()
	for buf := make([]byte, 4096); ; {
		n, err := from.Read(buf)
		h.pass()
		if _, e := to.Write(buf[:n]); err != nil || e != nil {
			return
		}
	}
}

// TestNothingIsDoneLate: what a leader presses while the network is down, and the page says so, is not done once it is up
// again: by then the row has gone on, and the leader with it.
func TestNothingIsDoneLate(t *testing.T) {
	h := webtest.New(4, webtest.Midway)
	srv := httptest.NewServer(handler(t, h, webtest.Guard{}))
	t.Cleanup(srv.Close)
	network := newHole(t, srv.Listener.Addr().String())
	b := browser.Open(t)
	b.Go("http://" + network.Addr().String() + "/row")
	b.Until("the row", "document.querySelectorAll('li.line').length === 4")
	press := func(key string) {
		browser.Eval[bool](b, "document.body.dispatchEvent(new KeyboardEvent('keydown', {key: '"+key+"', bubbles: true}))")
	}
	press("n")
	for len(h.Commands()) == 0 {
		time.Sleep(20 * time.Millisecond)
	}
	network.set(true)
	b.Until("the break is said", "!document.getElementById('offline').hidden")
	press("n")
	press("n")
	network.set(false)
	b.Until("the row again", "document.getElementById('offline').hidden")
	press("u")
	for {
		all := h.Commands()
		if last := all[len(all)-1]; last.Do == hub.DoUndo {
			if len(all) != 2 {
				t.Errorf("done were %+v", all)
			}
			return
		}
		time.Sleep(20 * time.Millisecond)
	}
}
