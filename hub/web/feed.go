package web

import (
	"context"
	"encoding/json"
	"net/http"
	"time"

	"github.com/gorilla/websocket"
)

// DefaultFeedEvery spaces rows: ten a second is more than anybody reads.
const DefaultFeedEvery = 100 * time.Millisecond

// Limits of a viewer's socket.
const (
	// feedWrite is how long one row may take to leave. A viewer that takes
	// longer is dropped; its page comes back by itself with the latest row.
	feedWrite = 5 * time.Second
	// feedPing and feedPong find viewers that went away without a word.
	feedPing = 5 * time.Second
	feedPong = 15 * time.Second
	// maxViewers is more screens than a building has. Anybody on the network
	// may watch, and each viewer costs the hub a row, ten times a second. The
	// leader always gets in.
	maxViewers = 64
	// feedRead bounds what a viewer may send, which is nothing.
	feedRead = 512
)

// The guard has checked Host and Origin before the upgrade.
var upgrader = websocket.Upgrader{
	ReadBufferSize: 512, WriteBufferSize: 16 << 10,
	CheckOrigin: func(*http.Request) bool { return true },
}

// getRow answers with the present board.
func (s *Server) getRow(w http.ResponseWriter, r *http.Request) {
	writeJSON(w, http.StatusOK, s.board(s.seesNames(r)))
}

// seesNames reports whether this viewer may see players' names: the leader
// on the row always, everybody else as the leader chose.
func (s *Server) seesNames(r *http.Request) bool {
	leader := s.guard.IsLeader(r) && r.URL.Query().Get("for") != "wall"
	return leader || !s.hub.Section().HideNames
}

func (s *Server) board(names bool) Board {
	b := NewBoard(s.hub.Row(), s.hub.Section())
	if !names {
		b.HideNames()
	}
	return b
}

// watchRow is a viewer's socket: it sends the whole board, at most one each
// FeedEvery, always the latest. There is no queue to fall behind on.
func (s *Server) watchRow(w http.ResponseWriter, r *http.Request) {
	defer s.viewers.Add(-1)
	if s.viewers.Add(1) > maxViewers && !s.guard.IsLeader(r) {
		http.Error(w, "too many screens watch already", http.StatusServiceUnavailable)
		return
	}
	conn, err := upgrader.Upgrade(w, r, nil)
	if err != nil {
		return // Upgrade has answered
	}
	ctx, cancel := context.WithCancel(r.Context())
	gone := make(chan struct{})
	go func() {
		defer close(gone)
		defer cancel()
		readNothing(conn)
	}()
	s.pushRows(ctx, conn, r)
	conn.Close()
	<-gone
}

// readNothing reads until the peer goes: it answers pings and feeds the deadline.
func readNothing(conn *websocket.Conn) {
	conn.SetReadLimit(feedRead)
	alive := func(string) error { return conn.SetReadDeadline(time.Now().Add(feedPong)) }
	_ = alive("")
	conn.SetPongHandler(alive)
	for {
		if _, _, err := conn.ReadMessage(); err != nil {
			return
		}
	}
}

func (s *Server) pushRows(ctx context.Context, conn *websocket.Conn, r *http.Request) {
	feed := s.hub.Watch()
	defer feed.Close()
	ping := time.NewTicker(feedPing)
	defer ping.Stop()
	pace := time.NewTimer(0)
	defer pace.Stop()
	due, ready := true, false
	for {
		if due && ready {
			due, ready = false, false
			if s.pushRow(conn, r) != nil {
				return
			}
			pace.Reset(s.feedEvery)
		}
		select {
		case <-ctx.Done():
			return
		case <-pace.C:
			ready = true
		case _, open := <-feed.C():
			if !open {
				return
			}
			due = true
		case <-ping.C:
			if conn.WriteControl(websocket.PingMessage, nil, time.Now().Add(feedWrite)) != nil {
				return
			}
		}
	}
}

// drawn is a board as it is sent, kept for all viewers of the same version.
type drawn struct {
	version uint64
	data    []byte
}

// drawnRow returns the present board as JSON, laid out once for all viewers
// who see the same of it.
func (s *Server) drawnRow(names bool) ([]byte, error) {
	s.drawing.Lock()
	defer s.drawing.Unlock()
	row := s.hub.Row()
	if d := s.drawn[names]; d.data != nil && d.version == row.Version {
		return d.data, nil
	}
	b := NewBoard(row, s.hub.Section())
	if !names {
		b.HideNames()
	}
	data, err := json.Marshal(b)
	if err == nil {
		s.drawn[names] = drawn{row.Version, data}
	}
	return data, err
}

func (s *Server) pushRow(conn *websocket.Conn, r *http.Request) error {
	data, err := s.drawnRow(s.seesNames(r))
	if err != nil {
		s.log.Error("row cannot be written", "err", err)
		return err
	}
	_ = conn.SetWriteDeadline(time.Now().Add(feedWrite))
	return conn.WriteMessage(websocket.TextMessage, data)
}
