package uplink

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"slices"
	"time"

	"github.com/gorilla/websocket"

	"bellrow/node/find"
	"bellrow/proto"
	"bellrow/proto/pake"
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

	line   *line
	keys   *pake.Keys // of a proof, nil with a hub of an older version
	byCode bool       // the proof was about the join code
	sent   uint64     // highest sequence sent on this connection
}

// open reaches a hub by one of its addresses, as far as the hub's own proof.
// Addresses are tried one shortly after the other, since some may be dead, or
// another's; the first that proves right is kept.
func (u *Uplink) open(ctx context.Context, h find.Hub, q *queue, live bool) (*session, *trouble) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	h = u.memory.pinned(h)
	type result struct {
		s *session
		t *trouble
	}
	results := make(chan result)
	next, running := 0, 0
	begin := func() {
		if next == len(h.Addresses) || ctx.Err() != nil {
			return
		}
		address := h.Addresses[next]
		next++
		running++
		go func() {
			s, t := u.openAt(ctx, h, address, q, live)
			results <- result{s, t}
		}()
	}
	tick := time.NewTicker(nextAddress)
	defer tick.Stop()
	var won *session
	var worst *trouble
	for begin(); running > 0; {
		select {
		case <-tick.C:
			begin()
		case r := <-results:
			running--
			switch {
			case r.s != nil && won == nil:
				won = r.s
				cancel()
			case r.s != nil:
				r.s.line.Close()
			default:
				worst = graver(worst, r.t)
				begin()
			}
		}
	}
	if won == nil {
		return nil, cmp.Or(worst, unreachable(h.Name))
	}
	return won, nil
}

// openAt tries one address: by the token, where there is one, and by the code
// where the hub does not know that any more.
func (u *Uplink) openAt(ctx context.Context, h find.Hub, address string, q *queue, live bool) (s *session, t *trouble) {
	for byCode := false; ; byCode = true {
		s = &session{uplink: u, hub: h, queue: q, live: live, byCode: byCode}
		if s.line, t = u.dial(ctx, h, address); t != nil {
			return nil, t
		}
		if t = s.within(ctx, s.introduce); t == nil {
			return s, nil
		}
		if t.code != proto.CodeWrongToken || u.code() == "" || byCode {
			return nil, t
		}
	}
}

// introduce finds out who is there and lets a hub prove itself; only then may
// anything be told.
func (s *session) introduce() *trouble {
	u, l := s.uplink, s.line
	l.SetReadLimit(proto.MaxView)
	if l.hub != "" && s.hub.ID != "" && l.hub != s.hub.ID {
		return otherHub(l.address)
	}
	if l.hub != "" {
		s.hub.ID = l.hub
		if !u.memory.fits(l.hub, s.hub, l) {
			return otherKey(l.address)
		}
	}
	k := u.memory.get(s.hub.ID)
	switch {
	case l.proves:
		return s.prove(k)
	case s.hub.TLS && s.hub.Fingerprint != "":
		return nil // its key is the proof
	case k.Proved:
		return unproven(l.address)
	case u.confirmed(s.hub, l.address) || k.Older && slices.Contains(k.Addresses, l.address):
		return nil
	}
	return older(s.hub.Name, l.address)
}

// prove begins the exchange and checks the hub's part of it.
func (s *session) prove(k known) *trouble {
	secret, by := hashed(k.Token), proto.ByToken
	if k.Token == "" || s.byCode {
		code, err := proto.NormalJoin(s.uplink.code())
		if err != nil {
			return needsCode()
		}
		secret, by, s.byCode = code, proto.ByCode, true
	}
	sid := pake.NewSession()
	party, err := pake.Start([]byte(secret), pake.Channel(s.line.fingerprint), sid)
	if err != nil {
		return unproven(s.line.address).by(err)
	}
	h := s.uplink.config.hello(s.queue.identity())
	h.Prove = &proto.Prove{By: by, Session: base64.RawURLEncoding.EncodeToString(sid), Share: base64.RawURLEncoding.EncodeToString(party.Share())}
	if err := s.write(proto.Message{Type: proto.TypeHello, Hello: h}); err != nil {
		return unreachable(s.line.address).by(err)
	}
	m, t := s.answer(func(m proto.Message) bool { return m.Proof != nil })
	if t != nil {
		return t
	}
	share, err := base64.RawURLEncoding.DecodeString(m.Proof.Share)
	if err == nil {
		s.keys, err = party.Initiator(share, []byte(h.Node+" "+h.Boot), []byte(s.hub.ID))
	}
	var tag []byte
	if err == nil {
		tag, err = base64.RawURLEncoding.DecodeString(m.Proof.Tag)
	}
	switch {
	case err == nil && pake.Equal(tag, s.keys.ResponderTag()):
		return nil
	case !s.byCode: // a hub that was put back to an earlier state, or a false one
		return &trouble{code: proto.CodeWrongToken, message: "this hub does not know this laptop any more",
			hint: "type the join code from the leader's screen"}
	}
	return unproven(s.line.address)
}

// hashed is what the hub keeps of a token.
func hashed(token string) string {
	h := sha256.Sum256([]byte(token))
	return hex.EncodeToString(h[:])
}

// enter ends the hello and waits for the welcome.
func (s *session) enter() *trouble {
	m := proto.Message{Type: proto.TypeProof}
	if s.keys != nil {
		m.Proof = &proto.Proof{Tag: base64.RawURLEncoding.EncodeToString(s.keys.InitiatorTag())}
	} else {
		m.Type, m.Hello = proto.TypeHello, s.uplink.config.hello(s.queue.identity())
		m.Hello.Join, m.Hello.Token = s.uplink.code(), s.uplink.memory.get(s.hub.ID).Token
	}
	if err := s.write(m); err != nil {
		return unreachable(s.line.address).by(err)
	}
	w, t := s.answer(func(m proto.Message) bool { return m.Welcome != nil })
	if t != nil {
		return t
	}
	return s.welcomed(w.Welcome)
}

// answer waits for a message.
func (s *session) answer(is func(proto.Message) bool) (proto.Message, *trouble) {
	s.line.SetReadDeadline(time.Now().Add(handshakeWithin))
	for {
		m, err := s.read()
		switch {
		case errors.Is(err, proto.ErrUnknownType): // of a newer hub
		case err != nil:
			return m, s.lost(err)
		case m.Error != nil:
			return m, s.refused(m.Error)
		case is(m):
			return m, nil
		}
	}
}

func (s *session) refused(e *proto.Error) *trouble {
	return &trouble{code: e.Code, message: e.Message, hint: e.Hint, final: e.Fatal}
}

func (s *session) welcomed(w *proto.Welcome) *trouble {
	u := s.uplink
	if s.hub.ID != "" && w.Hub != s.hub.ID {
		return otherHub(s.line.address)
	}
	if !u.memory.fits(w.Hub, s.hub, s.line) {
		return otherKey(s.line.address)
	}
	if w.Version < proto.MinVersion || w.Version > proto.Version {
		return &trouble{code: proto.CodeVersion, message: "the hub speaks another version of the protocol",
			hint: "update bellrow on both laptops", final: true}
	}
	s.hub.ID = w.Hub
	fits := s.queue.fits(w.Hub, w.Stored)
	s.remember(w, fits)
	if !fits {
		return &trouble{code: codeNumbers} // for settle
	}
	s.acknowledged(w.Stored)
	if s.live {
		u.clock.reset()
		u.outbox.connect(true) // before anybody is told
		u.update(func(st *Status) {
			*st = Status{Phase: Connected, Hub: w.Hub, Section: w.Section, Dropped: st.Dropped}
		})
	}
	return nil
}

// remember keeps what was learnt about the hub.
func (s *session) remember(w *proto.Welcome, fits bool) {
	u := s.uplink
	k := u.memory.get(w.Hub)
	k.ID, k.Name, k.Used = w.Hub, w.Section, u.config.Now()
	k.TLS = k.TLS || s.hub.TLS
	k.Proved = k.Proved || s.keys != nil
	k.Older = !k.Proved
	if s.line.fingerprint != "" {
		k.Fingerprint = s.line.fingerprint
	}
	k.Addresses = []string{s.line.address}
	if s.keys != nil || s.hub.TLS { // of an older hub only what the player confirmed
		for _, a := range s.hub.Addresses {
			if a != s.line.address {
				k.Addresses = append(k.Addresses, a)
			}
		}
	}
	switch {
	case w.Token != "":
		k.Token = w.Token
	case s.keys != nil && s.byCode:
		k.Token = s.keys.Token()
	}
	boot := s.queue.identity()
	if k.Boot != boot {
		s.queue.forgetRounds() // they may be another hub's
	}
	if s.live && fits {
		k.Boot = boot
	}
	if err := u.memory.put(k); err != nil {
		u.config.Log.Warn("known hubs not saved", "err", err)
	}
}

// settle enters. A hub that cannot take the queue's numbers gets others, on a
// new connection.
func (s *session) settle(ctx context.Context) (*session, *trouble) {
	t := s.within(ctx, s.enter)
	if t == nil || t.code != codeNumbers {
		return s, t
	}
	if err := s.queue.renumber(); err != nil {
		s.uplink.config.Log.Warn("readings not saved under new numbers", "err", err)
	}
	if s, t = s.uplink.open(ctx, s.hub, s.queue, s.live); t != nil {
		return nil, t
	}
	return s, s.within(ctx, s.enter)
}

// within does something on the line that the end of ctx breaks off; where it
// fails, the line is closed.
func (s *session) within(ctx context.Context, do func() *trouble) *trouble {
	stop := context.AfterFunc(ctx, func() { s.line.Close() }) // a deadline might be set anew
	t := do()
	if !stop() && t == nil {
		t = unreachable(s.line.address).by(ctx.Err())
	}
	if t != nil {
		s.line.Close()
	}
	return t
}

// stay serves a session that has settled, until the connection or ctx ends.
func (s *session) stay(ctx context.Context) *trouble {
	defer s.line.Close()
	if s.live {
		defer s.uplink.outbox.connect(false)
	}
	return s.serve(ctx)
}

// serve sends what waits and takes in what comes.
func (s *session) serve(ctx context.Context) *trouble {
	ended := make(chan *trouble, 1)
	s.line.SetReadDeadline(time.Now().Add(silence))
	s.line.SetPingHandler(func(data string) error {
		s.line.SetReadDeadline(time.Now().Add(silence))
		return s.line.WriteControl(websocket.PongMessage, []byte(data), time.Now().Add(writeWithin))
	})
	received := make(chan struct{})
	go func() {
		defer close(received)
		ended <- s.receive()
	}()
	t := s.transmit(ctx, ended)
	s.line.WriteControl(websocket.CloseMessage,
		websocket.FormatCloseMessage(websocket.CloseNormalClosure, ""), time.Now().Add(time.Second))
	s.line.Close() // ends receive
	<-received
	return t
}

// transmit is the one writer. It returns nil when ctx ends, when the player
// changed something, or when an old boot is delivered; otherwise what went
// wrong, here or for receive.
func (s *session) transmit(ctx context.Context, ended <-chan *trouble) *trouble {
	u := s.uplink
	ping := time.NewTimer(0)
	defer ping.Stop()
	pings := 0
	look := time.NewTicker(lookEvery)
	defer look.Stop()
	for {
		if err := s.flush(); err != nil {
			return unreachable(s.line.address).by(err)
		}
		var drained <-chan struct{}
		if !s.live {
			drained = s.queue.drained()
		}
		select {
		case <-ctx.Done():
			return nil
		case <-drained:
			return nil
		case t := <-ended:
			return t
		case <-u.kick:
			u.again() // for Run to see, too
			return nil
		case <-u.wake:
			if u.clock.due(u.config.Now()) {
				ping.Reset(0)
			}
		case <-look.C:
			if gone(s.line.LocalAddr()) {
				return unreachable(s.line.address).by(errRoamed)
			}
		case <-ping.C:
			pings++
			ping.Reset(pause(pings))
			if err := s.ping(); err != nil {
				return unreachable(s.line.address).by(err)
			}
		}
	}
}

// ping asks the hub for its clock.
func (s *session) ping() error {
	u := s.uplink
	return s.write(proto.Message{Type: proto.TypePing, Ping: u.clock.ping(u.start, u.config.Now())})
}

// flush sends everything that waits.
func (s *session) flush() error {
	if s.live {
		out, settings := s.uplink.outbox.take(s.uplink.clock.coming())
		for _, m := range out {
			if err := s.write(m); err != nil {
				return err
			}
		}
		if settings { // its answer tells that they are there
			if err := s.ping(); err != nil {
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
			if s.live {
				u.outbox.answered(m.Pong.ID)
			}
		case proto.TypeError:
			if m.Error.Fatal || m.Error.Code == proto.CodeSection {
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
