package uplink

import (
	"context"
	"errors"
	"io"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/gorilla/websocket"

	"bellrow/proto"
)

// TestHowAConnectionEnded: a hub that says goodbye ended it, in words; all else means that it cannot be reached.
func TestHowAConnectionEnded(t *testing.T) {
	s := &session{line: &line{address: "192.0.2.1:7440"}}
	for _, code := range []int{websocket.CloseNormalClosure, websocket.CloseGoingAway, websocket.CloseTryAgainLater} {
		x := s.lost(&websocket.CloseError{Code: code})
		if x.code != "closed" || x.final || x.message != "the hub ended the connection" || x.hint != "it is tried again in a moment" {
			t.Errorf("closed by %d: %+v", code, x)
		}
	}
	for _, err := range []error{&websocket.CloseError{Code: websocket.CloseAbnormalClosure}, io.EOF, errRoamed} {
		if x := s.lost(err); x.code != "unreachable" || x.final || !errors.Is(x.cause, err) {
			t.Errorf("%v: %+v", err, x)
		}
	}
}

// TestWhoHangsUpIsNoHub: who takes the connection and ends it without a word, or answers something else, is no hub.
func TestWhoHangsUpIsNoHub(t *testing.T) {
	bubble(t, func(t *testing.T) {
		for _, says := range []string{"", "220 post office\r\n"} {
			l := listen()
			go func() {
				for {
					c, err := l.Accept()
					if err != nil {
						return
					}
					c.Read(make([]byte, 4096)) // all of the request
					io.WriteString(c, says)
					c.Close()
				}
			}()
			u, stop := running(t, Config{Hub: proto.Link{Address: l.addr.String()}, NoMulticast: true})
			if s := until(t, u, "the answer", func(s Status) bool { return s.Code != "" }); s.Code != "not-a-hub" {
				t.Errorf("who says %q: %+v", says, s)
			}
			stop()
			l.Close()
		}
	})
}

// TestWithinItsTime: what was done when the time had run out counts as not done; a line on which something
// failed is closed, and no other.
func TestWithinItsTime(t *testing.T) {
	over, cancel := context.WithCancel(t.Context())
	cancel()
	wrong := &trouble{code: "x"}
	for _, c := range []struct {
		ctx  context.Context
		does *trouble
		want string
	}{{t.Context(), nil, ""}, {t.Context(), wrong, "x"}, {over, wrong, "x"}, {over, nil, "unreachable"}} {
		here, there := net.Pipe()
		l := silentHubOn(t, here, there, func(ws *websocket.Conn) { ws.ReadMessage() })
		got := (&session{line: l}).within(c.ctx, func() *trouble { return c.does })
		code := ""
		if got != nil {
			code = got.code
		}
		l.SetWriteDeadline(time.Time{})
		err := l.WriteMessage(websocket.TextMessage, []byte("x"))
		if code != c.want || (err != nil) != (c.want != "") {
			t.Errorf("time over %v, does %v: %q, want %q; then %v", c.ctx.Err() != nil, c.does, code, c.want, err)
		}
		l.Close()
	}
}

// TestAViewIsAnnounced: whoever waits for a change is told of what the hub shows, each time.
func TestAViewIsAnnounced(t *testing.T) {
	u, err := New(Config{Instrument: "trumpet_bb"})
	if err != nil {
		t.Fatal(err)
	}
	for range 2 {
		changed := u.Changed()
		u.setView(proto.View{})
		select {
		case <-changed:
		default:
			t.Error("nobody is told")
		}
	}
	changed := u.Changed()
	u.update(func(*Status) {}) // nothing changed
	select {
	case <-changed:
		t.Error("told of nothing")
	default:
	}
}

// TestATokenOfNoUse: a hub whose proof does not fit is told in words that name the next step, other ones for a
// token than for a code.
func TestATokenOfNoUse(t *testing.T) {
	bubble(t, func(t *testing.T) {
		_, _, s := forgotten(t)
		if s.Message != "this hub does not know this laptop any more" || !strings.HasPrefix(s.Hint, "type the join code") {
			t.Errorf("%+v", s)
		}
	})
}

// TestNoRoomForOtherNumbers: a hub that was put back to an earlier state, and has no room for the connection on which
// other numbers would be told, is told so; nothing is lost meanwhile.
func TestNoRoomForOtherNumbers(t *testing.T) {
	bubble(t, func(t *testing.T) {
		h := newFakeHub(t, false)
		u, _ := running(t, Config{Hub: h.link(), Boot: "b1", Join: "K7M4QX"})
		for range 5 {
			u.Send(note())
		}
		drained(t, u)
		h.change(func() { h.stored["b1"], h.dropAt, h.room = 2, 1, 1 })
		u.Send(note())
		s := until(t, u, "the want of room", func(s Status) bool { return s.Code == "full" })
		if s.Message != "the hub has no room for another connection" || s.Hint != "it is tried again in a moment" || s.Phase != Searching {
			t.Errorf("%+v", s)
		}
		h.change(func() { h.room = -1 })
		drained(t, u)
		h.change(func() { inOrder(t, h.got[u.Boot()], 1) })
	})
}

// TestARefusalLosesNothing: what an earlier start left behind stays where a hub refuses this laptop.
func TestARefusalLosesNothing(t *testing.T) {
	bubble(t, func(t *testing.T) {
		dir, r := t.TempDir(), note()
		r.Sequence = 1
		old, err := proto.Encode(proto.Message{Type: proto.TypeReading, Reading: &r})
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, "old"+spoolSuffix), append(old, '\n'), 0o600); err != nil {
			t.Fatal(err)
		}
		h := newFakeHub(t, false)
		h.refusal = &proto.Error{Code: proto.CodeTrouble, Message: "gone", Hint: "wait"}
		u, stop := running(t, Config{Hub: h.link(), Join: code, StateDir: dir})
		until(t, u, "the refusal", func(s Status) bool { return s.Code == proto.CodeTrouble })
		stop()
		if left := spools(t, dir)["old"]; len(left) != 1 {
			t.Errorf("left of one: %v", left)
		}
	})
}
