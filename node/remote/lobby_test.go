package remote

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"
)

// guest is a player who does nothing but exist.
type guest struct {
	path      string
	ended     chan struct{}
	busy      atomic.Bool
	forgotten atomic.Bool
}

func (g *guest) Forget() { g.forgotten.Store(true) }

func (g *guest) Busy() bool { return g.busy.Load() }

func (g *guest) Path() string { return g.path }

func (g *guest) Handler() http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { fmt.Fprint(w, "page of ", g.path) })
}

func (g *guest) Run(ctx context.Context) error {
	<-ctx.Done()
	close(g.ended)
	return ctx.Err()
}

// house is a lobby with the door open.
type house struct {
	*Lobby
	guests []*guest
}

const rightCode = "K7QX2M"

func openHouse(t *testing.T, most int) *house {
	t.Helper()
	h := &house{}
	var n atomic.Int64
	l, err := New(Config{
		Most: most,
		Admit: func(_ *http.Request, code string) error {
			if code != rightCode {
				return errors.New("wrong")
			}
			return nil
		},
		New: func(_, _ string) (Player, error) {
			g := &guest{path: fmt.Sprintf("/secret%d/", n.Add(1)), ended: make(chan struct{})}
			h.guests = append(h.guests, g)
			return g, nil
		},
	})
	if err != nil {
		t.Fatal(err)
	}
	h.Lobby = l
	ctx, stop := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() { defer close(done); l.Run(ctx) }()
	t.Cleanup(func() { stop(); <-done })
	for { // until Run has opened the door
		l.mu.Lock()
		open := l.ctx != nil
		l.mu.Unlock()
		if open {
			return h
		}
		time.Sleep(time.Millisecond)
	}
}

func (h *house) do(method, path, body string) *httptest.ResponseRecorder {
	w := httptest.NewRecorder()
	h.Handler().ServeHTTP(w, httptest.NewRequest(method, path, strings.NewReader(body)))
	return w
}

func TestDoor(t *testing.T) {
	h := openHouse(t, 1)
	if w := h.do("POST", "/enter", `{"code":"AAAAAA"}`); w.Code != http.StatusForbidden || len(h.guests) != 0 {
		t.Errorf("wrong code: status %d and %d players, want %d and none", w.Code, len(h.guests), http.StatusForbidden)
	}
	if w := h.do("POST", "/enter", `{"code":`); w.Code != http.StatusBadRequest {
		t.Errorf("half a request: status %d, want %d", w.Code, http.StatusBadRequest)
	}
	w := h.do("POST", "/enter", `{"code":" `+rightCode+` "}`)
	var got struct{ Path string }
	if err := json.Unmarshal(w.Body.Bytes(), &got); err != nil || w.Code != http.StatusOK || got.Path != "/secret1/" {
		t.Fatalf("right code: status %d, %s", w.Code, w.Body)
	}
	if w := h.do("GET", got.Path, ""); w.Body.String() != "page of /secret1/" {
		t.Errorf("the page says %q", w.Body)
	}
	h.guests[0].busy.Store(true)
	if w := h.do("POST", "/enter", `{"code":"`+rightCode+`"}`); w.Code != http.StatusServiceUnavailable {
		t.Errorf("one too many: status %d, want %d", w.Code, http.StatusServiceUnavailable)
	}
}

func TestUnknownSeatGoesToTheDoor(t *testing.T) {
	h := openHouse(t, 1)
	w := h.do("GET", "/secret9/", "")
	if w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/#gone" {
		t.Errorf("status %d to %q, want the door", w.Code, w.Header().Get("Location"))
	}
	if w := h.do("POST", "/secret9/api/setting", "{}"); w.Code != http.StatusNotFound {
		t.Errorf("post to nobody: status %d, want %d", w.Code, http.StatusNotFound)
	}
}

func TestSeatIsGivenUpWhenThePageIsGone(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := openHouse(t, 2)
		path, err := h.enter("192.0.2.1", rightCode)
		if err != nil {
			t.Fatal(err)
		}
		g := h.guests[0]
		v := h.begin(path)
		h.sweep(time.Now().Add(2 * DefaultAway))
		synctest.Wait()
		select {
		case <-g.ended:
			t.Fatal("a player with an open page was ended")
		default:
		}
		h.end(v)
		h.sweep(time.Now().Add(DefaultAway / 2))
		if h.Players() != 1 {
			t.Error("the seat was given up too soon")
		}
		h.sweep(time.Now().Add(2 * DefaultAway))
		<-g.ended
		for h.begin(path) != nil {
			time.Sleep(time.Millisecond)
		}
		until(t, g.forgotten.Load)
	})
}

// until waits for something that a goroutine is about to do.
func until(t *testing.T, done func() bool) {
	t.Helper()
	for t.Context().Err() == nil && !done() {
		time.Sleep(time.Millisecond)
	}
}

// TestSeatsOutliveTheHub: what a lobby ends with its hub is not given up, and
// the next one has it from the start, before it runs.
func TestSeatsOutliveTheHub(t *testing.T) {
	g := &guest{path: "/secret1/", ended: make(chan struct{})}
	l, err := New(Config{Kept: []Player{g}, Admit: func(*http.Request, string) error { return nil },
		New: func(_, _ string) (Player, error) { return nil, errors.New("nobody is new") }})
	if err != nil {
		t.Fatal(err)
	}
	h := &house{Lobby: l}
	if w := h.do("GET", "/secret1/", ""); w.Body.String() != "page of /secret1/" {
		t.Errorf("status %d, %q", w.Code, w.Body)
	}
	ctx, stop := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() { defer close(done); l.Run(ctx) }()
	until(t, func() bool { l.mu.Lock(); defer l.mu.Unlock(); return l.ctx != nil })
	if l.Players() != 1 {
		t.Errorf("%d players, want 1", l.Players())
	}
	stop()
	<-done
	<-g.ended
	if g.forgotten.Load() {
		t.Error("the end of the hub gave a seat up")
	}
}

// One telephone takes no more than its share, whatever it does; and when all
// seats are taken, who neither sounds nor is called gives way.
func TestSeatsAreShared(t *testing.T) {
	h := openHouse(t, 6)
	enter := func(address string) error { _, err := h.enter(address, rightCode); return err }
	for _, a := range []string{"192.0.2.1", "192.0.2.2"} {
		if err := enter(a); err != nil {
			t.Fatal(err)
		}
	}
	for range 50 {
		if err := enter("192.0.2.66"); err != nil {
			t.Fatal(err)
		}
	}
	if n := h.Players(); n != 2+perAddress {
		t.Errorf("%d seats taken, want %d", n, 2+perAddress)
	}
	for i := range 3 {
		if err := enter(fmt.Sprintf("192.0.2.%d", 10+i)); err != nil {
			t.Fatal(err)
		}
	}
	for _, g := range h.guests[:2] {
		select {
		case <-g.ended:
			t.Error("a neighbour's seat was given away")
		default:
		}
	}
	for _, g := range h.guests {
		g.busy.Store(true)
	}
	if err := enter("192.0.2.99"); !errors.Is(err, ErrFull) {
		t.Errorf("among players who all sound: %v", err)
	}
}

func TestPagesCarryTheirPolicy(t *testing.T) {
	h := openHouse(t, 1)
	w := h.do("GET", "/", "")
	if w.Code != http.StatusOK || !strings.Contains(w.Header().Get("Content-Security-Policy"), "default-src 'self'") {
		t.Errorf("status %d, policy %q", w.Code, w.Header().Get("Content-Security-Policy"))
	}
	for _, name := range []string{"phone.js", "phone.css", "look.css", "dom.js", "theme.js", "mark.svg"} {
		if w := h.do("GET", "/assets/"+name, ""); w.Code != http.StatusOK {
			t.Errorf("%s: status %d", name, w.Code)
		}
	}
}

// Players is how many seats are taken.
func (l *Lobby) Players() int {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.seats("")
}
