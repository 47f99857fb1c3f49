package access

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"
)

// TestAGuardOfItsOwn: made of nothing it has a code, a key and the system's clock.
func TestAGuardOfItsOwn(t *testing.T) {
	g, err := New(Config{})
	if err != nil {
		t.Fatal(err)
	}
	a := Ask{Node: "a", From: "192.0.2.1:1", Why: WhyAlike}
	if g.May(a) || len(g.Waiting()) != 1 || !g.Admit("a") || !g.May(a) {
		t.Error("asked and let in, and it may not")
	}
	if err := g.CheckJoin("192.0.2.1:1", g.JoinCode()); err != nil {
		t.Error(err)
	}
	if err := g.CheckLeader("192.0.2.1:1", strings.TrimPrefix(g.LeaderLink(""), "#key=")); err != nil {
		t.Error(err)
	}
	other, err := New(Config{})
	if err != nil || other.JoinCode() == g.JoinCode() || other.LeaderLink("") == g.LeaderLink("") {
		t.Errorf("two guards have the same secrets, %v", err)
	}
}

// TestTheKeyIsPosted: any other request is told so.
func TestTheKeyIsPosted(t *testing.T) {
	g := guard(t, Config{})
	for _, method := range []string{"GET", "PUT", "DELETE"} {
		w := httptest.NewRecorder()
		g.ServeLeader(w, httptest.NewRequest(method, "/leader?key=leader-key-of-the-test", nil))
		if w.Code != http.StatusMethodNotAllowed || w.Header().Get("Allow") != "POST" || len(w.Result().Cookies()) != 0 {
			t.Errorf("%s: %d, allow %q", method, w.Code, w.Header().Get("Allow"))
		}
	}
}

// TestAnotherSiteMayLink: to read a page, and for nothing else.
func TestAnotherSiteMayLink(t *testing.T) {
	served := guard(t, Config{}).Protect(http.HandlerFunc(func(http.ResponseWriter, *http.Request) {}))
	for _, method := range []string{"GET", "HEAD", "POST", "PUT", "DELETE", "OPTIONS"} {
		for _, upgrade := range []string{"", "websocket"} {
			for origin, own := range map[string]bool{"": true, "http://127.0.0.1:7440": true, "http://example.com": false} {
				r := request(method, "127.0.0.1:7440", origin)
				if upgrade != "" {
					r.Header.Set("Upgrade", upgrade)
				}
				w := httptest.NewRecorder()
				served.ServeHTTP(w, r)
				want := own || upgrade == "" && (method == "GET" || method == "HEAD")
				if got := w.Code == http.StatusOK; got != want {
					t.Errorf("%s %q from %q: %d", method, upgrade, origin, w.Code)
				}
			}
		}
	}
}

// TestWhoWaitsInLine: strangers, beyond what a section asks for at once; neither this machine's own
// nor the leader.
func TestWhoWaitsInLine(t *testing.T) {
	for _, c := range []struct {
		remote string
		leader bool
		waits  bool
	}{{"192.0.2.1:1", false, true}, {"127.0.0.1:1", false, false}, {"[::1]:1", false, false}, {"192.0.2.1:1", true, false}} {
		synctest.Test(t, func(t *testing.T) {
			g := guard(t, Config{})
			served := 0
			pages := g.Protect(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { served++ }))
			secret := NewSecret()
			g.remember(secret)
			ask := func(remote string, leader bool) {
				r := request("GET", "127.0.0.1:7440", "")
				if r.RemoteAddr = remote; leader {
					r.AddCookie(&http.Cookie{Name: leaderCookie, Value: secret})
				}
				pages.ServeHTTP(httptest.NewRecorder(), r)
			}
			for range pagesAtOnce {
				ask("192.0.2.7:1", false)
			}
			began := time.Now()
			const more = 10 * linePlaces
			for range more {
				ask(c.remote, c.leader)
			}
			if waited := time.Since(began) > 0; waited != c.waits || served != pagesAtOnce+more {
				t.Errorf("%+v: waited %v, %d served", c, time.Since(began), served)
			}
			time.Sleep(time.Second)
		})
	}
}

// TestTheGuiltyAreNotForgotten: when a limiter makes room it forgets first whom it knows nothing
// against: one that is out of tries is so afterwards, and the others have all theirs.
func TestTheGuiltyAreNotForgotten(t *testing.T) {
	clock := &hand{time.Unix(1000, 0)}
	l := NewLimiter(6, time.Minute, clock.now)
	address := func(i int) string { return fmt.Sprintf("10.%d.%d.%d:1", i>>16, i>>8&255, i&255) }
	for i := range maxBuckets - 1 {
		l.Take(address(i))
	}
	for range 6 {
		l.Take("192.0.2.1:1")
	}
	clock.forward(time.Minute - 1) // in a moment all others have theirs back
	if l.Left("192.0.2.1:1") {
		t.Error("a try too early")
	}
	clock.forward(1)
	l.Take("192.0.2.1:1")
	l.Take("192.0.2.2:1") // for which there is no room
	if l.Left("192.0.2.1:1") || len(l.buckets) != 2 {
		t.Errorf("out of tries, and forgotten; %d addresses kept", len(l.buckets))
	}
	for i := range 9 {
		if !l.Left(address(i)) {
			t.Error("one that was forgotten has no try")
		}
	}
}

// TestWhatAnAddressOpenedIsRemembered: however many others come and go, as long as there is room.
func TestWhatAnAddressOpenedIsRemembered(t *testing.T) {
	now := time.Unix(1000, 0)
	p := NewPool(100, func() time.Time { return now })
	for range flooding {
		p.Enter("192.0.2.1:1", func() {}).Leave()
	}
	for i := range maxCallers - 1 {
		p.Enter(fmt.Sprintf("10.0.%d.%d:1", i>>8, i&255), func() {}).Leave()
	}
	if p.Enter("192.0.2.1:1", func() {}) != nil {
		t.Error("a flood was forgotten")
	}
}

// TestALineIsLeftAsItWas: what is logged belongs to who logs it.
func TestALineIsLeftAsItWas(t *testing.T) {
	clock := &hand{time.Unix(0, 0)}
	var out bytes.Buffer
	h := Quiet(slog.NewTextHandler(&out, nil), clock.now)
	says := func() string {
		out.Reset()
		mine := slog.NewRecord(time.Time{}, slog.LevelWarn, "a wording", 0)
		for i := range 8 { // more than a record keeps in itself, with room for one more beside them
			mine.Add(fmt.Sprint("n", i), i)
		}
		if err := h.Handle(t.Context(), mine); err != nil {
			t.Fatal(err)
		}
		mine.AddAttrs(slog.Int("mine", 1))
		if mine.NumAttrs() != 9 {
			t.Errorf("%d attributes", mine.NumAttrs())
		}
		mine.Attrs(func(a slog.Attr) bool {
			if strings.HasPrefix(a.Key, "!") || a.Key == "like_it_left_out" {
				t.Errorf("a line became %v", a)
			}
			return true
		})
		return out.String()
	}
	for range logBurst + 1 {
		says()
	}
	clock.forward(logEvery)
	if s := says(); !strings.Contains(s, "like_it_left_out=1") {
		t.Errorf("%s", s)
	}
	clock.forward(logEvery)
	if s := says(); strings.Contains(s, "left_out") {
		t.Errorf("nothing was left out since: %s", s)
	}
}

// doorway is a listener in memory whose connections come from where a test says.
type doorway struct {
	net.Listener
	comes  chan net.Conn
	closed chan bool
	once   sync.Once
}

func newDoorway() *doorway { return &doorway{comes: make(chan net.Conn), closed: make(chan bool)} }

func (d *doorway) Accept() (net.Conn, error) {
	select {
	case c := <-d.comes:
		return c, nil
	case <-d.closed:
		return nil, net.ErrClosed
	}
}
func (d *doorway) Close() error   { d.once.Do(func() { close(d.closed) }); return nil }
func (d *doorway) Addr() net.Addr { return &net.TCPAddr{} }

// from connects from an address.
func (d *doorway) from(address string) net.Conn {
	here, there := net.Pipe()
	d.comes <- at{there, address}
	return here
}

// at is a connection from an address.
type at struct {
	net.Conn
	address string
}

func (a at) RemoteAddr() net.Addr {
	addr, err := net.ResolveTCPAddr("tcp", a.address)
	if err != nil {
		panic(err)
	}
	return addr
}

// get asks for a page on a connection and reads the answer.
func get(t *testing.T, c net.Conn, path string) *http.Response {
	t.Helper()
	go fmt.Fprintf(c, "GET %s HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n", path)
	resp, err := http.ReadResponse(bufio.NewReader(c), nil)
	if err != nil {
		t.Fatal(err)
	}
	io.Copy(io.Discard, resp.Body)
	return resp
}

// TestPlacesAtTheDoor: who is known holds no place, be it a stranger's or one of this machine's own; who
// proves something keeps it; who finds none is shown out at once.
func TestPlacesAtTheDoor(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		d := newDoorway()
		l := listen(d, 2, 2)
		mux := http.NewServeMux()
		mux.HandleFunc("/known", func(_ http.ResponseWriter, r *http.Request) { Known(r) })
		mux.HandleFunc("/working", func(_ http.ResponseWriter, r *http.Request) { Working(r) })
		srv := NewServer(mux, slog.New(slog.DiscardHandler))
		done := make(chan bool)
		go func() { defer close(done); srv.Serve(l) }()
		defer func() { srv.Close(); <-done }()

		shownOut := func(c net.Conn) bool {
			synctest.Wait()
			c.SetReadDeadline(time.Now().Add(time.Millisecond))
			_, err := c.Read(make([]byte, 1))
			c.SetReadDeadline(time.Time{})
			return err == io.EOF
		}
		// This machine's own: two at a time, and one who is known is not counted.
		own := d.from("127.0.0.1:1")
		defer own.Close()
		get(t, own, "/known")
		for i := range 3 {
			c := d.from("127.0.0.1:2")
			defer c.Close()
			if got := shownOut(c); got != (i == 2) {
				t.Errorf("own connection %d: shown out %v", i, got)
			}
		}
		synctest.Wait()
		if n := l.local.Load(); n != 2 {
			t.Errorf("%d of this machine's own hold a place", n)
		}
		// Strangers: two, of whom one proves something.
		busy := d.from("192.0.2.1:1")
		defer busy.Close()
		get(t, busy, "/working")
		time.Sleep(time.Second)
		idle := d.from("192.0.2.2:1")
		defer idle.Close()
		time.Sleep(time.Second)
		newcomer := d.from("192.0.2.3:1")
		defer newcomer.Close()
		if shownOut(busy) || !shownOut(idle) || shownOut(newcomer) {
			t.Error("who proves something gave way, or who is idle did not")
		}
		get(t, newcomer, "/working")
		late := d.from("192.0.2.4:1")
		defer late.Close()
		if !shownOut(late) || l.strangers.Taken() != 2 {
			t.Errorf("no place is free, and one came in; %d taken", l.strangers.Taken())
		}
		// Where both are known there is room for two more.
		get(t, newcomer, "/known")
		get(t, busy, "/known")
		if n := l.strangers.Taken(); n != 0 {
			t.Errorf("%d places are taken by who is known", n)
		}
	})
}

// TestOpenTakesConnections: on a port of the system's choice.
func TestOpenTakesConnections(t *testing.T) {
	l, err := Open("127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	srv := NewServer(http.NotFoundHandler(), slog.New(slog.DiscardHandler))
	go srv.Serve(Listen(l))
	defer srv.Close()
	c, err := new(net.Dialer).DialContext(context.Background(), "tcp", l.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	if resp := get(t, c, "/"); resp.StatusCode != http.StatusNotFound {
		t.Errorf("%s", resp.Status)
	}
	if _, err := Open("nowhere:at:all"); err == nil {
		t.Error("opened nowhere")
	}
}

// TestWhoLeavesTheLineIsNotServed: and whoever stays is.
func TestWhoLeavesTheLineIsNotServed(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		g := guard(t, Config{})
		served := 0
		pages := g.Protect(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { served++ }))
		ask := func(ctx context.Context) {
			r := request("GET", "127.0.0.1:7440", "").WithContext(ctx)
			r.RemoteAddr = "192.0.2.1:1"
			pages.ServeHTTP(httptest.NewRecorder(), r)
		}
		for range pagesAtOnce + linePlaces {
			ask(t.Context())
		}
		gone, leave := context.WithCancel(t.Context())
		leave()
		ask(gone)
		if served != pagesAtOnce+linePlaces {
			t.Errorf("%d served", served)
		}
		ask(t.Context())
		if served != pagesAtOnce+linePlaces+1 {
			t.Errorf("%d served, one of them late", served)
		}
		time.Sleep(time.Second)
	})
}

// TestGroupsShareTheCount: as lines with attributes do; what they are called stands in the line.
func TestGroupsShareTheCount(t *testing.T) {
	clock := &hand{time.Unix(0, 0)}
	var out bytes.Buffer
	log := slog.New(Quiet(slog.NewTextHandler(&out, nil), clock.now))
	for range logBurst {
		log.WithGroup("node").Warn("a wording", "n", 1)
		log.Warn("a wording")
	}
	if n := strings.Count(out.String(), "\n"); n != logBurst || strings.Count(out.String(), "node.n=1") != logBurst/2 {
		t.Errorf("%d lines:\n%s", n, out.String())
	}
}

// TestWhoWaitsByName: and of one name by what tells them apart, whoever asked first.
func TestWhoWaitsByName(t *testing.T) {
	for _, order := range [][]int{{0, 1, 2, 3}, {3, 2, 1, 0}, {2, 0, 3, 1}} {
		g := guard(t, Config{Now: (&hand{time.Unix(1000, 0)}).now})
		all := []Ask{{Node: "b", Chair: "Horn 1"}, {Node: "c", Chair: "Horn 1"}, {Node: "a", Chair: "Horn 2"}, {Node: "d", Chair: "Tuba"}}
		for _, i := range order {
			a := all[i]
			a.From, a.Why = fmt.Sprintf("192.0.2.%d:1", i), WhyAlike
			g.May(a)
		}
		got := ""
		for _, a := range g.Waiting() {
			got += a.Node
		}
		if got != "bcad" {
			t.Errorf("asked in order %v, they stand as %s", order, got)
		}
	}
}

// TestWhoPoursIn: an address that opens more than forty players would gets no place where there is none to
// spare; the one before it does.
func TestWhoPoursIn(t *testing.T) {
	now := time.Unix(1000, 0)
	p := NewPool(4, func() time.Time { return now })
	for i := range 4 {
		p.Enter(fmt.Sprintf("192.0.2.%d:1", i+10), func() {})
	}
	for i := range 2 * pouring {
		in := p.Enter("192.0.2.1:1", func() {})
		if (in != nil) != (i < pouring) {
			t.Errorf("connection %d: let in %v", i+1, in != nil)
		}
	}
}

// TestRoomForThisMachinesOwn: the leader's pages and the nodes of telephones, 512.
func TestRoomForThisMachinesOwn(t *testing.T) {
	var o offered
	for range 512 + 1 {
		o.from = append(o.from, "127.0.0.1:1")
	}
	if got := accept(Listen(&o)); len(got) != 512 || len(o.closed) != 1 {
		t.Errorf("%d came in, %d were shown out", len(got), len(o.closed))
	}
}

// TestWhoIsRefusedIsNotServed: nor counted among this machine's own.
func TestWhoIsRefusedIsNotServed(t *testing.T) {
	o := &offered{from: []string{"192.0.2.1:1", "192.0.2.2:1", "192.0.2.3:1"}}
	l := listen(o, 0, 5)
	if got := accept(l); len(got) != 0 || len(o.closed) != 3 || l.local.Load() != 0 {
		t.Errorf("%d came in, %d were shown out, %d own", len(got), len(o.closed), l.local.Load())
	}
}

// TestAFewBrowsersAreAlike: up to what one laptop opens, who is idle longest gives way, however many it has;
// beyond that the one with more.
func TestAFewBrowsersAreAlike(t *testing.T) {
	for many, first := range map[int]bool{2: true, fair: true, fair + 1: false} {
		now := time.Unix(1000, 0)
		p := NewPool(many+1, func() time.Time { return now })
		gone := ""
		p.Enter("192.0.2.1:1", func() { gone += "the first" })
		now = now.Add(time.Minute)
		for range many {
			p.Enter("192.0.2.2:1", func() { gone += "one of many" })
		}
		p.Enter("192.0.2.3:1", func() {})
		if want := map[bool]string{true: "the first", false: "one of many"}[first]; gone != want {
			t.Errorf("beside %d of one laptop %q gave way, want %q", many, gone, want)
		}
	}
}

// TestTheLeaderHasMoreTime: for a large score or a report; others are gone by then.
func TestTheLeaderHasMoreTime(t *testing.T) {
	for _, leader := range []bool{true, false} {
		synctest.Test(t, func(t *testing.T) {
			g := guard(t, Config{})
			secret := NewSecret()
			g.remember(secret)
			srv := NewServer(g.Protect(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
				time.Sleep(leaderWithin - time.Second)
				fmt.Fprint(w, "a report")
			})), slog.New(slog.DiscardHandler))
			d := newDoorway()
			done := make(chan bool)
			go func() { defer close(done); srv.Serve(Listen(d)) }()
			defer func() { srv.Close(); <-done }()
			c := d.from("192.0.2.1:1")
			defer c.Close()
			cookie := ""
			if leader {
				cookie = "Cookie: " + leaderCookie + "=" + secret + "\r\n"
			}
			go fmt.Fprintf(c, "GET / HTTP/1.1\r\nHost: 127.0.0.1\r\n%s\r\n", cookie)
			resp, err := http.ReadResponse(bufio.NewReader(c), nil)
			if (err == nil) != leader {
				t.Errorf("leader %v: %v, %v", leader, resp, err)
			}
		})
	}
}
