package link

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"log"
	"net"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/gorilla/websocket"
	"go.uber.org/goleak"

	"bellrow/hub"
	"bellrow/hub/access"
	"bellrow/hub/mem"
	"bellrow/hub/session"
	"bellrow/proto"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// bench is a hub with its endpoint on loopback.
type bench struct {
	*testing.T
	hub    *session.Session
	store  *sick
	server *Server
	http   *httptest.Server
	tokens map[string]string // by node, as nodes keep them
}

// sick is a store that can be made to refuse readings.
type sick struct {
	*mem.Store
	mu  sync.Mutex
	err error
}

func (s *sick) set(err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.err = err
}

func (s *sick) Commit(ctx context.Context, changes []hub.Change) error {
	s.mu.Lock()
	err := s.err
	s.mu.Unlock()
	reading := func(c hub.Change) bool { _, is := c.(hub.ReadingChange); return is }
	if err != nil && slices.ContainsFunc(changes, reading) {
		return err
	}
	return s.Store.Commit(ctx, changes)
}

func newBench(t *testing.T, change func(*Config)) *bench {
	t.Helper()
	b := newHub(t, change)
	b.http = httptest.NewUnstartedServer(b.server)
	b.http.Config.ErrorLog = log.New(complaints{t}, "", 0)
	b.http.Start()
	t.Cleanup(func() {
		b.server.Close()
		b.http.Close()
	})
	return b
}

// complaints fails a test whose server panics: whoever is connected would only see an end.
type complaints struct{ *testing.T }

func (c complaints) Write(text []byte) (int, error) {
	if strings.Contains(string(text), "panic") {
		c.Errorf("%s", text)
	}
	return len(text), nil
}

// newHub is a bench without a network.
func newHub(t *testing.T, change func(*Config)) *bench {
	t.Helper()
	b := &bench{T: t, store: &sick{Store: mem.New()}, tokens: map[string]string{}}
	var err error
	if b.hub, err = session.New(t.Context(), session.Config{Store: b.store, RetryEvery: 50 * time.Millisecond}); err != nil {
		t.Fatal(err)
	}
	guard, err := access.New(access.Config{JoinCode: b.hub.JoinCode(), Rules: access.Rules{Older: true}})
	if err != nil {
		t.Fatal(err)
	}
	c := Config{Hub: b.hub, Access: guard}
	if change != nil {
		change(&c)
	}
	if b.server, err = New(c); err != nil {
		t.Fatal(err)
	}
	return b
}

// peer is a node written without the project's own client.
type peer struct {
	*bench
	ws     *websocket.Conn
	proofs int // that came
}

func (b *bench) dial() *peer {
	b.Helper()
	ws, _, err := websocket.DefaultDialer.Dial("ws"+strings.TrimPrefix(b.http.URL, "http"), nil)
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { ws.Close() })
	return &peer{bench: b, ws: ws}
}

func (p *peer) say(text string) {
	p.Helper()
	if err := p.ws.WriteMessage(websocket.TextMessage, []byte(text)); err != nil {
		p.Logf("write: %v", err)
	}
}

// want reads until a message of the type comes.
func (p *peer) want(kind proto.Type) proto.Message {
	p.Helper()
	p.ws.SetReadDeadline(later())
	for {
		frame, data, err := p.ws.ReadMessage()
		if err != nil || frame != websocket.TextMessage {
			p.Fatalf("waiting for %s: frame %d, %v", kind, frame, err)
		}
		m, err := proto.Decode(data)
		if err != nil {
			p.Fatal(err)
		}
		if m.Proof != nil {
			p.proofs++
		}
		if m.Type == kind {
			return m
		}
	}
}

// wantClose reads until the hub closes, and returns the code and the last error.
func (p *peer) wantClose() (code int, last *proto.Error) {
	p.Helper()
	p.ws.SetReadDeadline(later())
	for {
		_, data, err := p.ws.ReadMessage()
		var closed *websocket.CloseError
		if errors.As(err, &closed) {
			return closed.Code, last
		}
		if err != nil {
			p.Fatalf("waiting for a close: %v", err)
		}
		if m, err := proto.Decode(data); err == nil && m.Error != nil {
			last = m.Error
		}
	}
}

func (p *peer) hello(node, boot string, more string) {
	p.Helper()
	p.say(fmt.Sprintf(`{"type":"hello","hello":{"version":1,"node":%q,"boot":%q,"chair":%q,"instrument":"trumpet_bb"%s}}`, node, boot, "chair "+node, more))
}

func (b *bench) join(node, boot string) (*peer, *proto.Welcome) {
	b.Helper()
	p := b.dial()
	p.hello(node, boot, `,"join":"`+b.hub.JoinCode()+`","token":"`+b.tokens[node]+`"`)
	w := p.want(proto.TypeWelcome).Welcome
	if w.Token != "" {
		b.tokens[node] = w.Token
	}
	return p, w
}

func reading(seq uint64) string {
	return fmt.Sprintf(`{"type":"reading","reading":{"seq":%d,"end_s":1,"hz":466.2,"level_dbfs":-20,"settled":true}}`, seq)
}

// ackUpTo reads until everything up to seq is acknowledged.
func (p *peer) ackUpTo(seq uint64) {
	p.Helper()
	for p.want(proto.TypeAck).Ack.Stored < seq {
	}
}

func TestNodeLife(t *testing.T) {
	b := newBench(t, nil)
	p, w := b.join("n1", "b1")
	if w.Token == "" || w.Hub != b.hub.ID() || w.Stored != 0 || w.Version != proto.Version {
		t.Errorf("welcome %+v", w)
	}
	if v := p.want(proto.TypeView).View; v.Chair == "" || v.Say == "" {
		t.Errorf("view %+v", v)
	}
	p.say(`{"type":"ping","ping":{"id":7,"sent_s":1.5}}`)
	if pong := p.want(proto.TypePong).Pong; pong.ID != 7 || pong.Sent != 1.5 {
		t.Errorf("pong %+v", pong)
	}
	p.say(`{"type":"applause","applause":{"loud":true}}`) // from a later version
	p.say(`{"type":"state","state":{"state":"sounding","level_dbfs":-20}}`)
	p.say(reading(1))
	p.say(reading(2))
	p.ackUpTo(2)
	p.say(reading(2)) // a repeat is acknowledged again
	p.ackUpTo(2)
	p.ws.Close()

	again := b.dial()
	again.hello("n1", "b1", `,"token":"`+w.Token+`"`)
	if w2 := again.want(proto.TypeWelcome).Welcome; w2.Stored != 2 || w2.Token != "" || w2.Chair != w.Chair {
		t.Errorf("second welcome %+v", w2)
	}
	rs, err := b.store.Readings(t.Context(), b.hub.Section().ID, time.Time{})
	if err != nil || len(rs) != 2 {
		t.Errorf("%d readings stored, %v, want 2", len(rs), err)
	}
}

func TestAcknowledgesOnlyWhatIsStored(t *testing.T) {
	b := newBench(t, nil)
	ctx, cancel := context.WithCancel(t.Context())
	var wait sync.WaitGroup
	wait.Go(func() { b.hub.Run(ctx) })
	defer wait.Wait()
	defer cancel()
	p, _ := b.join("n1", "b1")
	b.store.set(hub.ErrFull)
	p.say(reading(1))
	p.say(`{"type":"ping","ping":{"id":1,"sent_s":1}}`)
	p.ws.SetReadDeadline(later())
	for {
		_, data, err := p.ws.ReadMessage()
		if err != nil {
			t.Fatal(err)
		}
		m, err := proto.Decode(data)
		if err != nil {
			t.Fatal(err)
		}
		if m.Ack != nil {
			t.Fatalf("acknowledged %d on a full disk", m.Ack.Stored)
		}
		if m.Pong != nil {
			break
		}
	}
	b.store.set(nil)
	p.ackUpTo(1)
}

func TestRefusals(t *testing.T) {
	b := newBench(t, nil)
	code := `,"join":"` + b.hub.JoinCode() + `"`
	for _, c := range []struct {
		what, hello string
		want        string
		fatal       bool
	}{
		{"wrong code", `{"type":"hello","hello":{"version":1,"node":"x","boot":"b","instrument":"trumpet_bb","join":"AAAAAA"}}`, proto.CodeWrongCode, true},
		{"no code", `{"type":"hello","hello":{"version":1,"node":"x","boot":"b","instrument":"trumpet_bb"}}`, proto.CodeWrongCode, true},
		{"unknown token", `{"type":"hello","hello":{"version":1,"node":"x","boot":"b","instrument":"trumpet_bb","token":"t"}}`, proto.CodeWrongToken, false},
		{"unknown instrument", `{"type":"hello","hello":{"version":1,"node":"x","boot":"b","instrument":"kazoo"` + code + `}}`, proto.CodeInstrument, true},
		{"a later version is spoken to in ours", `{"type":"hello","hello":{"version":9,"node":"y","boot":"b","instrument":"trumpet_bb"` + code + `,"later":{"x":1}}}`, "", false},
	} {
		p := b.dial()
		p.say(c.hello)
		if c.want == "" {
			if w := p.want(proto.TypeWelcome).Welcome; w.Version != proto.Version {
				t.Errorf("%s: %+v", c.what, w)
			}
			continue
		}
		closed, e := p.wantClose()
		if closed != proto.CloseRefused || e == nil || e.Code != c.want || e.Fatal != c.fatal || e.Message == "" || e.Hint == "" {
			t.Errorf("%s: close %d, %+v, want %s", c.what, closed, e, c.want)
		}
	}
}

// RFC 6455, section 7.4.1, for the codes below 4000.
func TestBadFrames(t *testing.T) {
	b := newBench(t, nil)
	for _, c := range []struct {
		what  string
		kind  int
		data  string
		times int
		want  int
	}{
		{"binary", websocket.BinaryMessage, "x", 1, websocket.CloseUnsupportedData},
		{"not UTF-8", websocket.TextMessage, "\xff", 1, websocket.CloseInvalidFramePayloadData},
		{"oversize", websocket.TextMessage, strings.Repeat("x", proto.MaxTrack+1), 1, websocket.CloseMessageTooBig},
		{"not JSON", websocket.TextMessage, "x", maxBad, proto.CloseBad},
		{"a hub's message", websocket.TextMessage, `{"type":"ack","ack":{"stored":9}}`, maxBad, proto.CloseBad},
		{"a second hello", websocket.TextMessage, `{"type":"hello","hello":{"version":1,"node":"z","boot":"b","instrument":"trumpet_bb"}}`, maxBad, proto.CloseBad},
	} {
		p, _ := b.join("bad", "b")
		for range c.times {
			p.ws.WriteMessage(c.kind, []byte(c.data))
		}
		if got, _ := p.wantClose(); got != c.want {
			t.Errorf("%s: close %d, want %d", c.what, got, c.want)
		}
	}
	p, _ := b.join("large", "b") // as large as may be
	p.say(`{"type":"applause","applause":"` + strings.Repeat("x", proto.MaxTrack-len(`{"type":"applause","applause":""}`)) + `"}`)
	p.say(`{"type":"ping","ping":{"id":7,"sent_s":1}}`)
	p.want(proto.TypePong)
	for _, first := range []string{"x", reading(1), `{"type":"welcome","welcome":{"version":1,"chair":"1"}}`} {
		p := b.dial()
		p.say(first)
		if got, _ := p.wantClose(); got != proto.CloseHello {
			t.Errorf("%.30q as first message: close %d, want %d", first, got, proto.CloseHello)
		}
	}
}

func TestPlacesAreLimited(t *testing.T) {
	b := newBench(t, func(c *Config) { c.MaxNodes = 2 })
	b.join("n1", "b")
	b.join("n2", "b")
	p := b.dial()
	p.hello("n3", "b", `,"join":"`+b.hub.JoinCode()+`"`)
	if _, e := p.wantClose(); e == nil || e.Code != proto.CodeTrouble {
		t.Errorf("third of two nodes: %+v", e)
	}
	b.join("n1", "b") // who has a place may come back to it
}

func TestTheLastConnectionSpeaks(t *testing.T) {
	b := newBench(t, nil)
	first, _ := b.join("n1", "b1")
	second, _ := b.join("n1", "b1") // the same start: a roaming laptop
	if code, e := first.wantClose(); code != proto.CloseReplaced || e != nil {
		t.Errorf("same start: close %d, %+v", code, e)
	}
	_, _ = b.join("n1", "b2") // another start: two programs with one identity
	if code, e := second.wantClose(); code != proto.CloseReplaced || e == nil || !e.Fatal {
		t.Errorf("another start: close %d, %+v", code, e)
	}
	if got := b.server.Nodes(); got != 1 {
		t.Errorf("%d nodes, want 1", got)
	}
	if b.hub.Node(b.hub.Section().Chairs[0].ID) != "n1" {
		t.Error("the chair was left although its node is there")
	}
}

func TestRefusesForeignPages(t *testing.T) {
	b := newBench(t, nil)
	url := "ws" + strings.TrimPrefix(b.http.URL, "http")
	at := strings.TrimPrefix(b.http.URL, "http://")
	for _, c := range []struct {
		what, host, origin string
		want               int
	}{
		{"a program", at, "", 101},
		{"the hub's own page", at, "http://" + at, 101},
		{"another site's page", at, "http://evil.example", 403},
		{"a rebound name", "evil.example", "http://evil.example", 421},
		{"a rebound name, no origin", "evil.example:80", "", 421},
	} {
		h := http.Header{"Host": {c.host}}
		if c.origin != "" {
			h.Set("Origin", c.origin)
		}
		ws, resp, err := websocket.DefaultDialer.Dial(url, h)
		if ws != nil {
			ws.Close()
		}
		if resp == nil || resp.StatusCode != c.want {
			t.Errorf("%s: %v, %v, want %d", c.what, resp, err, c.want)
		}
	}
}

func TestCloseSendsNodesAway(t *testing.T) {
	b := newBench(t, nil)
	p, _ := b.join("n1", "b")
	done := make(chan error)
	go func() { done <- b.server.Close() }()
	if code, _ := p.wantClose(); code != websocket.CloseGoingAway {
		t.Errorf("close %d, want 1001", code)
	}
	if err := <-done; err != nil {
		t.Error(err)
	}
	if err := b.server.Close(); err != nil {
		t.Error(err)
	}
	if _, resp, err := websocket.DefaultDialer.Dial("ws"+strings.TrimPrefix(b.http.URL, "http"), nil); err == nil || resp.StatusCode != 503 || resp.Header.Get("Retry-After") == "" {
		t.Errorf("after the end: %v, %v", err, resp)
	}
}

// A node that never reads must not hold up the hub, nor itself for long.
func TestNodeThatNeverReads(t *testing.T) {
	b := newBench(t, nil)
	deaf, _ := b.join("deaf", "b")
	deaf.ws.UnderlyingConn().(*net.TCPConn).SetReadBuffer(1)
	good, _ := b.join("good", "b")
	for seq := range uint64(200) {
		good.say(reading(seq + 1))
		deaf.say(`{"type":"setting","setting":{"slide":"main","mm":` + fmt.Sprint(seq%40) + `}}`)
	}
	good.ackUpTo(200)
}

// TestTheLastWordsAreSent: what waits when the reader ends goes out, all of it, and then no more is
// waited for; an end that another brought about is told.
func TestTheLastWordsAreSent(t *testing.T) {
	for _, displaced := range []bool{false, true} {
		var up websocket.Upgrader
		srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			ws, err := up.Upgrade(w, r, nil)
			if err != nil {
				t.Error(err)
				return
			}
			defer ws.Close()
			c := newConn(&Server{}, r)
			c.ws = ws
			for id := range uint64(3) {
				c.queue(proto.Message{Type: proto.TypePong, Pong: &proto.Pong{ID: id + 1, Sent: 1, At: 1}})
			}
			close(c.done)
			c.flush()
			if displaced {
				c.replaced(true)
				c.flush()
			}
		}))
		ws, _, err := websocket.DefaultDialer.Dial("ws"+strings.TrimPrefix(srv.URL, "http"), nil)
		if err != nil {
			t.Fatal(err)
		}
		p := &peer{bench: &bench{T: t}, ws: ws}
		for id := range uint64(3) {
			if m := p.want(proto.TypePong); m.Pong.ID != id+1 {
				t.Errorf("answer %d comes as number %d", m.Pong.ID, id+1)
			}
		}
		if displaced {
			if code, e := p.wantClose(); code != proto.CloseReplaced || e != replacedError && (e == nil || e.Code != proto.CodeReplaced) {
				t.Errorf("%d, %+v", code, e)
			}
		}
		ws.Close()
		srv.Close()
	}
}

func TestNewRefuses(t *testing.T) {
	if _, err := New(Config{}); err == nil {
		t.Error("a server without a hub")
	}
}

func TestErrorsAreMessages(t *testing.T) {
	for _, e := range []*proto.Error{trouble(), tooMany(), replacedError} {
		if data, err := proto.Encode(proto.Message{Type: proto.TypeError, Error: e}); err != nil || !json.Valid(data) {
			t.Errorf("%+v: %v", e, err)
		}
	}
}

// later is when a test gives up: whatever hangs, hangs.
func later() time.Time { return time.Now().Add(time.Minute) }
