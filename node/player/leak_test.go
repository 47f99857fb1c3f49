package player_test

import (
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/gorilla/websocket"
	"go.uber.org/goleak"

	"bellrow/node/player"
)

// TestPagesLeaveNothing: when pages have gone and the server is closed, no
// goroutine is left.
func TestPagesLeaveNothing(t *testing.T) {
	leaks := goleak.IgnoreCurrent()
	s, err := player.New(player.Config{Node: &fake{}})
	if err != nil {
		t.Fatal(err)
	}
	srv := httptest.NewServer(s.Handler())
	for range 4 {
		c, r, err := websocket.DefaultDialer.Dial(strings.Replace(srv.URL, "http", "ws", 1)+s.Path()+"ws", nil)
		if err != nil {
			t.Fatal(err)
		}
		r.Body.Close()
		var sheet player.Sheet
		if err := c.ReadJSON(&sheet); err != nil || sheet.Stage != "join" {
			t.Errorf("first sheet %q, %v; need the stage join", sheet.Stage, err)
		}
		c.Close()
	}
	srv.Close()
	goleak.VerifyNone(t, leaks)
}
