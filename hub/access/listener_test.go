package access

import (
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"time"
)

// offered is a listener whose connections come from made-up addresses.
type offered struct {
	net.Listener
	from   []string
	closed []string
}

type fakeConn struct {
	net.Conn
	remote string
	from   *offered
}

func (c fakeConn) RemoteAddr() net.Addr {
	a, err := net.ResolveTCPAddr("tcp", c.remote)
	if err != nil {
		panic(err)
	}
	return a
}
func (c fakeConn) Close() error               { c.from.closed = append(c.from.closed, c.remote); return nil }
func (c fakeConn) Read(p []byte) (int, error) { return len(p), nil }

func (o *offered) Accept() (net.Conn, error) {
	if len(o.from) == 0 {
		return nil, io.EOF
	}
	c := fakeConn{remote: o.from[0], from: o}
	o.from = o.from[1:]
	return c, nil
}

// accept takes all that is offered.
func accept(l net.Listener) (got []net.Conn) {
	for {
		c, err := l.Accept()
		if errors.Is(err, io.EOF) {
			return got
		}
		got = append(got, c)
	}
}

func TestAFloodCostsItselfItsPlaces(t *testing.T) {
	o := &offered{from: []string{"10.0.0.2:1"}}
	for i := range fair + 1 {
		o.from = append(o.from, fmt.Sprintf("10.0.0.1:%d", i+1))
	}
	l := listen(o, fair+2, 1)
	got := accept(l)
	got[1].Read(make([]byte, 1)) // the first of the flood is busy
	o.from = []string{"10.0.0.3:1", "127.0.0.1:1", "127.0.0.1:2"}
	accept(l)
	// The idle one of the address with two; and loopback beyond its own number.
	if want := []string{"10.0.0.1:2", "127.0.0.1:2"}; !slices.Equal(o.closed, want) {
		t.Fatalf("closed %v, want %v", o.closed, want)
	}
	got[1].Close()
	got[1].Close() // gives back one place, not two
	o.from = []string{"10.0.0.4:1"}
	accept(l)
	if n := l.strangers.Taken(); n != fair+2 || len(o.closed) != 4 {
		t.Errorf("%d strangers, closed %v", n, o.closed)
	}
}

// Addresses of one /64 are different laptops: all of a local network is one.
func TestAddressesCountSingly(t *testing.T) {
	var o offered
	for i := range 64 {
		o.from = append(o.from, fmt.Sprintf("[fd00::1]:%d", i+1))
	}
	l := listen(&o, 10, 1)
	accept(l)
	o.from = []string{"[fd00::2]:1"}
	honest := accept(l)
	o.from = []string{"[fd00::1]:99", "[fd00::1]:98", "[fd00::3]:1"}
	accept(l)
	if slices.Contains(o.closed, honest[0].RemoteAddr().String()) {
		t.Error("a neighbour lost its place to a flood from another address")
	}
}

// A browser's several connections are no flood, even where each of the flood
// comes from another address.
func TestABrowserIsNoFlood(t *testing.T) {
	clock := &hand{time.Unix(0, 0)}
	p := NewPool(100, clock.now)
	out := 0
	var browser []*Place
	for range 6 {
		browser = append(browser, p.Enter("192.0.2.1", func() { out++ }))
	}
	for i := range 1000 {
		clock.forward(time.Millisecond)
		p.Enter(fmt.Sprintf("[2001:db8::%x]:1", i), func() {})
		if i%40 == 0 {
			for _, pl := range browser {
				pl.Touch()
			}
		}
	}
	if out > 0 {
		t.Errorf("%d of a browser's connections were put out", out)
	}
}

// Against a flood in which every connection has another address, whoever does
// something outlasts whoever does nothing.
func TestTheIdleGoFirst(t *testing.T) {
	clock := &hand{time.Unix(0, 0)}
	p := NewPool(100, clock.now)
	evicted := map[string]bool{}
	enter := func(a string) *Place { return p.Enter(a, func() { evicted[a] = true }) }
	honest := enter("192.0.2.1")
	for i := range 10000 {
		clock.forward(time.Millisecond)
		enter(fmt.Sprintf("[2001:db8::%x]:1", i))
		if i%50 == 0 {
			honest.Touch()
		}
		if p.Taken() > 100 {
			t.Fatalf("%d places taken", p.Taken())
		}
	}
	if evicted["192.0.2.1"] || len(evicted) != 10001-100 {
		t.Errorf("honest evicted: %v; %d evicted", evicted["192.0.2.1"], len(evicted))
	}
	honest.Leave()
	honest.Leave()
	if p.Taken() != 99 || len(p.from) > maxCallers {
		t.Errorf("%d places, %d addresses", p.Taken(), len(p.from))
	}
}

// A laptop that puts on three hundred addresses and opens connections as fast
// as it can takes them from itself, not from one who pauses in the middle.
func TestManyAddressesOfOneLaptop(t *testing.T) {
	clock := &hand{time.Unix(0, 0)}
	p := NewPool(100, clock.now)
	flood := func(n int) {
		for i := range n {
			clock.forward(250 * time.Microsecond)
			p.Enter(fmt.Sprintf("[2001:db8::%x]:1", i%300), func() {})
		}
	}
	flood(12000)
	out := 0
	for range 6 { // each pauses for a second
		p.Enter("192.0.2.1:1", func() { out++ })
		flood(4000)
	}
	if out > 0 {
		t.Errorf("%d of 6 honest connections were put out", out)
	}
	clock.forward(time.Minute)
	if p.Enter("[2001:db8::1]:1", func() {}) == nil {
		t.Error("an address is refused a minute after it poured in")
	}
}

// Whoever proves a secret keeps its place, where each connection of a flood
// has another address, too; but not more than a few dozen.
func TestProvingKeepsThePlace(t *testing.T) {
	clock := &hand{time.Unix(0, 0)}
	p := NewPool(100, clock.now)
	honest := p.Enter("192.0.2.1:1", func() { t.Error("put out in the middle of a proof") })
	honest.Work()
	for i := range 1000 {
		clock.forward(time.Millisecond)
		p.Enter(fmt.Sprintf("[2001:db8::%x]:1", i), func() {})
	}
	honest.Leave()
	honest.Work()
	if len(p.work) != 0 {
		t.Error("who has left is kept")
	}
	for i := range 100 {
		p.Enter(fmt.Sprintf("[2001:db8:1::%x]:1", i), func() {}).Work()
	}
	if len(p.work) != maxWorking || p.Enter("192.0.2.2:1", func() {}) == nil {
		t.Errorf("%d at work keep everybody out", len(p.work))
	}
}

// A laptop that has shown who it is was no flood, however often it came.
func TestTheKnownAreForgiven(t *testing.T) {
	clock := &hand{time.Unix(0, 0)}
	p := NewPool(10, clock.now)
	for range 2 * flooding {
		pl := p.Enter("192.0.2.1:1", func() {})
		if pl == nil {
			t.Fatal("refused")
		}
		pl.Known()
	}
	if pl := p.Enter("192.0.2.1:1", func() {}); pl == nil || p.Taken() != 1 {
		t.Errorf("%v, %d places", pl, p.Taken())
	}
}

// A request with the leader's cookie frees the stranger's place.
func TestTheLeaderIsNoStranger(t *testing.T) {
	g := guard(t, Config{})
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	far := listen(remote{l}, 2, 1)
	server := NewServer(g.Protect(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {})), slog.New(slog.DiscardHandler))
	go server.Serve(far)
	t.Cleanup(func() { server.Close() })
	ask := func(cookie *http.Cookie) {
		r, _ := http.NewRequest("GET", "http://"+l.Addr().String(), nil)
		if cookie != nil {
			r.AddCookie(cookie)
		}
		resp, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		resp.Body.Close()
	}
	ask(nil)
	if n := far.strangers.Taken(); n != 1 {
		t.Errorf("%d strangers, want 1", n)
	}
	post := httptest.NewRequest("POST", "/leader", strings.NewReader("key=leader-key-of-the-test"))
	post.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	w := httptest.NewRecorder()
	g.ServeLeader(w, post)
	ask(w.Result().Cookies()[0])
	if n := far.strangers.Taken(); n != 0 {
		t.Errorf("%d strangers with the leader's cookie, want 0", n)
	}
	http.DefaultClient.CloseIdleConnections()
}

// remote makes loopback connections look as if they came from elsewhere.
type remote struct{ net.Listener }

func (r remote) Accept() (net.Conn, error) {
	c, err := r.Listener.Accept()
	if err != nil {
		return nil, err
	}
	return elsewhere{c}, nil
}

type elsewhere struct{ net.Conn }

func (elsewhere) RemoteAddr() net.Addr { return &net.TCPAddr{IP: net.IPv4(192, 0, 2, 9), Port: 9} }
