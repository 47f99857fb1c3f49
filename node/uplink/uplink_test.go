package uplink

import (
	"context"
	"crypto/tls"
	"encoding/base64"
	"errors"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/gorilla/websocket"
	"go.uber.org/goleak"

	"bellrow/proto"
	"bellrow/proto/pake"
	"bellrow/proto/track"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// fakeHub speaks the hub's side as a test says.
type fakeHub struct {
	*testing.T
	door *door
	cert *tls.Certificate // with TLS

	id     string
	proves string            // the join code that it can prove, "" for a hub of the first version
	tokens map[string]string // by node, of proofs

	mu      sync.Mutex
	hellos  []proto.Hello
	stored  map[string]uint64 // by boot: the committed prefix
	got     map[string][]uint64
	rounds  []int64 // of the readings that came
	kept    []proto.Reading
	asks    int64         // the round of its views
	mute    bool          // acknowledges nothing
	slow    time.Duration // to answer a hello
	holds   time.Duration // until it ends a connection with a word, 0 for ever
	calls   []time.Time
	open    int      // connections
	hosts   []string // that it was called by
	others  []proto.Message
	dropAt  int // break the connection after so many readings; 0 = never
	loses   int // so many settings, each with its connection
	room    int // for so many more connections; less than 0 = for any
	refusal *proto.Error
	version int // in the welcome
	token   string
}

func newFakeHub(t *testing.T, secure bool) *fakeHub {
	h := &fakeHub{T: t, id: "hub1", tokens: map[string]string{}, stored: map[string]uint64{}, got: map[string][]uint64{}, room: -1, version: 1, token: "token-of-the-test"}
	h.door = listen()
	if secure {
		h.cert = newCertificate(t)
	}
	serveLAN(t, h.door, http.HandlerFunc(h.serve), h.cert)
	return h
}

// prove is a hub's part of a proof.
func (h *fakeHub) prove(hello *proto.Hello) (*pake.Keys, string) {
	secret := h.proves
	if hello.Prove.By == proto.ByToken {
		secret = hashed(h.tokens[hello.Node])
	}
	sid, _ := base64.RawURLEncoding.DecodeString(hello.Prove.Session)
	theirs, _ := base64.RawURLEncoding.DecodeString(hello.Prove.Share)
	party, err := pake.Start([]byte(secret), pake.Channel(fingerprintOf(h.cert)), sid)
	if err != nil {
		h.Error(err)
	}
	keys, err := party.Responder(theirs, []byte(hello.Node+" "+hello.Boot), []byte(h.id))
	if err != nil {
		h.Error(err)
	}
	return keys, base64.RawURLEncoding.EncodeToString(party.Share())
}

func (h *fakeHub) link() proto.Link {
	return proto.Link{Address: h.door.addr.String(), Hub: h.id, TLS: h.cert != nil}
}

func (h *fakeHub) change(f func()) {
	h.mu.Lock()
	defer h.mu.Unlock()
	f()
}

func (h *fakeHub) serve(w http.ResponseWriter, r *http.Request) {
	h.mu.Lock()
	h.calls, h.hosts = append(h.calls, time.Now()), append(h.hosts, r.Host)
	full := h.room == 0
	if h.room > 0 {
		h.room--
	}
	h.mu.Unlock()
	if full {
		http.Error(w, "full", http.StatusServiceUnavailable)
		return
	}
	up := websocket.Upgrader{}
	var head http.Header
	if h.proves != "" {
		head = http.Header{proto.HeaderProof: {proto.ProofKind}, proto.HeaderHub: {h.id}}
	}
	ws, err := up.Upgrade(w, r, head)
	if err != nil {
		return
	}
	defer ws.Close()
	h.change(func() { h.open++ })
	defer h.change(func() { h.open-- })
	if h.holds > 0 {
		defer time.AfterFunc(h.holds, func() {
			ws.WriteControl(websocket.CloseMessage, websocket.FormatCloseMessage(websocket.CloseGoingAway, ""), time.Now().Add(time.Second))
			ws.Close()
		}).Stop()
	}
	var keys *pake.Keys
	say := func(m proto.Message) {
		data, err := proto.Encode(m)
		if err != nil {
			h.Error(err)
		}
		ws.WriteMessage(websocket.TextMessage, data)
	}
	var hello *proto.Hello
	for n := 0; ; {
		kind, data, err := ws.ReadMessage()
		if err != nil {
			return
		}
		if kind != websocket.TextMessage {
			h.Errorf("%q is no text", data)
		}
		m, err := proto.Decode(data)
		if err != nil {
			h.Errorf("%s: %v", data, err)
			return
		}
		if m.Hello != nil {
			time.Sleep(h.slow)
		}
		h.mu.Lock()
		switch {
		case m.Hello != nil:
			hello = m.Hello
			h.hellos = append(h.hellos, *hello)
			if h.refusal != nil {
				say(proto.Message{Type: proto.TypeError, Error: h.refusal})
				h.mu.Unlock()
				return
			}
			if hello.Prove != nil {
				var share string
				keys, share = h.prove(hello)
				say(proto.Message{Type: proto.TypeProof, Proof: &proto.Proof{Share: share, Tag: base64.RawURLEncoding.EncodeToString(keys.ResponderTag())}})
				break
			}
			fallthrough
		case m.Proof != nil:
			token := h.token
			if keys != nil {
				tag, _ := base64.RawURLEncoding.DecodeString(m.Proof.Tag)
				if !pake.Equal(tag, keys.InitiatorTag()) {
					h.Error("the node proved nothing")
				}
				token = ""
				if hello.Prove.By == proto.ByCode {
					h.tokens[hello.Node] = keys.Token()
				}
			}
			ws.WriteMessage(websocket.TextMessage, []byte(`{"type":"applause","applause":1}`)) // from a later version
			say(proto.Message{Type: proto.TypeWelcome, Welcome: &proto.Welcome{
				Version: h.version, Hub: h.id, Section: "Low brass", Chair: "1", Token: token, Stored: h.stored[hello.Boot],
			}})
			say(proto.Message{Type: proto.TypeView, View: &proto.View{Phase: "idle", Say: "Warm up.", Round: h.asks}})
			for _, later := range []string{`{"type":"applause","applause":1}`, `{"type":"view"}`} { // left out, and the rest goes on
				ws.WriteMessage(websocket.TextMessage, []byte(later))
			}
			ws.WriteMessage(websocket.BinaryMessage, []byte(`{"type":"view","view":{"phase":"idle","say":"Not in this form."}}`))
		case m.Reading != nil:
			h.got[hello.Boot] = append(h.got[hello.Boot], m.Reading.Sequence)
			h.rounds = append(h.rounds, m.Reading.Round)
			if m.Reading.Sequence == h.stored[hello.Boot]+1 {
				h.stored[hello.Boot]++
				h.kept = append(h.kept, *m.Reading)
			}
			if n++; h.dropAt > 0 && n >= h.dropAt {
				h.dropAt = 0
				h.mu.Unlock()
				return
			}
			if !h.mute {
				say(proto.Message{Type: proto.TypeAck, Ack: &proto.Ack{Stored: h.stored[hello.Boot]}})
			}
		case m.Setting != nil && h.loses > 0:
			h.loses--
			h.mu.Unlock()
			return
		case m.Ping != nil:
			say(proto.Message{Type: proto.TypePong, Pong: &proto.Pong{ID: m.Ping.ID, Sent: m.Ping.Sent, At: m.Ping.Sent + 100}})
			h.others = append(h.others, m)
		default:
			h.others = append(h.others, m)
		}
		h.mu.Unlock()
	}
}

// running starts an uplink and ends it with the test.
func running(t *testing.T, c Config) (*Uplink, func()) {
	t.Helper()
	if c.Instrument == "" {
		c.Instrument = "trumpet_bb"
	}
	if c.Hub.Address != "" {
		c.NoMulticast = true // no other hub on this machine
	}
	c.Sure = true // the hubs of most tests are of the first version
	c.Dial = dialLAN
	u, err := New(c)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- u.Run(ctx) }()
	stop := sync.OnceFunc(func() {
		cancel()
		if err := <-done; err != nil {
			t.Errorf("Run: %v", err)
		}
	})
	t.Cleanup(stop)
	return u, stop
}

func note() proto.Reading {
	return proto.Reading{End: 1, Hz: 466.16, CI95: 1, Level: -20, Floor: -60, Settled: true}
}

func drained(t *testing.T, u *Uplink) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	if err := u.Drain(ctx); err != nil {
		t.Fatalf("%v; %+v", err, u.Status())
	}
}

// until waits for a status.
func until(t *testing.T, u *Uplink, what string, ok func(Status) bool) Status {
	t.Helper()
	late := time.After(time.Minute)
	for {
		changed := u.Changed()
		if s := u.Status(); ok(s) {
			return s
		}
		select {
		case <-changed:
		case <-late:
			t.Fatalf("waiting for %s: %+v", what, u.Status())
		}
	}
}

func inOrder(t *testing.T, got []uint64, n uint64) {
	t.Helper()
	for i, s := range got {
		if s != uint64(i)+1 {
			t.Fatalf("sequences %v, want 1 to %d", got, n)
		}
	}
	if uint64(len(got)) != n {
		t.Fatalf("%d readings, want %d", len(got), n)
	}
}

func TestDelivers(t *testing.T) {
	bubble(t, func(t *testing.T) {
		h := newFakeHub(t, false)
		u, _ := running(t, Config{Hub: h.link(), Boot: "b1", Chair: "Horn 2", Join: "K7M4QX"})
		for range 5 {
			u.Send(note())
		}
		drained(t, u)
		s := until(t, u, "the connection", func(s Status) bool { return s.Phase == Connected })
		if s.Section != "Low brass" || s.Hub != "hub1" || s.Waiting != 0 || s.Message != "" {
			t.Errorf("%+v", s)
		}
		late := time.After(time.Minute)
		for changed := u.Changed(); u.View().Say != "Warm up."; changed = u.Changed() {
			select {
			case <-changed:
			case <-late:
				t.Fatalf("view %+v", u.View())
			}
		}
		h.change(func() {
			inOrder(t, h.got["b1"], 5)
			if len(h.hellos) != 1 || h.hellos[0].Version != proto.Version || h.hellos[0].Node != u.Node() || h.hellos[0].Boot != "b1" || h.hellos[0].Chair != "Horn 2" || h.hellos[0].Instrument != "trumpet_bb" {
				t.Errorf("said %+v", h.hellos)
			}
		})
	})
}

// TestOverTCP: as nodes are, with the system's own sockets.
func TestOverTCP(t *testing.T) {
	h := newFakeHub(t, false)
	server := httptest.NewServer(http.HandlerFunc(h.serve))
	defer server.Close()
	u, err := New(Config{Instrument: "trumpet_bb", NoMulticast: true, Sure: true, Hub: proto.Link{Address: server.Listener.Addr().String()}, Join: code})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error)
	go func() { done <- u.Run(ctx) }()
	u.Send(note())
	drained(t, u)
	cancel()
	if err := <-done; err != nil {
		t.Error(err)
	}
}

func TestResendsAfterALostConnection(t *testing.T) {
	bubble(t, func(t *testing.T) {
		h := newFakeHub(t, false)
		h.dropAt = 3 // the third is stored, its acknowledgement lost with the connection
		u, _ := running(t, Config{Hub: h.link(), Boot: "b1", Join: "K7M4QX"})
		for range 10 {
			u.Send(note())
		}
		drained(t, u)
		h.change(func() {
			if h.stored["b1"] != 10 || len(h.hellos) < 2 {
				t.Errorf("stored %d over %d connections", h.stored["b1"], len(h.hellos))
			}
			if h.hellos[0].Token != "" || h.hellos[len(h.hellos)-1].Token != h.token {
				t.Errorf("tokens %q, then %q", h.hellos[0].Token, h.hellos[len(h.hellos)-1].Token)
			}
		})
	})
}

func TestAnEarlierStartIsDeliveredFirst(t *testing.T) {
	bubble(t, func(t *testing.T) {
		dir := t.TempDir()
		h := newFakeHub(t, false)
		// A start that never reached the hub, and ended with half a line written.
		old, err := New(Config{Boot: "b1", StateDir: dir, Instrument: "trumpet_bb", Join: "K7M4QX"})
		if err != nil {
			t.Fatal(err)
		}
		for range 3 {
			old.Send(note())
		}
		f, err := os.OpenFile(filepath.Join(dir, "b1.readings"), os.O_APPEND|os.O_WRONLY, 0)
		if err != nil {
			t.Fatal(err)
		}
		f.WriteString(`{"type":"reading","rea`)
		f.Close()

		h.stored["b1"] = 1 // it did reach it once
		u, stop := running(t, Config{Hub: h.link(), Boot: "b2", StateDir: dir, Join: "K7M4QX"})
		u.Send(note())
		drained(t, u)
		stop()
		h.change(func() {
			if h.stored["b1"] != 3 || h.stored["b2"] != 1 || len(h.hellos) != 2 || h.hellos[0].Boot != "b1" || h.hellos[0].Node != u.Node() {
				t.Errorf("stored %v, hellos %+v", h.stored, h.hellos)
			}
			if got := h.got["b1"]; len(got) != 2 || got[0] != 2 {
				t.Errorf("of the earlier start came %v, want 2 and 3", got)
			}
		})
		if left, err := filepath.Glob(filepath.Join(dir, "*.readings")); err != nil || len(left) != 0 {
			t.Errorf("spools %v left, %v", left, err)
		}
	})
}

func TestKeepsItsIdentityAndTheHub(t *testing.T) {
	bubble(t, func(t *testing.T) {
		dir := t.TempDir()
		h := newFakeHub(t, false)
		first, stop := running(t, Config{Hub: h.link(), StateDir: dir, Join: "K7M4QX"})
		until(t, first, "the connection", func(s Status) bool { return s.Phase == Connected })
		stop()
		// The second start knows neither address nor code.
		second, _ := running(t, Config{StateDir: dir, NoMulticast: true})
		until(t, second, "the connection", func(s Status) bool { return s.Phase == Connected })
		if first.Node() != second.Node() || first.Boot() == second.Boot() {
			t.Errorf("nodes %s, %s; boots %s, %s", first.Node(), second.Node(), first.Boot(), second.Boot())
		}
		if info, err := os.Stat(filepath.Join(dir, "hubs.json")); err != nil || info.Mode().Perm()&0o077 != 0 {
			t.Errorf("%v, %v: tokens are for their owner's eyes", info.Mode(), err)
		}
	})
}

func TestSaysWhatIsWrong(t *testing.T) {
	bubble(t, func(t *testing.T) {
		page := listen()
		serveLAN(t, page, http.NotFoundHandler(), nil)
		refusing := newFakeHub(t, false)
		refusing.refusal = &proto.Error{Code: proto.CodeWrongCode, Message: "that is not this hub's join code", Hint: "compare it", Fatal: true}
		other := newFakeHub(t, false)
		otherID := other.link()
		otherID.Hub = "hub2"
		later := newFakeHub(t, false)
		later.version = proto.Version + 1
		secure := newFakeHub(t, true)
		badKey := secure.link()
		badKey.Fingerprint = strings.Repeat("00", 32)

		for _, c := range []struct {
			what  string
			c     Config
			code  string
			phase Phase
		}{
			{"nothing answers", Config{NoMulticast: true}, "nothing-answered", Searching},
			{"no interface to ask", Config{Interfaces: func() []net.Interface { return nil }}, "no-network", Searching},
			{"nobody at the address", Config{Hub: proto.Link{Address: "127.0.0.1:1"}}, "unreachable", Searching},
			{"something else at the address", Config{Hub: proto.Link{Address: page.addr.String()}}, "not-a-hub", Searching},
			{"wrong code", Config{Hub: refusing.link(), Join: "AAAAAA"}, proto.CodeWrongCode, Refused},
			{"another hub", Config{Hub: otherID, Join: "AAAAAA"}, "other-hub", Searching},
			{"a hub that cannot speak our version", Config{Hub: later.link(), Join: "AAAAAA"}, proto.CodeVersion, Refused},
			{"another key", Config{Hub: badKey, Join: "AAAAAA"}, "other-key", Refused},
		} {
			u, stop := running(t, c.c)
			s := until(t, u, c.what, func(s Status) bool { return s.Code != "" })
			if s.Code != c.code || s.Phase != c.phase || s.Message == "" || s.Hint == "" {
				t.Errorf("%s: %+v, want %s", c.what, s, c.code)
			}
			stop()
		}
	})
}

func TestFallback(t *testing.T) {
	bubble(t, func(t *testing.T) {
		h := newFakeHub(t, false)
		for what, c := range map[string]Config{
			"nothing to search":   {Interfaces: func() []net.Interface { return nil }},
			"nothing was found":   {NoMulticast: true},
			"an address is typed": {Hub: h.link()},
		} {
			c.Fallback, c.Join = h.link(), "K7M4QX"
			u, stop := running(t, c)
			until(t, u, what, func(s Status) bool { return s.Phase == Connected })
			stop()
		}
	})
}

func TestRejoin(t *testing.T) {
	bubble(t, func(t *testing.T) {
		h := newFakeHub(t, false)
		h.refusal = &proto.Error{Code: proto.CodeWrongCode, Message: "wrong", Hint: "compare", Fatal: true}
		u, _ := running(t, Config{Hub: h.link(), Join: "AAAAAA"})
		u.Send(note())
		until(t, u, "the refusal", func(s Status) bool { return s.Phase == Refused })
		h.change(func() { h.refusal = nil })
		u.Rejoin(proto.Link{Code: "K7M4QX"})
		drained(t, u)
		h.change(func() {
			if got := h.hellos[len(h.hellos)-1].Join; got != "K7M4QX" {
				t.Errorf("second hello with %q", got)
			}
		})
	})
}

// A chair that another laptop has taken is not taken back by itself.
func TestReplacedStaysAway(t *testing.T) {
	bubble(t, func(t *testing.T) {
		h := newFakeHub(t, false)
		h.refusal = &proto.Error{Code: proto.CodeReplaced, Message: "taken", Hint: "choose", Fatal: true}
		u, _ := running(t, Config{Hub: h.link(), Join: "K7M4QX"})
		until(t, u, "the refusal", func(s Status) bool { return s.Code == proto.CodeReplaced })
		select {
		case <-u.Changed():
			t.Errorf("%+v", u.Status())
		case <-time.After(1500 * time.Millisecond): // three times the first back-off
		}
		h.change(func() { h.refusal = nil })
		u.Rejoin(proto.Link{})
		until(t, u, "the connection", func(s Status) bool { return s.Phase == Connected })
	})
}

func TestPinnedKey(t *testing.T) {
	bubble(t, func(t *testing.T) {
		h := newFakeHub(t, true)
		l := h.link()
		l.Fingerprint = fingerprintOf(h.cert)
		dir := t.TempDir()
		u, stop := running(t, Config{Hub: l, Join: "K7M4QX", StateDir: dir})
		until(t, u, "the connection", func(s Status) bool { return s.Phase == Connected })
		stop()
		if got := openMemory(dir).last(); got == nil || got.Fingerprint != l.Fingerprint || !got.TLS {
			t.Errorf("remembered %+v", got)
		}
	})
}

func TestSettingsStatesAndTracks(t *testing.T) {
	bubble(t, func(t *testing.T) {
		h := newFakeHub(t, false)
		u, err := New(Config{Hub: h.link(), Sure: true, Instrument: "trumpet_bb", Join: "K7M4QX", NoMulticast: true, Dial: dialLAN})
		if err != nil {
			t.Fatal(err)
		}
		chunk := track.Chunk{Reference: 233, Rate: 48000}
		u.Track(chunk) // dropped: nobody is connected
		u.Setting(proto.Setting{Slide: "main", MM: 10})
		u.Setting(proto.Setting{Slide: "third", MM: 3})
		u.Setting(proto.Setting{Slide: "main", MM: 12}) // the later one counts
		u.State(proto.State{State: "quiet", Level: -60})
		u.State(proto.State{State: "sounding", Level: -20})
		u.Clock(48000, 48000, time.Now())
		ctx, cancel := context.WithCancel(t.Context())
		done := make(chan error)
		go func() { done <- u.Run(ctx) }()
		until(t, u, "the connection", func(s Status) bool { return s.Phase == Connected })
		u.Track(chunk)
		u.Send(note())
		drained(t, u)
		deadline := time.Now().Add(time.Minute)
		for seen := 0; seen < 6 && time.Now().Before(deadline); time.Sleep(10 * time.Millisecond) {
			h.change(func() { seen = len(h.others) })
		}
		cancel()
		<-done
		count := map[string]int{}
		h.change(func() {
			for _, m := range h.others {
				switch {
				case m.Setting != nil:
					count[string(m.Setting.Slide)] = int(m.Setting.MM)
				case m.State != nil:
					count[m.State.State]++
				case m.Track != nil:
					count["tracks"]++
				case m.Ping != nil && m.Ping.Sample > 0:
					count["pings"]++
				}
			}
		})
		if count["main"] != 12 || count["third"] != 3 || count["sounding"] != 1 || count["quiet"] != 0 || count["tracks"] != 1 || count["pings"] == 0 {
			t.Errorf("the hub got %v", count)
		}
	})
}

func TestClockAgreesWithTheHub(t *testing.T) {
	bubble(t, func(t *testing.T) {
		h := newFakeHub(t, false) // its clock is 100 s ahead
		u, _ := running(t, Config{Hub: h.link(), Join: "K7M4QX"})
		deadline := time.Now().Add(time.Minute)
		for time.Now().Before(deadline) {
			p := u.clock.ping(u.start, time.Now())
			if p.Error > 0 {
				if d := p.Offset - 100; d > p.Error || d < -p.Error {
					t.Errorf("offset %g ± %g, want 100", p.Offset, p.Error)
				}
				return
			}
			time.Sleep(10 * time.Millisecond)
		}
		t.Error("no estimate")
	})
}

// What no hub would take must not hold up what follows.
func TestUnsendableReadings(t *testing.T) {
	bubble(t, func(t *testing.T) {
		h := newFakeHub(t, false)
		u, _ := running(t, Config{Hub: h.link(), Boot: "b1", Join: "K7M4QX"})
		wide := note()
		wide.CI95 = 1e9 // brought within bounds
		u.Send(wide)
		bad := note()
		bad.Hz = -1
		u.Send(bad)
		u.Send(note())
		drained(t, u)
		h.change(func() { inOrder(t, h.got["b1"], 2) })
		if s := u.Status(); s.Dropped != 1 {
			t.Errorf("%+v, want 1 dropped", s)
		}
	})
}

func TestFullQueueSaysSo(t *testing.T) {
	u, err := New(Config{Instrument: "trumpet_bb", NoMulticast: true})
	if err != nil {
		t.Fatal(err)
	}
	for range maxReadings + 7 {
		u.Send(note())
	}
	if s := u.Status(); s.Waiting != maxReadings || s.Dropped != 7 {
		t.Errorf("%+v", s)
	}
	if last := u.queue.after(maxReadings-1, 10); len(last) != 1 || last[0].Sequence != maxReadings {
		t.Errorf("the last kept is %+v", last)
	}
}

func TestManyInOneProcess(t *testing.T) {
	bubble(t, func(t *testing.T) {
		h := newFakeHub(t, false)
		var all []*Uplink
		for range 12 {
			u, _ := running(t, Config{Hub: h.link(), Join: "K7M4QX"})
			u.Send(note())
			all = append(all, u)
		}
		nodes := map[string]bool{}
		for _, u := range all {
			drained(t, u)
			nodes[u.Node()] = true
		}
		if len(nodes) != len(all) {
			t.Errorf("%d identities for %d nodes", len(nodes), len(all))
		}
	})
}

func TestOneNodeToAFolder(t *testing.T) {
	bubble(t, func(t *testing.T) {
		if runtime.GOOS == "windows" {
			t.Skip("no lock there")
		}
		dir := t.TempDir()
		h := newFakeHub(t, false)
		c := Config{Hub: h.link(), Instrument: "trumpet_bb", Join: "K7M4QX", StateDir: dir}
		first, stop := running(t, c)
		until(t, first, "the connection", func(s Status) bool { return s.Phase == Connected })
		second, err := New(c)
		if err != nil {
			t.Fatal(err)
		}
		if err := second.Run(t.Context()); !errors.Is(err, ErrInUse) {
			t.Errorf("second node: %v", err)
		}
		stop()
		third, _ := running(t, c)
		until(t, third, "the connection", func(s Status) bool { return s.Phase == Connected })
	})
}

func TestNewRefuses(t *testing.T) {
	for what, c := range map[string]Config{
		"no instrument":          {},
		"a name without end":     {Instrument: "trumpet_bb", Chair: strings.Repeat("a", 65)},
		"a node id with a slash": {Instrument: "trumpet_bb", Node: "a/b"},
	} {
		if _, err := New(c); !errors.Is(err, proto.ErrInvalid) {
			t.Errorf("%s: %v", what, err)
		}
	}
}

// Full jitter: every wait from 0 to the bound, which doubles and stops.
func TestBackoff(t *testing.T) {
	for failures, most := range []time.Duration{
		500 * time.Millisecond, time.Second, 2 * time.Second, 4 * time.Second, 8 * time.Second, 15 * time.Second, 15 * time.Second,
	} {
		var longest time.Duration
		sum := time.Duration(0)
		const n = 2000
		for range n {
			d := backoff(failures)
			longest = max(longest, d)
			sum += d
		}
		if longest >= most || longest < most*9/10 || sum/n < most*4/10 || sum/n > most*6/10 {
			t.Errorf("after %d failures: longest %v, mean %v, want below %v and half of it", failures, longest, sum/n, most)
		}
	}
	if backoff(1000) >= lastWait {
		t.Error("after many failures")
	}
}

// FuzzSpool: whatever a file holds, what is read from it is in order and valid.
func FuzzSpool(f *testing.F) {
	f.Add([]byte(`{"type":"reading","reading":{"seq":1,"end_s":1,"hz":440,"settled":true}}` + "\n" +
		`{"type":"reading","reading":{"seq":3,"end_s":1,"hz":440,"settled":true}}` + "\n" + `{"type":"read`))
	f.Add([]byte("\n\n\x00"))
	dir := f.TempDir()
	f.Fuzz(func(t *testing.T, data []byte) {
		if err := os.WriteFile(filepath.Join(dir, "b"+spoolSuffix), data, 0o600); err != nil {
			t.Fatal(err)
		}
		rs, err := readSpool(dir, "b")
		if err != nil {
			t.Fatal(err)
		}
		for i, r := range rs {
			if _, err := proto.Encode(proto.Message{Type: proto.TypeReading, Reading: &r}); err != nil {
				t.Fatal(err)
			}
			if i > 0 && r.Sequence <= rs[i-1].Sequence {
				t.Fatalf("%d after %d", r.Sequence, rs[i-1].Sequence)
			}
		}
	})
}
