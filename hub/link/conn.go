package link

import (
	"context"
	"errors"
	"net"
	"net/http"
	"slices"
	"sync"
	"sync/atomic"
	"time"
	"unicode/utf8"

	"github.com/gorilla/websocket"

	"bellrow/hub"
	"bellrow/proto"
)

// Limits on one node's talk. A node sends up to 10 messages a second while it
// plays in a chord; after an outage it resends up to hundreds of readings.
const (
	maxBad        = 10                    // bad messages before the connection ends
	burstMessages = 200                   // read at once,
	perMessage    = 20 * time.Millisecond // then one each
	// maxUndelivered readings may wait for the disk before the node is read no
	// further.
	maxUndelivered = 16
)

// conn is one node's connection.
type conn struct {
	server  *Server
	ws      *websocket.Conn
	request *http.Request
	remote  string

	node    string
	boot    string
	section int64
	chair   hub.ChairID

	readings chan proto.Reading // to be delivered, in order
	out      chan proto.Message // pongs and errors
	acked    chan struct{}      // a reading was delivered: acknowledge, even again
	done     chan struct{}      // closed when the reader has ended
	// displaced tells the writer that another connection speaks for the node,
	// and what to say about it, if anything.
	displaced chan *proto.Error
	ending    atomic.Bool // the close has been sent; no more patience
}

func newConn(s *Server, r *http.Request) *conn {
	return &conn{
		server: s, request: r, remote: r.RemoteAddr,
		readings: make(chan proto.Reading, maxUndelivered),
		out:      make(chan proto.Message, 8), acked: make(chan struct{}, 1), done: make(chan struct{}),
		displaced: make(chan *proto.Error, 1),
	}
}

// serve is the whole life of the connection.
func (c *conn) serve(ctx context.Context) {
	c.ws.SetReadLimit(proto.MaxTrack)
	hello, ok := c.hello()
	if !ok {
		return
	}
	joined, token, refusal := c.admit(ctx, hello)
	if refusal != nil {
		c.refuse(refusal)
		return
	}
	views, stored := c.server.hub.Follow(c.chair), c.server.hub.FollowStored(c.node, c.boot)
	defer views.Close()
	defer stored.Close()
	written := make(chan struct{})
	welcome := &proto.Welcome{
		Version: min(hello.Version, proto.Version), Hub: c.server.hub.ID(),
		Section: joined.Section, Chair: chairID(c.chair), Token: token, Stored: joined.Stored,
	}
	go func() {
		defer close(written)
		c.write(welcome, views, stored)
	}()
	delivered := make(chan struct{})
	go func() {
		defer close(delivered)
		for r := range c.readings {
			c.deliver(ctx, r)
		}
	}()
	c.read(ctx)
	close(c.readings)
	<-delivered
	close(c.done)
	<-written
}

// deliver hands a reading to the hub and waits for the commit.
func (c *conn) deliver(ctx context.Context, r proto.Reading) {
	if err := c.server.hub.Deliver(ctx, c.chair, c.node, c.boot, r); err != nil {
		c.server.log.Warn("reading not stored", "chair", c.chair, "seq", r.Sequence, "err", err)
		return // the stored feed acknowledges it when it is
	}
	select {
	case c.acked <- struct{}{}:
	default:
	}
}

// hello waits for a valid first message.
func (c *conn) hello() (*proto.Hello, bool) {
	c.ws.SetReadDeadline(time.Now().Add(helloWithin))
	m, err := c.next()
	if err == nil && m.Hello != nil {
		return m.Hello, true
	}
	var late net.Error
	if !ended(err) || errors.As(err, &late) && late.Timeout() {
		c.end(proto.CloseHello, "say hello first")
	}
	return nil, false
}

// errKind is a frame that is no text, errText one that is no UTF-8.
var (
	errKind = errors.New("link: not a text message")
	errText = errors.New("link: not UTF-8")
)

// next reads one message.
func (c *conn) next() (proto.Message, error) {
	kind, data, err := c.ws.ReadMessage()
	if err != nil {
		return proto.Message{}, &lineError{err}
	}
	if kind != websocket.TextMessage {
		return proto.Message{}, errKind
	}
	if !utf8.Valid(data) {
		return proto.Message{}, errText
	}
	return proto.Decode(data)
}

// lineError is the end of the connection, rather than a fault in a message.
type lineError struct{ error }

func (e *lineError) Unwrap() error { return e.error }

func ended(err error) bool {
	var l *lineError
	return errors.As(err, &l)
}

// read takes in what the node says until the connection ends.
func (c *conn) read(ctx context.Context) {
	c.alive()
	heard := sync.OnceFunc(func() { c.server.heard(c.node) })
	c.ws.SetPongHandler(func(string) error { heard(); c.alive(); return nil })
	bad, pace := 0, pacer{}
	for {
		m, err := c.next()
		switch {
		case err == nil && m.Type.FromNode() && m.Hello == nil && m.Proof == nil:
			heard()
			c.alive()
			c.take(ctx, m)
		case ended(err):
			return
		case errors.Is(err, proto.ErrUnknownType):
			c.alive() // a newer node may say more than is understood here
		case errors.Is(err, errKind):
			c.end(websocket.CloseUnsupportedData, "text messages only")
			return
		case errors.Is(err, errText):
			c.end(websocket.CloseInvalidFramePayloadData, "not UTF-8")
			return
		default:
			if bad++; bad >= maxBad {
				c.end(proto.CloseBad, "too many messages that were not understood")
				return
			}
			c.say(&proto.Error{Code: proto.CodeBadMessage, Message: "a message was not understood and left out"})
		}
		pace.wait()
	}
}

// alive gives the node another while, unless its connection is ending.
func (c *conn) alive() {
	if !c.ending.Load() {
		c.ws.SetReadDeadline(time.Now().Add(silence))
	}
}

// take hands one message to the hub.
func (c *conn) take(ctx context.Context, m proto.Message) {
	h := c.server.hub
	if !c.server.speaks(c) && m.Type != proto.TypeReading {
		return // another connection speaks for this node by now
	}
	switch m.Type {
	case proto.TypeReading:
		c.readings <- *m.Reading // a commit may take its time; the rest need not wait
	case proto.TypeState:
		h.State(c.chair, *m.State)
	case proto.TypeSetting:
		if err := h.Setting(ctx, c.chair, *m.Setting); err != nil {
			c.server.log.Warn("setting not taken", "chair", c.chair, "err", err)
		}
	case proto.TypeTrack:
		h.Track(c.chair, *m.Track)
	case proto.TypePing:
		p := &proto.Pong{ID: m.Ping.ID, Sent: m.Ping.Sent, At: h.Seconds()}
		h.Clock(c.chair, *m.Ping)
		c.queue(proto.Message{Type: proto.TypePong, Pong: p})
	}
}

func (c *conn) say(e *proto.Error) { c.queue(proto.Message{Type: proto.TypeError, Error: e}) }

// queue hands m to the writer, or drops it when that is behind.
func (c *conn) queue(m proto.Message) {
	select {
	case c.out <- m:
	default:
	}
}

// end starts the closing handshake and makes the reader end. It may be called
// from any goroutine.
func (c *conn) end(code int, why string) {
	c.ending.Store(true)
	c.ws.WriteControl(websocket.CloseMessage, websocket.FormatCloseMessage(code, why), time.Now().Add(time.Second))
	c.ws.SetReadDeadline(time.Now().Add(time.Second)) // time for the answer
}

// replaced ends a connection whose node has connected anew. Another start of
// the node means that two programs use one identity, or that this one is dead:
// either way it must not come back by itself and start a tug-of-war.
func (c *conn) replaced(byAnotherStart bool) {
	var e *proto.Error
	if byAnotherStart {
		e = replacedError
	}
	select {
	case c.displaced <- e: // the writer says it
	default:
	}
}

// gone says why the hub has ended what the node follows.
func (c *conn) gone() *proto.Error {
	section := c.server.hub.Section()
	switch {
	case section.ID != c.section:
		return &proto.Error{Code: proto.CodeSection, Message: "the leader has opened another section: " + section.Name,
			Hint: "this laptop goes along by itself"}
	case !slices.ContainsFunc(section.Chairs, func(ch hub.Chair) bool { return ch.ID == c.chair }):
		return removedError
	}
	return replacedError
}

// removedError has the code of an older error: nodes of earlier versions know
// that they must not come back by themselves.
var removedError = &proto.Error{
	Code: proto.CodeReplaced, Message: "the leader has taken this chair out of the section",
	Hint: "if that was not meant, sit down again with the join code", Fatal: true,
}

var replacedError = &proto.Error{
	Code: proto.CodeReplaced, Message: "another laptop has taken this chair",
	Hint: "if that was not meant, join again: the leader is asked who sits here; or give another name", Fatal: true,
}

// pacer slows a node down that talks too fast.
type pacer struct {
	left float64
	at   time.Time
}

func (p *pacer) wait() {
	now := time.Now()
	if p.at.IsZero() {
		p.left = burstMessages
	} else {
		p.left = min(burstMessages, p.left+float64(now.Sub(p.at))/float64(perMessage))
	}
	p.at = now
	if p.left--; p.left < 0 {
		time.Sleep(time.Duration(-p.left * float64(perMessage)))
	}
}
