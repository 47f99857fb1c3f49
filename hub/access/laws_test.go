package access

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"
)

// TestTheCertificateIsAServers: for nothing else, from a day before now, for twenty years.
func TestTheCertificateIsAServers(t *testing.T) {
	now := time.Now()
	c, err := SelfSigned(t.TempDir(), now)
	if err != nil {
		t.Fatal(err)
	}
	leaf, err := x509.ParseCertificate(c.Certificate[0])
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(leaf.ExtKeyUsage, []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}) || leaf.NotBefore.After(now.Add(-24*time.Hour)) || leaf.NotAfter.Before(now.AddDate(20, 0, -7)) {
		t.Errorf("for %v from %v to %v", leaf.ExtKeyUsage, leaf.NotBefore, leaf.NotAfter)
	}
	if got := TLSConfig(c); got.MinVersion != tls.VersionTLS13 || len(got.Certificates) != 1 {
		t.Errorf("from TLS version %x on, with %d certificates", got.MinVersion, len(got.Certificates))
	}
}

// TestAKeyIsLongEnough: sixteen characters are, fifteen are not.
func TestAKeyIsLongEnough(t *testing.T) {
	for n, ok := range map[int]bool{15: false, 16: true, 17: true} {
		if _, err := New(Config{LeaderKey: strings.Repeat("k", n)}); (err == nil) != ok {
			t.Errorf("a key of %d: %v", n, err)
		}
	}
}

// TestALimiterForgets: of so many addresses half, when there is no more room, and no more than that;
// without a clock it takes the system's.
func TestALimiterForgets(t *testing.T) {
	l := NewLimiter(2, time.Hour, nil)
	for i := range maxBuckets {
		l.Take(fmt.Sprintf("10.%d.%d.%d:1", i>>16, i>>8&255, i&255))
	}
	if len(l.buckets) != maxBuckets {
		t.Fatalf("%d buckets", len(l.buckets))
	}
	if !l.Take("192.0.2.1:1") || len(l.buckets) != maxBuckets/2+1 {
		t.Errorf("%d buckets after one more", len(l.buckets))
	}
}

// still is a connection from which nothing comes.
type still struct{ net.Conn }

func (still) Read([]byte) (int, error) { return 0, nil }

// overTLS is one whose connection lies below.
type overTLS struct {
	net.Conn
	below net.Conn
}

func (o overTLS) NetConn() net.Conn { return o.below }

// TestAConnectionIsKnownByItsPlace: with TLS or without; and only what comes over it keeps it fresh.
func TestAConnectionIsKnownByItsPlace(t *testing.T) {
	now := time.Unix(1000, 0)
	p := NewPool(4, func() time.Time { return now })
	srv := NewServer(http.NotFoundHandler(), slog.New(slog.DiscardHandler))
	for _, tls := range []bool{false, true} {
		place := p.Enter("192.0.2.1:1", func() {})
		c := &counted{Conn: still{}, place: place, leave: place.Leave}
		now = now.Add(time.Second)
		if c.Read(nil); place.used.Equal(now) {
			t.Error("nothing came, and it is fresh")
		}
		var outer net.Conn = c
		if tls {
			outer = overTLS{c, c}
		}
		r, err := http.NewRequestWithContext(srv.ConnContext(context.Background(), outer), "GET", "/", nil)
		if err != nil {
			t.Fatal(err)
		}
		before := p.Taken()
		if Known(r); p.Taken() != before-1 || place.from.opened != 0 {
			t.Errorf("tls %v: who is known holds a place, or is taken for a flood", tls)
		}
	}
}

// TestNoPlaceIsNone: this machine's own have none, and nothing that is done with it does anything.
func TestNoPlaceIsNone(t *testing.T) {
	var none *Place
	none.Touch()
	none.Work()
	none.Known()
	none.Leave()
}

// TestAFullPoolAtWork: when all who hold a place prove a secret, nobody gives way.
func TestAFullPoolAtWork(t *testing.T) {
	p := NewPool(2, nil)
	for i := range 2 {
		p.Enter(fmt.Sprintf("192.0.2.%d:1", i), func() { t.Error("put out") }).Work()
	}
	if p.Enter("192.0.2.9:1", func() {}) != nil || p.Taken() != 2 {
		t.Errorf("%d places of two", p.Taken())
	}
}

// TestAFloodIsForgiven: however much an address has poured in, it waits no longer than one that
// poured in a little.
func TestAFloodIsForgiven(t *testing.T) {
	for _, many := range []int{200, 20000} {
		now := time.Unix(1000, 0)
		p := NewPool(1000, func() time.Time { return now })
		for range many {
			p.Enter("192.0.2.1:1", func() {}).Leave()
		}
		if p.Enter("192.0.2.1:1", func() {}) != nil {
			t.Errorf("%d at once, and one more", many)
		}
		if now = now.Add(6 * time.Second); p.Enter("192.0.2.1:1", func() {}) != nil { // 120/e^0.6 = 66
			t.Errorf("%d, and six seconds later one more", many)
		}
		p = NewPool(1000, func() time.Time { return now })
		for range many {
			p.Enter("192.0.2.1:1", func() {}).Leave()
		}
		if now = now.Add(8 * time.Second); p.Enter("192.0.2.1:1", func() {}) == nil { // 120/e^0.8 = 54
			t.Errorf("%d, and eight seconds later none", many)
		}
	}
}

// TestWhoHoldsAPlaceIsRemembered: however many others have come and gone; of those some.
func TestWhoHoldsAPlaceIsRemembered(t *testing.T) {
	p := NewPool(10, nil)
	held := p.Enter("192.0.2.1:1", func() {})
	for i := range 3 * maxCallers {
		p.Enter(fmt.Sprintf("10.0.%d.%d:1", i>>8, i&255), func() {}).Leave()
	}
	if p.from["192.0.2.1"] != held.from || held.from.held != 1 || len(p.from) > maxCallers+1 {
		t.Errorf("%+v; %d callers", held.from, len(p.from))
	}
}

// TestAPlaceIsLeftOnce: however often, and the newest who prove a secret keep theirs.
func TestAPlaceIsLeftOnce(t *testing.T) {
	p := NewPool(maxWorking+2, nil)
	a, b := p.Enter("192.0.2.1:1", func() {}), p.Enter("192.0.2.1:1", func() {})
	for range 3 {
		a.Leave()
	}
	if a.from.held != 1 || p.Taken() != 1 {
		t.Errorf("%d held, %d taken after one of two left", a.from.held, p.Taken())
	}
	b.Work()
	for i := range maxWorking {
		p.Enter(fmt.Sprintf("192.0.2.%d:1", i+2), func() {}).Work()
	}
	if len(p.work) != maxWorking || slices.Contains(p.work, b) {
		t.Errorf("%d at work", len(p.work))
	}
}

// TestRefusedOnesHoldNothing: this machine's own connections beyond their number are closed, and when
// one of those within it has gone, the next is let in.
func TestRefusedOnesHoldNothing(t *testing.T) {
	inner, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	l := listen(inner, 1, 1)
	defer l.Close()
	accepted := make(chan net.Conn)
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				close(accepted)
				return
			}
			accepted <- c
		}
	}()
	dial := func() net.Conn {
		c, err := net.Dial("tcp", inner.Addr().String())
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { c.Close() })
		return c
	}
	dial()
	first := <-accepted
	for range 3 {
		if _, err := dial().Read(make([]byte, 1)); err == nil {
			t.Error("one too many is let in")
		}
	}
	first.Close()
	first.Close()
	dial()
	(<-accepted).Close()
	if n := l.local.Load(); n != 0 {
		t.Errorf("%d are counted", n)
	}
}
