// Package feed pushes the latest state of something to a page over a
// WebSocket: the row to the hub's screens, the sheet to a player's page.
//
// There is no queue to fall behind on. What is sent is always the latest, at
// most one each Every; a page that takes longer than a few seconds for one is
// dropped, and comes back by itself with the latest.
package feed

import (
	"context"
	"net/http"
	"time"

	"github.com/gorilla/websocket"
)

// Feed is what one page is shown.
type Feed struct {
	// Every is the least time between two messages.
	Every time.Duration
	// Changed receives when there may be news, the first time at once. Its
	// closing ends the feed.
	Changed <-chan struct{}
	// Over is closed when the program ends: the page is told so, and shown nothing
	// more. nil never ends.
	Over <-chan struct{}
	// Next returns the message to send, or none when nothing reads
	// differently. An error ends the feed.
	Next func() ([]byte, error)
}

// Limits of a page's socket.
const (
	// writeWithin is how long one message may take to leave.
	writeWithin = 5 * time.Second
	// pingEvery and pongWithin find pages that went away without a word.
	pingEvery  = 5 * time.Second
	pongWithin = 15 * time.Second
	// beatEvery spaces the empty messages by which a page knows that this program
	// runs: scripts do not see pings. feed.js waits for three of them.
	beatEvery = time.Second
	// readLimit bounds what a page may send, which is nothing.
	readLimit = 512
)

// beat is a message without a state.
var beat = []byte("null")

var upgrader = websocket.Upgrader{
	ReadBufferSize: readLimit, WriteBufferSize: 16 << 10,
	CheckOrigin: func(*http.Request) bool { return true },
}

// Serve upgrades the request, asks open for the feed, and serves it until the
// page goes or the feed ends; then it calls the function that open returned.
// Host and Origin must have been checked before.
func Serve(w http.ResponseWriter, r *http.Request, open func() (Feed, func())) {
	conn, err := upgrader.Upgrade(w, r, nil)
	if err != nil {
		return // Upgrade has answered
	}
	f, done := open()
	defer done()
	ctx, cancel := context.WithCancel(r.Context())
	gone := make(chan struct{})
	go func() {
		defer close(gone)
		defer cancel()
		readNothing(conn)
	}()
	f.push(ctx, conn)
	conn.Close()
	<-gone
}

// readNothing reads until the peer goes: it answers pings and feeds the
// deadline.
func readNothing(conn *websocket.Conn) {
	conn.SetReadLimit(readLimit)
	alive := func(string) error { return conn.SetReadDeadline(time.Now().Add(pongWithin)) }
	_ = alive("")
	conn.SetPongHandler(alive)
	for {
		if _, _, err := conn.ReadMessage(); err != nil {
			return
		}
	}
}

func (f Feed) push(ctx context.Context, conn *websocket.Conn) {
	ping := time.NewTicker(pingEvery)
	defer ping.Stop()
	beats := time.NewTicker(beatEvery)
	defer beats.Stop()
	pace := time.NewTimer(0)
	defer pace.Stop()
	due, ready := false, false
	for {
		select {
		case <-f.Over: // before anything else that there is to be told
			_ = conn.WriteControl(websocket.CloseMessage, websocket.FormatCloseMessage(websocket.CloseGoingAway, ""), time.Now().Add(writeWithin))
			return
		default:
		}
		if due && ready {
			due = false
			sent, err := f.send(conn)
			if err != nil {
				return
			}
			if sent { // what read no differently holds up nothing
				ready = false
				pace.Reset(f.Every)
			}
		}
		select {
		case <-ctx.Done():
			return
		case <-f.Over:
		case <-pace.C:
			ready = true
		case _, open := <-f.Changed:
			if !open {
				return
			}
			due = true
		case <-beats.C:
			if write(conn, beat) != nil {
				return
			}
		case <-ping.C:
			if conn.WriteControl(websocket.PingMessage, nil, time.Now().Add(writeWithin)) != nil {
				return
			}
		}
	}
}

// send sends the latest, and reports whether there was anything to send.
func (f Feed) send(conn *websocket.Conn) (sent bool, err error) {
	data, err := f.Next()
	if err != nil || data == nil {
		return false, err
	}
	return true, write(conn, data)
}

func write(conn *websocket.Conn, data []byte) error {
	_ = conn.SetWriteDeadline(time.Now().Add(writeWithin))
	return conn.WriteMessage(websocket.TextMessage, data)
}
