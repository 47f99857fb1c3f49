package web_test

import (
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/gorilla/websocket"

	"bellrow/hub/show"
	"bellrow/hub/web"
	"bellrow/hub/web/webtest"
)

// TestPagesAreToldOfTheEnd: a page is told that the hub ends (RFC 6455, 7.4.1: 1001) and
// no row after that, though the laptops' links are closed then; nor is a page that
// comes while the doors still stand open.
func TestPagesAreToldOfTheEnd(t *testing.T) {
	h := webtest.New(4, webtest.Midway)
	s, err := web.New(web.Config{Hub: h, Guard: webtest.Guard{}, FeedEvery: time.Millisecond})
	if err != nil {
		t.Fatal(err)
	}
	srv := httptest.NewServer(s.Handler())
	t.Cleanup(srv.Close)
	watch := func() *websocket.Conn {
		ws, _, err := websocket.DefaultDialer.Dial("ws"+strings.TrimPrefix(srv.URL, "http")+"/ws/row", nil)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { ws.Close() })
		return ws
	}
	open := watch()
	if _, _, err := open.ReadMessage(); err != nil {
		t.Fatal(err)
	}
	s.Close()
	s.Close()
	h.Set(func(r *show.Row) { r.Say = "All laptops have left." })
	for name, ws := range map[string]*websocket.Conn{"an open page": open, "a late one": watch()} {
		for {
			_, row, err := ws.ReadMessage()
			if err != nil {
				if !websocket.IsCloseError(err, websocket.CloseGoingAway) {
					t.Errorf("%s is told %v, need 1001", name, err)
				}
				break
			}
			if strings.Contains(string(row), "have left") {
				t.Errorf("%s is shown a row after the end", name)
			}
		}
	}
}
