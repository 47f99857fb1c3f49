package web_test

import (
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/gorilla/websocket"
	"go.uber.org/goleak"

	"bellrow/hub/web/webtest"
)

// TestViewersLeaveNothing: when viewers have gone, politely or not, and the
// server is closed, no goroutine is left.
func TestViewersLeaveNothing(t *testing.T) {
	leaks := goleak.IgnoreCurrent()
	srv := httptest.NewServer(handler(t, webtest.New(12, webtest.Midway), webtest.Guard{}))
	for i := range 8 {
		c, r, err := websocket.DefaultDialer.Dial(strings.Replace(srv.URL, "http", "ws", 1)+"/ws/row", nil)
		if err != nil {
			t.Fatal(err)
		}
		r.Body.Close()
		if i%2 == 0 {
			_, _, _ = c.ReadMessage()
			_ = c.WriteMessage(websocket.CloseMessage, nil)
		}
		c.Close()
	}
	srv.Close()
	goleak.VerifyNone(t, leaks)
}
