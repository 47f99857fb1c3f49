package uplink

import (
	"context"
	"errors"
	"time"

	"github.com/gorilla/websocket"

	"bellrow/node/find"
	"bellrow/proto"
)

// Timing of a connection.
const (
	// silence is how long the hub may say nothing at all: three of its pings,
	// which come every 5 s.
	silence = 15 * time.Second
	// writeWithin ends a connection whose other side takes nothing any more.
	writeWithin = 10 * time.Second
	// batch is how many readings are sent before looking at anything else.
	batch = 32
)

// session is one connection to one hub on behalf of one queue.
type session struct {
	uplink *Uplink
	hub    find.Hub
	queue  *queue
	live   bool // this start of the node, rather than one that left readings behind

	line *line
	sent uint64 // highest sequence sent on this connection
}

// run connects, says hello, and serves until the connection or ctx ends.
// served is true once the hub has welcomed the node. A hub that cannot take
// the queue's numbers gets others, on a new connection.
func (s *session) run(ctx context.Context) (served bool, t *trouble) {
	served, t = s.once(ctx)
	if t == nil || t.code != codeNumbers {
		return served, t
	}
	if err := s.queue.renumber(); err != nil {
		s.uplink.config.Log.Warn("readings not saved under new numbers", "err", err)
	}
	return s.once(ctx)
}

func (s *session) once(ctx context.Context) (served bool, t *trouble) {
	u := s.uplink
	u.update(func(st *Status) {
		if st.Phase != Refused {
			st.Phase = Connecting
		}
	})
	if s.line, t = dial(ctx, s.hub); t != nil {
		return false, t
	}
	defer s.line.Close()
	stop := context.AfterFunc(ctx, func() { s.line.SetReadDeadline(time.Unix(1, 0)) })
	defer stop()
	s.line.SetReadLimit(proto.MaxView)
	if t := s.hello(); t != nil {
		return false, t
	}
	if s.live {
		defer u.outbox.connect(false)
	}
	return true, s.serve(ctx)
}

// hello introduces the node and waits for the welcome.
func (s *session) hello() *trouble {
	u := s.uplink
	k := u.memory.get(s.hub.ID)
	h := u.config.hello(s.queue.identity())
	u.mu.Lock()
	h.Join = u.join
	u.mu.Unlock()
	h.Token = k.Token
	if err := s.write(proto.Message{Type: proto.TypeHello, Hello: h}); err != nil {
		return unreachable(s.line.address).by(err)
	}
	s.line.SetReadDeadline(time.Now().Add(handshakeWithin))
	for {
		m, err := s.read()
		switch {
		case errors.Is(err, proto.ErrUnknownType):
			continue
		case err != nil:
			return s.lost(err)
		case m.Error != nil:
			return s.refused(m.Error)
		case m.Welcome != nil:
			return s.welcomed(m.Welcome)
		}
	}
}

func (s *session) refused(e *proto.Error) *trouble {
	if e.Code == proto.CodeWrongToken {
		if err := s.uplink.memory.forgetToken(s.hub.ID); err != nil {
			s.uplink.config.Log.Warn("known hubs not saved", "err", err)
		}
	}
	return &trouble{code: e.Code, message: e.Message, hint: e.Hint, final: e.Fatal}
}

func (s *session) welcomed(w *proto.Welcome) *trouble {
	u := s.uplink
	if s.hub.ID != "" && w.Hub != s.hub.ID {
		return &trouble{code: "other-hub", message: "another hub answers at " + s.line.address,
			hint: "compare the address with the leader's screen"}
	}
	if w.Version < proto.MinVersion || w.Version > proto.Version {
		return &trouble{code: proto.CodeVersion, message: "the hub speaks another version of the protocol",
			hint: "update bellrow on both laptops", final: true}
	}
	k := u.memory.get(w.Hub)
	k.ID, k.Name, k.TLS, k.Fingerprint = w.Hub, w.Section, s.hub.TLS, s.line.fingerprint
	k.Used = u.config.Now()
	k.Addresses = []string{s.line.address}
	for _, a := range s.hub.Addresses {
		if a != s.line.address {
			k.Addresses = append(k.Addresses, a)
		}
	}
	if w.Token != "" {
		k.Token = w.Token
	}
	fits := s.queue.fits(w.Hub, w.Stored)
	switch boot := s.queue.identity(); {
	case s.live && fits:
		k.Boot = boot
	case k.Boot != boot:
		s.queue.forgetRounds() // they may be another hub's
	}
	if err := u.memory.put(k); err != nil {
		u.config.Log.Warn("known hubs not saved", "err", err)
	}
	if !fits {
		return &trouble{code: codeNumbers, message: "this hub has not got this laptop's earlier readings",
			hint: "it is tried again in a moment"}
	}
	s.acknowledged(w.Stored)
	s.sent = w.Stored
	if s.live {
		u.clock.reset()
		u.outbox.connect(true) // before anybody is told
		u.update(func(st *Status) {
			*st = Status{Phase: Connected, Hub: w.Hub, Section: w.Section, Dropped: st.Dropped}
		})
	}
	return nil
}

// serve sends what waits and takes in what comes.
func (s *session) serve(ctx context.Context) *trouble {
	ended := make(chan *trouble, 1)
	s.line.SetReadDeadline(time.Now().Add(silence))
	s.line.SetPingHandler(func(data string) error {
		s.line.SetReadDeadline(time.Now().Add(silence))
		err := s.line.WriteControl(websocket.PongMessage, []byte(data), time.Now().Add(writeWithin))
		if errors.Is(err, websocket.ErrCloseSent) {
			return nil
		}
		return err
	})
	go func() { ended <- s.receive() }()
	t, over := s.transmit(ctx, ended)
	s.line.WriteControl(websocket.CloseMessage,
		websocket.FormatCloseMessage(websocket.CloseNormalClosure, ""), time.Now().Add(time.Second))
	s.line.Close() // ends receive
	if !over {
		<-ended // only what the closing itself led to
	}
	return t
}

// transmit is the one writer. It returns nil when ctx ends, when the player
// changed something, or when an old boot is delivered; otherwise what went
// wrong. over is true if that was receive's to say, which then has ended.
func (s *session) transmit(ctx context.Context, ended <-chan *trouble) (t *trouble, over bool) {
	u := s.uplink
	ping := time.NewTimer(0)
	defer ping.Stop()
	pings := 0
	look := time.NewTicker(lookEvery)
	defer look.Stop()
	for {
		if err := s.flush(); err != nil {
			return unreachable(s.line.address).by(err), false
		}
		var drained <-chan struct{}
		if !s.live {
			drained = s.queue.drained()
		}
		select {
		case <-ctx.Done():
			return nil, false
		case <-drained:
			return nil, false
		case t := <-ended:
			if ctx.Err() != nil {
				t = nil // the deadline that ended it was set for that
			}
			return t, true
		case <-u.kick:
			u.again() // for Run to see, too
			return nil, false
		case <-u.wake:
		case <-look.C:
			if gone(s.line.LocalAddr()) {
				return unreachable(s.line.address).by(errRoamed), false
			}
		case <-ping.C:
			pings++
			ping.Reset(pause(pings))
			p := u.clock.ping(u.start, u.config.Now())
			if err := s.write(proto.Message{Type: proto.TypePing, Ping: p}); err != nil {
				return unreachable(s.line.address).by(err), false
			}
		}
	}
}

// flush sends everything that waits.
func (s *session) flush() error {
	if s.live {
		out := s.uplink.outbox.take()
		for i, m := range out {
			if err := s.write(m); err != nil {
				s.uplink.outbox.putBack(out[i:])
				return err
			}
		}
	}
	for {
		rs := s.queue.after(s.sent, batch)
		if len(rs) == 0 {
			return nil
		}
		for i := range rs {
			if err := s.write(proto.Message{Type: proto.TypeReading, Reading: &rs[i]}); err != nil {
				return err
			}
			s.sent = rs[i].Sequence
		}
	}
}

// receive takes messages until the connection ends.
func (s *session) receive() *trouble {
	u := s.uplink
	for {
		m, err := s.read()
		switch {
		case errors.Is(err, proto.ErrUnknownType), errors.Is(err, proto.ErrInvalid):
			continue // a newer hub may say more than is understood here
		case err != nil:
			return s.lost(err)
		}
		s.line.SetReadDeadline(time.Now().Add(silence))
		switch m.Type {
		case proto.TypeAck:
			s.acknowledged(m.Ack.Stored)
		case proto.TypeView:
			if s.live {
				u.setView(*m.View)
			}
		case proto.TypePong:
			u.clock.pong(m.Pong, u.start, u.config.Now())
		case proto.TypeError:
			if m.Error.Fatal {
				return s.refused(m.Error)
			}
			u.config.Log.Warn("the hub complains", "code", m.Error.Code, "message", m.Error.Message)
		}
	}
}

func (s *session) acknowledged(stored uint64) {
	if err := s.queue.acknowledge(stored); err != nil {
		s.uplink.config.Log.Warn("spool not emptied", "err", err)
	}
}

// lost words the end of a connection. A close by the hub is no trouble for
// the player: the next attempt tells more.
func (s *session) lost(err error) *trouble {
	var closed *websocket.CloseError
	if errors.As(err, &closed) && closed.Code != websocket.CloseAbnormalClosure {
		return &trouble{code: "closed", message: "the hub ended the connection", hint: "it is tried again in a moment"}
	}
	return unreachable(s.line.address).by(err)
}

func (s *session) read() (proto.Message, error) {
	kind, data, err := s.line.ReadMessage()
	if err != nil {
		return proto.Message{}, err
	}
	if kind != websocket.TextMessage {
		return proto.Message{}, proto.ErrUnknownType
	}
	return proto.Decode(data)
}

// write sends one message. A message that cannot be encoded is our own fault:
// it is logged and left out, and the line goes on.
func (s *session) write(m proto.Message) error {
	data, err := proto.Encode(m)
	if err != nil {
		s.uplink.config.Log.Error("message not sent", "type", m.Type, "err", err)
		return nil
	}
	s.line.SetWriteDeadline(time.Now().Add(writeWithin))
	return s.line.WriteMessage(websocket.TextMessage, data)
}
