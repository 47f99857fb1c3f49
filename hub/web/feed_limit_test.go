package web_test

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/gorilla/websocket"

	"bellrow/hub/web"
	"bellrow/hub/web/webtest"
)

// Anybody may watch, but one laptop's many screens put out its own, never the
// wall screen of another.
func TestManyScreensOfOnePutOutTheirOwn(t *testing.T) {
	s, err := web.New(web.Config{Hub: webtest.New(3, webtest.Midway), Guard: webtest.Guard{Closed: true}})
	if err != nil {
		t.Fatal(err)
	}
	site := s.Handler()
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		r.RemoteAddr = r.Header.Get("X-From")
		site.ServeHTTP(w, r)
	}))
	t.Cleanup(srv.Close)
	dial := func(from string) (*websocket.Conn, error) {
		ws, _, err := websocket.DefaultDialer.Dial("ws"+strings.TrimPrefix(srv.URL, "http")+"/ws/row", http.Header{"X-From": {from}})
		if err == nil {
			t.Cleanup(func() { ws.Close() })
		}
		return ws, err
	}
	watch := func(from string) *websocket.Conn {
		t.Helper()
		ws, err := dial(from)
		if err != nil {
			t.Fatalf("%s: %v", from, err)
		}
		return ws
	}
	wall := watch("192.0.2.1:1")
	var flood []*websocket.Conn
	for i := range 70 {
		from := "192.0.2.2:1"
		if i >= 45 {
			from = "192.0.2.4:1"
		}
		flood = append(flood, watch(from))
	}
	for range 40 { // the last of them find the door shut
		if _, err := dial("192.0.2.2:1"); err != nil {
			break
		}
	}
	if _, err := dial("192.0.2.2:1"); err == nil {
		t.Error("the door is open to a hundred screens of one address")
	}
	late := watch("192.0.2.3:1")
	shows := func(ws *websocket.Conn, patience time.Duration) bool {
		ws.SetReadDeadline(time.Now().Add(time.Minute))
		_, _, err := ws.ReadMessage()
		if err == nil {
			ws.SetReadDeadline(time.Now().Add(patience))
			_, _, err = ws.ReadMessage() // the second is long in coming; what was put out says so
			return err == nil || !websocket.IsUnexpectedCloseError(err) && !strings.Contains(err.Error(), "EOF")
		}
		return false
	}
	if !shows(wall, 200*time.Millisecond) || !shows(late, 200*time.Millisecond) {
		t.Error("a screen of another address was put out")
	}
	if shows(flood[0], time.Minute) {
		t.Error("the first of many screens of one address still watches")
	}
}
