package access

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// TestAYesAndAQuestionHaveTheirTime: a yes holds for less than ten minutes, a question stands for a minute, to the moment.
func TestAYesAndAQuestionHaveTheirTime(t *testing.T) {
	for _, c := range []struct {
		after   time.Duration
		waits   bool
		admits  bool
		whether string
	}{
		{0, true, true, "at once"},
		{59 * time.Second, true, true, "before a minute"},
		{time.Minute, true, true, "after a minute"},
		{time.Minute + 1, false, true, "just after a minute"},
		{10*time.Minute - 1, false, true, "just before ten minutes"},
		{10 * time.Minute, false, false, "after ten minutes"},
		{time.Hour, false, false, "after an hour"},
	} {
		clock := &hand{time.Unix(1000, 0)}
		g := guard(t, Config{Now: clock.now})
		yes, open := Ask{Node: "a", From: "192.0.2.1", Why: WhyAlike}, Ask{Node: "b", From: "192.0.2.2", Why: WhyAlike}
		g.May(yes)
		g.Admit("a")
		g.May(open)
		clock.forward(c.after)
		if got := len(asks(g)) == 1; got != c.waits {
			t.Errorf("%s: waits %v", c.whether, got)
		}
		if got := g.May(yes); got != c.admits {
			t.Errorf("%s: let in %v", c.whether, got)
		}
	}
}

// TestStrangersHaveTheirShare: forty players who open a page of ten things at once wait for nothing, and each
// second two hundred more things are asked for without a wait.
func TestStrangersHaveTheirShare(t *testing.T) {
	g := guard(t, Config{})
	now := time.Now().Add(time.Hour)
	for range 40 * 10 {
		if !g.pages.AllowN(now, 1) {
			t.Fatal("a section that opens its pages has to wait")
		}
	}
	for range 3 {
		if g.pages.AllowN(now, 1) {
			t.Error("one more is not made to wait")
		}
		if now = now.Add(time.Second); !g.pages.AllowN(now, 200) {
			t.Error("fewer than two hundred in a second")
		}
	}
}

// TestAKeyComesInAKilobyte: a form of 1024 bytes is read, and one of more is not.
func TestAKeyComesInAKilobyte(t *testing.T) {
	for size, want := range map[int]int{600: http.StatusNoContent, 1024: http.StatusNoContent, 1025: http.StatusForbidden, 2000: http.StatusForbidden} {
		g := guard(t, Config{})
		form := "key=leader-key-of-the-test&x="
		r := httptest.NewRequest("POST", "/leader", strings.NewReader(form+strings.Repeat("x", size-len(form))))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		w := httptest.NewRecorder()
		if g.ServeLeader(w, r); w.Code != want {
			t.Errorf("%d bytes: %d", size, w.Code)
		}
	}
}

// TestWhoIsPutOutIsCutOff: at once, and not led to the end of what was said (RFC 9293, section 3.10.5).
func TestWhoIsPutOutIsCutOff(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	there, err := net.Dial("tcp", l.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer there.Close()
	here, err := l.Accept()
	if err != nil {
		t.Fatal(err)
	}
	abort(here)
	if _, err := there.Read(make([]byte, 1)); err == nil || errors.Is(err, io.EOF) {
		t.Errorf("it reads %v", err)
	}
}

// TestALogTakesTheSystemsClock: where none is given.
func TestALogTakesTheSystemsClock(t *testing.T) {
	var out bytes.Buffer
	log := slog.New(Quiet(slog.NewTextHandler(&out, nil), nil))
	for range 2 * logBurst {
		log.Warn("a message was not understood")
	}
	if n := strings.Count(out.String(), "\n"); n < logBurst || n >= 2*logBurst {
		t.Errorf("%d lines", n)
	}
}

// TestNothingIsNoToken: an empty token, and one where no hash is kept, open nothing; each costs a try.
func TestNothingIsNoToken(t *testing.T) {
	clock := &hand{time.Unix(1000, 0)}
	g := guard(t, Config{Now: clock.now})
	for i, hash := range [][]byte{nil, {}, HashToken("a")[:31], append(HashToken(""), 0)} {
		from := fmt.Sprintf("192.0.2.%d:1", i)
		for range wrongBurst {
			if err := g.CheckToken(from, "", hash); !errors.Is(err, ErrWrongCode) {
				t.Errorf("hash %x: %v", hash, err)
			}
		}
		if err := g.CheckToken(from, "a", HashToken("a")); !errors.Is(err, ErrTooMany) {
			t.Errorf("hash %x: afterwards %v", hash, err)
		}
	}
}

// TestACertificateIsKeptWhole: where its key or it cannot be written there is none.
func TestACertificateIsKeptWhole(t *testing.T) {
	dir := t.TempDir()
	if err := os.Mkdir(filepath.Join(dir, keyName), 0o700); err != nil {
		t.Fatal(err)
	}
	if _, err := SelfSigned(dir, time.Now()); err == nil {
		t.Error("the key is not kept, and nobody says so")
	}
	dir = t.TempDir()
	if err := os.Symlink(filepath.Join(dir, "nowhere", "x"), filepath.Join(dir, certName)); err != nil {
		t.Skip("no links on this system")
	}
	if _, err := SelfSigned(dir, time.Now()); err == nil {
		t.Error("the certificate is not kept, and nobody says so")
	}
}

// TestOneTryIsGivenBack: and not all.
func TestOneTryIsGivenBack(t *testing.T) {
	clock := &hand{time.Unix(1000, 0)}
	l := NewLimiter(3, time.Hour, clock.now)
	const from = "192.0.2.1:1"
	for range 3 {
		l.Take(from)
	}
	l.Give(from)
	if !l.Take(from) || l.Take(from) {
		t.Error("not one try after one was given back")
	}
	for range 9 {
		l.Give(from)
	}
	for i := range 4 {
		if l.Take(from) != (i < 3) {
			t.Errorf("take %d of three", i+1)
		}
	}
}

// TestPortsAreDecimal: and no larger than ports are.
func TestPortsAreDecimal(t *testing.T) {
	g := guard(t, Config{})
	for port, ok := range map[string]bool{"1": true, "7440": true, "9989": true, "65535": true, "65536": false, "-1": false, "a": false, "0x1": false} {
		if g.hostAllowed("localhost:"+port) != ok {
			t.Errorf("port %s: not %v", port, ok)
		}
	}
}
