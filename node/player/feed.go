package player

import (
	"bytes"
	"context"
	"encoding/json"
	"net/http"
	"time"

	"github.com/gorilla/websocket"
)

// Limits of the page's socket.
const (
	feedEvery = 30 * time.Millisecond // an answer must not wait behind a change of level
	feedWrite = 5 * time.Second
	feedPing  = 5 * time.Second
	feedPong  = 15 * time.Second
	feedRead  = 512 // the page sends nothing
)

// Host and Origin are checked before the upgrade.
var upgrader = websocket.Upgrader{CheckOrigin: func(*http.Request) bool { return true }}

// watch pushes the sheet whenever it reads differently, at most once each
// feedEvery, always the latest.
func (s *Server) watch(w http.ResponseWriter, r *http.Request) {
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
	s.push(ctx, conn)
	conn.Close()
	<-gone
}

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

func (s *Server) push(ctx context.Context, conn *websocket.Conn) {
	changed := make(chan struct{}, 1)
	changed <- struct{}{}
	s.mu.Lock()
	s.viewers[changed] = struct{}{}
	s.mu.Unlock()
	defer func() {
		s.mu.Lock()
		delete(s.viewers, changed)
		s.mu.Unlock()
	}()
	ping := time.NewTicker(feedPing)
	defer ping.Stop()
	pace := time.NewTimer(0)
	defer pace.Stop()
	var last []byte
	due, ready := false, false
	for {
		if due && ready {
			due, ready = false, false
			data, err := json.Marshal(s.sheet())
			if err != nil {
				s.log.Error("page cannot be written", "err", err)
				return
			}
			if !bytes.Equal(data, last) {
				_ = conn.SetWriteDeadline(time.Now().Add(feedWrite))
				if conn.WriteMessage(websocket.TextMessage, data) != nil {
					return
				}
				last = data
			}
			pace.Reset(feedEvery)
		}
		select {
		case <-ctx.Done():
			return
		case <-pace.C:
			ready = true
		case <-changed:
			due = true
		case <-ping.C:
			if conn.WriteControl(websocket.PingMessage, nil, time.Now().Add(feedWrite)) != nil {
				return
			}
		}
	}
}
