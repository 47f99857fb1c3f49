package player_test

import (
	"net"
	"net/http/httptest"
	"sync"
	"testing"

	"bellrow/node/listen"
	"bellrow/node/player"
	"bellrow/proto/page/browser"
)

// icehouse is a listener whose connections stand still while it is locked, as
// those of a program that hangs do: open, and nothing comes.
type icehouse struct {
	net.Listener
	sync.RWMutex
}

func (h *icehouse) Accept() (net.Conn, error) {
	c, err := h.Listener.Accept()
	return &frozen{c, h}, err
}

type frozen struct {
	net.Conn
	house *icehouse
}

func (c *frozen) Write(p []byte) (int, error) {
	c.house.RLock()
	defer c.house.RUnlock()
	return c.Conn.Write(p)
}

// TestFrozenNodeIsTold: a page whose node hangs does not go on saying that it is
// connected, though no socket has closed; and it is right again once the node
// goes on.
func TestFrozenNodeIsTold(t *testing.T) {
	b := browser.Open(t)
	s, err := player.New(player.Config{Node: &fake{}})
	if err != nil {
		t.Fatal(err)
	}
	srv := httptest.NewUnstartedServer(s.Handler())
	house := &icehouse{Listener: srv.Listener}
	srv.Listener = house
	srv.Start()
	t.Cleanup(srv.Close)
	s.ShowSeat(seat)
	s.ShowSound(player.Sound{State: listen.Quiet, Device: "Built-in microphone", Level: -70, Floor: -64})
	s.ShowLink(player.Link{State: player.LinkJoined, Hub: "Saturday brass"})
	s.ShowView(play)
	b.Go(srv.URL + s.Path())
	const connected = `document.getElementById("link").textContent === "connected"`
	b.Until("the seat", connected+` && document.getElementById("offline").hidden`)
	house.Lock()
	b.Until("the page to say that nothing comes", `!(`+connected+`) && document.getElementById("offline").textContent.includes("does not answer") && !document.getElementById("offline").hidden`)
	house.Unlock()
	b.Until("the page to be right again", connected+` && document.getElementById("offline").hidden`)
}
