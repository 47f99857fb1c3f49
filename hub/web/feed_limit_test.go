package web_test

import (
	"net/http"
	"strings"
	"testing"

	"github.com/gorilla/websocket"

	"bellrow/hub/web/webtest"
)

// Anybody may watch, but not any number; the leader always may.
func TestViewersAreLimited(t *testing.T) {
	address := "ws" + strings.TrimPrefix(serve(t, webtest.New(3, webtest.Midway), webtest.Guard{Closed: true}), "http") + "/ws/row"
	open := 0
	for ; open < 200; open++ {
		ws, resp, err := websocket.DefaultDialer.Dial(address, nil)
		if err != nil {
			if resp == nil || resp.StatusCode != http.StatusServiceUnavailable {
				t.Fatalf("viewer %d: %v, %v", open, resp, err)
			}
			break
		}
		defer ws.Close()
	}
	if open != 64 {
		t.Errorf("%d viewers let in, want 64", open)
	}
}
