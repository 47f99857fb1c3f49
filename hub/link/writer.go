package link

import (
	"time"

	"github.com/gorilla/websocket"

	"bellrow/hub/feed"
	"bellrow/proto"
)

// write is the one writer. It ends when the reader has, and makes the reader
// end when the node takes nothing any more or has lost its chair.
func (c *conn) write(w *proto.Welcome, views *feed.Feed[proto.View], stored *feed.Feed[uint64]) {
	if c.send(proto.Message{Type: proto.TypeWelcome, Welcome: w}) != nil {
		c.ws.Close() // ends the reader
		return
	}
	acked := w.Stored
	ping := time.NewTicker(pingEvery)
	defer ping.Stop()
	for {
		var err error
		select {
		case <-c.done:
			c.flush()
			return
		case e := <-c.displaced:
			c.yield(e)
			return
		case m := <-c.out:
			err = c.send(m)
		case _, open := <-views.C():
			if !open {
				c.yield(c.gone())
				return
			}
			v := views.Get()
			err = c.send(proto.Message{Type: proto.TypeView, View: &v})
		case <-stored.C(): // it ends after this connection
			if n := stored.Get(); n > acked {
				acked = n
				err = c.send(proto.Message{Type: proto.TypeAck, Ack: &proto.Ack{Stored: n}})
			}
		case <-c.acked:
			acked = stored.Get()
			err = c.send(proto.Message{Type: proto.TypeAck, Ack: &proto.Ack{Stored: acked}})
		case <-ping.C:
			err = c.ws.WriteControl(websocket.PingMessage, nil, time.Now().Add(writeWithin))
		}
		if err != nil {
			c.ws.Close() // ends the reader
			return
		}
	}
}

// yield ends a connection that follows nothing any more, with a word if e is
// not nil, and waits for the reader.
func (c *conn) yield(e *proto.Error) {
	if e != nil {
		c.send(proto.Message{Type: proto.TypeError, Error: e})
	}
	c.end(proto.CloseReplaced, "the chair is no longer this connection's")
	<-c.done
}

// flush sends what the reader said last, such as why it ended.
func (c *conn) flush() {
	for {
		select {
		case e := <-c.displaced:
			c.yield(e)
			return
		case m := <-c.out:
			if c.send(m) != nil {
				return
			}
		default:
			return
		}
	}
}

func (c *conn) send(m proto.Message) error {
	data, err := proto.Encode(m)
	if err != nil {
		c.server.log.Error("message not sent", "type", m.Type, "err", err)
		return nil // our own fault, not the node's
	}
	c.ws.SetWriteDeadline(time.Now().Add(writeWithin))
	return c.ws.WriteMessage(websocket.TextMessage, data)
}
