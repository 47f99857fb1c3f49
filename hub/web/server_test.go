package web_test

import (
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/gorilla/websocket"

	"bellrow/hub"
	"bellrow/hub/show"
	"bellrow/hub/web"
	"bellrow/hub/web/webtest"
	"bellrow/proto/page"
	"bellrow/proto/page/browser"
)

func handler(t testing.TB, h web.Hub, g web.Guard) http.Handler {
	t.Helper()
	s, err := web.New(web.Config{Hub: h, Guard: g, Catalogue: catalogue, Invitation: func() web.Invitation {
		return web.Invitation{Links: []string{"http://192.168.4.20:7440"}, Code: "K7M4QX"}
	}})
	if err != nil {
		t.Fatal(err)
	}
	return s.Handler()
}

func ask(h http.Handler, method, path, body string) *httptest.ResponseRecorder {
	w := httptest.NewRecorder()
	h.ServeHTTP(w, httptest.NewRequest(method, path, strings.NewReader(body)))
	return w
}

// TestWhoSeesWhat asks for everything as the leader and as somebody else.
func TestWhoSeesWhat(t *testing.T) {
	for _, tt := range []struct {
		method, path, body string
		leader, other      int
	}{
		{"GET", "/", "", 200, 200},
		{"GET", "/join", "", 200, 200},
		{"GET", "/wall", "", 200, 200},
		{"GET", "/assets/look.css", "", 200, 200},
		{"GET", "/assets/row.js", "", 200, 200},
		{"GET", "/qr.svg", "", 200, 200},
		{"GET", "/api/row", "", 200, 200},
		{"GET", "/api/invitation", "", 200, 200},
		{"GET", "/row", "", 200, 303},
		{"GET", "/setup", "", 200, 303},
		{"GET", "/summary", "", 200, 303},
		{"GET", "/piece", "", 200, 303},
		{"GET", "/api/piece", "", 200, 403},
		{"POST", "/api/piece", "<score-partwise/>", 200, 403},
		{"GET", "/api/piece/plan", "", 422, 403},
		{"GET", "/api/section", "", 200, 403},
		{"GET", "/api/sections", "", 200, 403},
		{"GET", "/api/summary", "", 200, 403},
		{"GET", "/summary.csv", "", 200, 403},
		{"GET", "/section.csv", "", 200, 403},
		{"POST", "/section.csv", "label,instrument\nHorn 1,horn_double\n", 200, 403},
		{"POST", "/api/command", `{"do":"end"}`, 200, 403},
		{"GET", "/api/command", "", 404, 404},
		{"GET", "/nothing", "", 404, 404},
		{"GET", "/assets/nothing.js", "", 404, 404},
		{"GET", "/assets/..%2fserver.go", "", 404, 404},
	} {
		for _, g := range []webtest.Guard{{}, {Closed: true}} {
			want := tt.leader
			if g.Closed {
				want = tt.other
			}
			w := ask(handler(t, webtest.New(3, webtest.Midway), g), tt.method, tt.path, tt.body)
			if w.Code != want {
				t.Errorf("%s %s, leader %v: %d, need %d", tt.method, tt.path, !g.Closed, w.Code, want)
			}
			if got := w.Header().Get("Content-Security-Policy"); got != page.Policy {
				t.Errorf("%s: policy %q, need %q", tt.path, got, page.Policy)
			}
			if want == 403 && !strings.Contains(w.Body.String(), `"code":"not-leader"`) {
				t.Errorf("%s: %s, need the code not-leader", tt.path, w.Body)
			}
		}
	}
}

// TestCodeIsForTheLeader: only the leader's page and QR code hold the code.
func TestCodeIsForTheLeader(t *testing.T) {
	h := webtest.New(1, webtest.Before)
	leader, other := handler(t, h, webtest.Guard{}), handler(t, h, webtest.Guard{Closed: true})
	if got := ask(leader, "GET", "/api/invitation", "").Body.String(); !strings.Contains(got, "K7M 4QX") {
		t.Errorf("the leader gets %s, need the code", got)
	}
	if got := ask(other, "GET", "/api/invitation", "").Body.String(); strings.Contains(got, "K7M") {
		t.Errorf("another gets %s, need no code", got)
	}
	if ask(leader, "GET", "/qr.svg", "").Body.String() == ask(other, "GET", "/qr.svg", "").Body.String() {
		t.Error("the QR code is the same with and without the code")
	}
}

// TestTelephones: where telephones take part, the join page and what they scan
// lead to their door.
func TestTelephones(t *testing.T) {
	for _, door := range []string{"", "https://192.168.4.20:7443/"} {
		s, err := web.New(web.Config{Hub: webtest.New(1, webtest.Before), Guard: webtest.Guard{}, Invitation: func() web.Invitation {
			return web.Invitation{Links: []string{"http://192.168.4.20:7440"}, Code: "K7M4QX", Telephones: door}
		}})
		if err != nil {
			t.Fatal(err)
		}
		b := browser.Open(t)
		url := httptest.NewServer(s.Handler())
		t.Cleanup(url.Close)
		b.Size(1366, 768)
		b.Go(url.URL)
		b.Until("the code", "document.getElementById('code').textContent")
		if got := browser.Eval[bool](b, "document.getElementById('phones-play').hidden"); got != (door == "") {
			t.Errorf("door %q: telephones told to watch only: %v", door, got)
		}
		b.Until("the picture", "document.getElementById('qr').naturalWidth > 0")
		if door != "" {
			b.Shot("join-telephones-1366-paper")
			b.Axe("join, telephones")
		}
	}
}

// TestNames are left out for everybody but the leader, if the leader says so.
func TestNames(t *testing.T) {
	for _, tt := range []struct {
		hide, closed bool
		path         string
		want         bool
	}{
		{false, true, "/api/row", true}, {true, true, "/api/row", false},
		{true, false, "/api/row", true}, {true, false, "/api/row?for=wall", false}, {false, false, "/api/row?for=wall", true},
	} {
		h := webtest.New(3, webtest.Midway)
		h.SetSection(func(s *hub.Section) { s.HideNames = tt.hide })
		got := ask(handler(t, h, webtest.Guard{Closed: tt.closed}), "GET", tt.path, "").Body.String()
		if strings.Contains(got, "Ada") != tt.want {
			t.Errorf("%s, hidden %v, leader %v: names shown %v, need %v", tt.path, tt.hide, !tt.closed, !tt.want, tt.want)
		}
	}
}

// TestETag: a page that has not changed is not sent again.
func TestETag(t *testing.T) {
	h := handler(t, webtest.New(1, webtest.Before), webtest.Guard{})
	first := ask(h, "GET", "/assets/row.css", "")
	tag := first.Header().Get("ETag")
	if tag == "" || first.Body.Len() == 0 {
		t.Fatalf("tag %q for %d bytes", tag, first.Body.Len())
	}
	r := httptest.NewRequest("GET", "/assets/row.css", nil)
	r.Header.Set("If-None-Match", tag)
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	if w.Code != http.StatusNotModified || w.Body.Len() != 0 {
		t.Errorf("asked again: %d with %d bytes, need 304 with none", w.Code, w.Body.Len())
	}
}

// TestCommand passes commands on and words refusals.
func TestCommand(t *testing.T) {
	h := webtest.New(3, webtest.Midway)
	site := handler(t, h, webtest.Guard{})
	if w := ask(site, "POST", "/api/command", `{"do":"skip","chair":2}`); w.Code != 200 {
		t.Fatalf("skip: %d %s", w.Code, w.Body)
	}
	if got := h.Commands(); len(got) != 1 || got[0].Do != hub.DoSkip || got[0].Chair != 2 {
		t.Errorf("the hub got %+v, need skip of chair 2", got)
	}
	h.Refuse = webtest.ErrBusy
	w := ask(site, "POST", "/api/command", `{"do":"next"}`)
	if w.Code != 422 || !strings.Contains(w.Body.String(), "No round is running, call a note first.") {
		t.Errorf("refused: %d %s, need the hub's own sentence", w.Code, w.Body)
	}
	for body, code := range map[string]string{"not json": "bad-command", `{"do":"edit","name":"` + strings.Repeat("x", 2<<20) + `"}`: "too-big"} {
		if w := ask(site, "POST", "/api/command", body); !strings.Contains(w.Body.String(), code) {
			t.Errorf("%.20s: %d %s, need %s", body, w.Code, w.Body, code)
		}
	}
	for err, code := range map[error]string{hub.ErrFull: "disk-full", hub.ErrReadOnly: "read-only", hub.ErrMoved: "data-moved", hub.ErrDamaged: "data-damaged", hub.ErrNotFound: "unknown"} {
		h.Refuse = err
		if w := ask(site, "POST", "/api/command", `{"do":"end"}`); !strings.Contains(w.Body.String(), code) {
			t.Errorf("%v: %d %s, need the code %s", err, w.Code, w.Body, code)
		}
	}
}

func dial(t testing.TB, url string) *websocket.Conn {
	t.Helper()
	c, r, err := websocket.DefaultDialer.Dial(strings.Replace(url, "http", "ws", 1), nil)
	if err != nil {
		t.Fatal(err)
	}
	r.Body.Close()
	t.Cleanup(func() { c.Close() })
	return c
}

// TestFeedCoalesces changes the row far faster than anybody reads: the viewer
// gets few rows and the last one.
func TestFeedCoalesces(t *testing.T) {
	h := webtest.New(12, webtest.Midway)
	srv := httptest.NewServer(handler(t, h, webtest.Guard{}))
	t.Cleanup(srv.Close)
	c := dial(t, srv.URL+"/ws/row")
	const changes = 3000
	start := time.Now()
	for range changes {
		h.Set(func(r *show.Row) { r.Say = "changed" })
	}
	rows := 0
	for {
		var b web.Board
		if err := c.ReadJSON(&b); err != nil {
			t.Fatal(err)
		}
		rows++
		if b.Version == changes+1 {
			break
		}
	}
	if most := int(time.Since(start)/(100*time.Millisecond)) + 2; rows > most {
		t.Errorf("%d rows in %v, need at most %d: ten a second", rows, time.Since(start), most)
	}
}

// TestSlowViewer: a viewer that never reads holds nobody up.
func TestSlowViewer(t *testing.T) {
	h := webtest.New(120, webtest.Midway)
	srv := httptest.NewServer(handler(t, h, webtest.Guard{}))
	t.Cleanup(srv.Close)
	dial(t, srv.URL+"/ws/row") // never read
	c := dial(t, srv.URL+"/ws/row")
	h.Set(func(r *show.Row) { r.Say = "for all who read" })
	for {
		_, data, err := c.ReadMessage()
		if err != nil {
			t.Fatal(err)
		}
		var b web.Board
		if err := json.Unmarshal(data, &b); err != nil {
			t.Fatal(err)
		}
		if b.Say == "for all who read" {
			return
		}
	}
}

// TestTalkingViewer: what a viewer sends is not read beyond its limit.
func TestTalkingViewer(t *testing.T) {
	srv := httptest.NewServer(handler(t, webtest.New(1, webtest.Before), webtest.Guard{}))
	t.Cleanup(srv.Close)
	c := dial(t, srv.URL+"/ws/row")
	if err := c.WriteMessage(websocket.TextMessage, make([]byte, 4096)); err != nil {
		t.Fatal(err)
	}
	for {
		if _, _, err := c.ReadMessage(); err != nil {
			return // dropped, as it should be
		}
	}
}
