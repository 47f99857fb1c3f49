package link

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/gorilla/websocket"

	"bellrow/hub"
	"bellrow/hub/access"
	"bellrow/proto"
)

// These tests run in a bubble, whose clock goes on when nobody has anything to do: what takes
// a minute takes no time, and exactly a minute, however busy the machine.

// pipes is a network within the bubble. A pipe holds nothing: a write waits for its reader.
type pipes struct {
	conns chan net.Conn
	ended chan struct{}
	end   func()
}

func newPipes() *pipes {
	p := &pipes{conns: make(chan net.Conn), ended: make(chan struct{})}
	p.end = sync.OnceFunc(func() { close(p.ended) })
	return p
}

func (p *pipes) Accept() (net.Conn, error) {
	select {
	case c := <-p.conns:
		return c, nil
	case <-p.ended:
		return nil, net.ErrClosed
	}
}

func (p *pipes) Close() error   { p.end(); return nil }
func (p *pipes) Addr() net.Addr { return pipeAddr{} }

type pipeAddr struct{}

func (pipeAddr) Network() string { return "pipe" }
func (pipeAddr) String() string  { return "192.0.2.7:1" } // RFC 5737: for documentation

// ofPipe is a pipe with an address.
type ofPipe struct{ net.Conn }

func (ofPipe) RemoteAddr() net.Addr { return pipeAddr{} }

// hall is a bench whose network is in the bubble.
type hall struct {
	*bench
	pipes *pipes
}

func inBubble(t *testing.T, do func(h *hall)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		b := newHub(t, nil)
		h := &hall{bench: b, pipes: newPipes()}
		srv := &http.Server{Handler: b.server}
		done := make(chan error)
		go func() { done <- srv.Serve(h.pipes) }()
		do(h)
		b.server.Close()
		srv.Close()
		<-done
	})
}

// guest is a node in the bubble that takes in all that comes, as soon as it does.
type guest struct {
	*hall
	ws *websocket.Conn

	mu    sync.Mutex
	heard []proto.Message
	pings int
	code  int           // of the close
	gone  time.Duration // from the dialling to the end
	ended chan struct{}
}

// dial lets somebody in; who is deaf reads nothing, who is mute answers no pings.
func (h *hall) dial(deaf, mute bool) *guest {
	h.Helper()
	g := &guest{hall: h, ended: make(chan struct{})}
	began := time.Now()
	d := websocket.Dialer{NetDialContext: func(context.Context, string, string) (net.Conn, error) {
		here, there := net.Pipe()
		h.pipes.conns <- ofPipe{there}
		return here, nil
	}}
	var err error
	if g.ws, _, err = d.Dial("ws://127.0.0.1/", nil); err != nil {
		h.Fatal(err)
	}
	h.Cleanup(func() { g.ws.Close() })
	pong := g.ws.PingHandler()
	g.ws.SetPingHandler(func(data string) error {
		g.mu.Lock()
		g.pings++
		g.mu.Unlock()
		if mute {
			return nil
		}
		return pong(data)
	})
	if deaf {
		return g
	}
	go func() {
		defer close(g.ended)
		for {
			_, data, err := g.ws.ReadMessage()
			g.mu.Lock()
			if err != nil {
				var c *websocket.CloseError
				if errors.As(err, &c) {
					g.code = c.Code
				}
				g.gone = time.Since(began)
				g.mu.Unlock()
				return
			}
			m, err := proto.Decode(data)
			if err != nil {
				g.Error(err)
			}
			g.heard = append(g.heard, m)
			g.mu.Unlock()
		}
	}()
	return g
}

func (g *guest) say(text string) {
	if err := g.ws.WriteMessage(websocket.TextMessage, []byte(text)); err != nil {
		g.Logf("write: %v", err)
	}
}

func (g *guest) join(node string) {
	g.say(fmt.Sprintf(`{"type":"hello","hello":{"version":1,"node":%q,"boot":"b","chair":%q,"instrument":"horn_f","join":%q}}`, node, "chair "+node, g.hub.JoinCode()))
	synctest.Wait()
	if g.last(proto.TypeWelcome) == nil {
		g.Fatalf("not welcome: %+v", g.heard)
	}
}

// last is the last message of a type, nil for none.
func (g *guest) last(kind proto.Type) *proto.Message {
	g.mu.Lock()
	defer g.mu.Unlock()
	for i := len(g.heard) - 1; i >= 0; i-- {
		if g.heard[i].Type == kind {
			return &g.heard[i]
		}
	}
	return nil
}

// is reports how the connection stands.
func (g *guest) is() (pings, code int, gone time.Duration) {
	synctest.Wait()
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.pings, g.code, g.gone
}

// TestWhoSaysNoHelloIsSentAway: a stranger has helloWithin, and no more for half of one.
func TestWhoSaysNoHelloIsSentAway(t *testing.T) {
	inBubble(t, func(h *hall) {
		g := h.dial(false, false)
		time.Sleep(helloWithin - 1)
		if _, code, gone := g.is(); code != 0 || gone != 0 {
			t.Fatalf("sent away with %d after %v", code, gone)
		}
		<-g.ended
		if _, code, gone := g.is(); code != proto.CloseHello || gone != helloWithin {
			t.Errorf("sent away with %d after %v, want %d after %v", code, gone, proto.CloseHello, helloWithin)
		}
		if n := h.server.Nodes(); n != 0 {
			t.Errorf("%d nodes", n)
		}
	})
}

// TestWhoAnswersStays: a node that says nothing but answers the hub's pings stays, and is asked
// each pingEvery; one that answers none is gone after silence, and whatever it says, understood
// or not, gives it as long again.
func TestWhoAnswersStays(t *testing.T) {
	inBubble(t, func(h *hall) {
		quiet, mute, talks := h.dial(false, false), h.dial(false, true), h.dial(false, true)
		quiet.join("quiet")
		mute.join("mute")
		talks.join("talks")
		said := 0
		for _, text := range []string{
			`{"type":"ping","ping":{"id":1,"sent_s":1}}`, `{"type":"applause","applause":{"loud":true}}`,
			`{"type":"state","state":{"state":"quiet","level_dbfs":-60}}`, `{"type":"setting","setting":{"slide":"main","mm":3}}`,
		} {
			time.Sleep(silence - time.Second)
			talks.say(text)
			said++
			if _, _, gone := talks.is(); gone != 0 {
				t.Fatalf("%s: gone after %v", text, gone)
			}
		}
		whole := time.Duration(said)*(silence-time.Second) + silence
		<-talks.ended
		if _, _, gone := talks.is(); gone != whole {
			t.Errorf("who spoke %d times is gone after %v, want %v", said, gone, whole)
		}
		if _, _, gone := mute.is(); gone != silence {
			t.Errorf("who answers nothing is gone after %v, want %v", gone, silence)
		}
		if pings, code, gone := quiet.is(); code != 0 || gone != 0 || pings != int(whole/pingEvery) {
			t.Errorf("who answers was asked %d times and gone with %d after %v, want %d", pings, code, gone, whole/pingEvery)
		}
		if n := h.server.Nodes(); n != 1 {
			t.Errorf("%d nodes, want 1", n)
		}
	})
}

// TestWhoTakesNothingIsGone: a node that reads nothing holds its place no longer than one ping
// waits to be taken.
func TestWhoTakesNothingIsGone(t *testing.T) {
	inBubble(t, func(h *hall) {
		g := h.dial(true, false)
		g.say(fmt.Sprintf(`{"type":"hello","hello":{"version":1,"node":"deaf","boot":"b","chair":"x","instrument":"horn_f","join":%q}}`, h.hub.JoinCode()))
		synctest.Wait()
		if n := h.server.Nodes(); n != 1 {
			t.Fatalf("%d nodes", n)
		}
		time.Sleep(writeWithin - 1)
		synctest.Wait()
		if n := h.server.Nodes(); n != 1 {
			t.Error("gone before its time")
		}
		time.Sleep(1)
		synctest.Wait()
		if n := h.server.Nodes(); n != 0 {
			t.Errorf("%d nodes after %v", n, writeWithin)
		}
	})
}

// TestWhoStopsTakingIsGone: a node that has taken its welcome and then takes nothing is gone when its
// first ping has waited for writeWithin, long before its silence would tell.
func TestWhoStopsTakingIsGone(t *testing.T) {
	inBubble(t, func(h *hall) {
		g := h.dial(true, false)
		g.say(fmt.Sprintf(`{"type":"hello","hello":{"version":1,"node":"deaf","boot":"b","chair":"x","instrument":"horn_f","join":%q}}`, h.hub.JoinCode()))
		for seen := map[proto.Type]bool{}; !seen[proto.TypeWelcome] || !seen[proto.TypeView]; {
			_, data, err := g.ws.ReadMessage()
			if err != nil {
				t.Fatal(err)
			}
			m, err := proto.Decode(data)
			if err != nil {
				t.Fatal(err)
			}
			seen[m.Type] = true
		}
		time.Sleep(pingEvery + writeWithin - 1)
		synctest.Wait()
		if n := h.server.Nodes(); n != 1 {
			t.Error("gone before its time")
		}
		time.Sleep(1)
		synctest.Wait()
		if n := h.server.Nodes(); n != 0 {
			t.Errorf("%d nodes after %v", n, pingEvery+writeWithin)
		}
	})
}

// TestWhoIsKnownHoldsNoStrangersPlace: of one address as many nodes come as like, one after the
// other, each of which has shown the code: it is no flood.
func TestWhoIsKnownHoldsNoStrangersPlace(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := &hall{bench: newHub(t, nil), pipes: newPipes()}
		guard, err := access.New(access.Config{JoinCode: h.hub.JoinCode(), Rules: access.Rules{Older: true}, NewChairs: 1000})
		if err != nil {
			t.Fatal(err)
		}
		h.server.access = guard
		srv := access.NewServer(h.server, slog.New(slog.DiscardHandler))
		done := make(chan error)
		go func() { done <- srv.Serve(access.Listen(h.pipes)) }()
		const many = 100 // an address that opens so many as a stranger is refused
		for i := range many {
			h.dial(false, false).join(fmt.Sprint("n", i))
		}
		if n := h.server.Nodes(); n != many {
			t.Errorf("%d nodes, want %d", n, many)
		}
		h.server.Close()
		srv.Close()
		<-done
	})
}

// TestThePace: a burst is taken in at once and what follows at its pace, to the message, and
// nothing is lost.
func TestThePace(t *testing.T) {
	inBubble(t, func(h *hall) {
		g := h.dial(false, false)
		g.join("n1")
		const beyond = 60
		began := time.Now()
		for seq := range uint64(burstMessages) {
			g.say(reading(seq + 1))
		}
		synctest.Wait()
		if took := time.Since(began); took != 0 {
			t.Errorf("a burst took %v", took)
		}
		for seq := range uint64(beyond) {
			g.say(reading(burstMessages + seq + 1))
		}
		synctest.Wait()
		// The pause follows a message: the last is taken in before its own.
		if took := time.Since(began); took != (beyond-1)*perMessage {
			t.Errorf("%d more took %v, want %v", beyond, took, (beyond-1)*perMessage)
		}
		if m := g.last(proto.TypeAck); m == nil || m.Ack.Stored != burstMessages+beyond {
			t.Errorf("acknowledged %+v", m)
		}
	})
}

// TestAnAnswerIsAWord: who has answered a ping has its token, and is no other's to be from then on.
func TestAnAnswerIsAWord(t *testing.T) {
	inBubble(t, func(h *hall) {
		first := h.dial(false, false)
		first.join("n1")
		if h.server.unheard("n1") != true {
			t.Fatal("heard before it has said anything")
		}
		time.Sleep(pingEvery)
		if pings, _, _ := first.is(); pings != 1 || h.server.unheard("n1") {
			t.Errorf("not heard after %d answers", pings)
		}
	})
}

// TestWhoTalksOnIsEnded: a connection that the hub ends is over a second later, whatever the node
// still says and though it never answers.
func TestWhoTalksOnIsEnded(t *testing.T) {
	inBubble(t, func(h *hall) {
		g := h.dial(false, false)
		g.ws.SetCloseHandler(func(int, string) error { return nil })
		g.join("n1")
		stopped := make(chan time.Duration)
		silent := make(chan bool)
		began := time.Now()
		go func() {
			h.server.Close()
			stopped <- time.Since(began)
		}()
		go func() {
			defer close(silent)
			for range 100 {
				if g.ws.WriteMessage(websocket.TextMessage, []byte(`{"type":"applause","applause":1}`)) != nil {
					return
				}
				time.Sleep(time.Second / 8)
			}
		}()
		if took := <-stopped; took != time.Second {
			t.Errorf("ended after %v", took)
		}
		<-silent
	})
}

// TestOnlyWhatIsStoredIsAnswered: a reading that was not stored is followed by no word, and the
// next that is by one.
func TestOnlyWhatIsStoredIsAnswered(t *testing.T) {
	inBubble(t, func(h *hall) {
		f := &faulty{Hub: h.server.hub, deliver: hub.ErrFull}
		h.server.hub = f
		g := h.dial(false, false)
		g.join("n1")
		for i, want := range []int{0, 1, 2} {
			g.say(reading(uint64(max(1, i))))
			synctest.Wait()
			acks, last := 0, uint64(0)
			for _, m := range g.heard {
				if m.Ack != nil {
					acks, last = acks+1, m.Ack.Stored
				}
			}
			if acks < want || acks > 2*want || last != uint64(want) { // by the reading, and perhaps by the feed before it
				t.Errorf("%d acknowledgements up to %d, want %d", acks, last, want)
			}
			f.deliver = nil
		}
	})
}

// TestBadMessagesAreForgivenUpToALimit: each is answered and left out; what is from a later
// version is no bad one; the last but one is forgiven, and the last is not.
func TestBadMessagesAreForgivenUpToALimit(t *testing.T) {
	inBubble(t, func(h *hall) {
		g := h.dial(false, false)
		g.join("n1")
		for range 3 * maxBad {
			g.say(`{"type":"applause","applause":{"loud":true}}`)
		}
		for i := range maxBad {
			synctest.Wait()
			if _, code, gone := g.is(); code != 0 || gone != 0 {
				t.Fatalf("gone with %d after %d", code, i)
			}
			g.say([]string{"x", `{"type":"ack","ack":{"stored":9}}`, `{"type":"reading"}`}[i%3])
		}
		<-g.ended
		if _, code, _ := g.is(); code != proto.CloseBad {
			t.Errorf("close %d, want %d", code, proto.CloseBad)
		}
		told := 0
		for _, m := range g.heard {
			if m.Error != nil && m.Error.Code == proto.CodeBadMessage && !m.Error.Fatal {
				told++
			}
		}
		if told != maxBad-1 {
			t.Errorf("told of %d bad messages, want %d", told, maxBad-1)
		}
	})
}

// TestPacer: a burst passes at once, and then one each perMessage; a pause fills it up to the
// burst again and no further.
func TestPacer(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var p pacer
		waits := func(n int) time.Duration {
			began := time.Now()
			for range n {
				p.wait()
			}
			return time.Since(began)
		}
		near := func(what string, got, want time.Duration) {
			if d := got - want; d < -time.Microsecond || d > time.Microsecond {
				t.Errorf("%s takes %v, want %v", what, got, want)
			}
		}
		near("a burst", waits(burstMessages), 0)
		near("what follows", waits(10), 10*perMessage)
		for _, pause := range []time.Duration{burstMessages * perMessage, time.Hour} {
			time.Sleep(pause)
			near("a burst after a pause", waits(burstMessages), 0)
			near("one more", waits(1), perMessage)
		}
		time.Sleep(burstMessages * perMessage / 2)
		near("a burst after half a pause", waits(burstMessages), burstMessages/2*perMessage)
	})
}
