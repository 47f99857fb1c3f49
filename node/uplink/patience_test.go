package uplink

import (
	"context"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/gorilla/websocket"

	"bellrow/node/clock"
	"bellrow/proto"
	"bellrow/proto/track"
)

// These tests run in a bubble, whose clock goes on when nobody has anything to do.

// TestAfterARefusal: how often a node comes back in an hour, by what the hub said: each minute with
// words that were refused; as often as to nobody where the leader may let it in, or the right hub may
// come up; never to a chair that another has taken. What was refused stays on the screen meanwhile.
func TestAfterARefusal(t *testing.T) {
	const often = int(2 * time.Hour / lastWait) // waits are half of the longest on average
	for _, c := range []struct {
		name    string
		refusal *proto.Error
		proves  string // what the hub can prove
		sure    bool
		phase   Phase
		code    string
		from    int
		to      int
	}{
		{"a wrong code", &proto.Error{Code: proto.CodeWrongCode, Message: "m", Hint: "h", Fatal: true}, "", true, Refused, proto.CodeWrongCode, 59, 62},
		{"the leader is asked", &proto.Error{Code: proto.CodeWaits, Message: "m", Hint: "h"}, "", true, Searching, proto.CodeWaits, often * 8 / 10, often * 12 / 10},
		{"a chair that was taken", &proto.Error{Code: proto.CodeReplaced, Message: "m", Hint: "h", Fatal: true}, "", true, Refused, proto.CodeReplaced, 1, 1},
		{"a false hub", nil, "AAAAAAAA", false, Refused, codeUnproven, often * 8 / 10, often * 12 / 10},
	} {
		bubble(t, func(t *testing.T) {
			h := newFakeHub(t, false)
			h.refusal, h.proves = c.refusal, c.proves
			u, err := New(Config{Instrument: "trumpet_bb", NoMulticast: true, Dial: dialLAN, Hub: h.link(), Join: code, Sure: c.sure})
			if err != nil {
				t.Fatal(err)
			}
			ctx, cancel := context.WithCancel(t.Context())
			done := make(chan error, 1)
			go func() { done <- u.Run(ctx) }()
			var seen []Phase
			watched := make(chan bool)
			go func() {
				defer close(watched)
				for {
					changed := u.Changed()
					if p := u.Status().Phase; len(seen) == 0 || seen[len(seen)-1] != p {
						seen = append(seen, p)
					}
					select {
					case <-changed:
					case <-ctx.Done():
						return
					}
				}
			}()
			time.Sleep(time.Hour)
			s := u.Status()
			if s.Phase != c.phase || s.Code != c.code {
				t.Errorf("%s: %+v", c.name, s)
			}
			tries := len(h.heard())
			if tries < c.from || tries > c.to {
				t.Errorf("%s: %d tries in an hour, want %d to %d", c.name, tries, c.from, c.to)
			}
			cancel()
			<-watched
			if err := <-done; err != nil {
				t.Error(err)
			}
			if i := slices.Index(seen, Refused); i >= 0 && i != len(seen)-1 {
				t.Errorf("%s: after the refusal the screen says %v", c.name, seen[i:])
			}
		})
	}
}

// silentHub is a hub's side of a pipe in the bubble, which a test speaks.
func silentHub(t *testing.T, serve func(ws *websocket.Conn)) *line {
	here, there := net.Pipe()
	return silentHubOn(t, here, there, serve)
}

func silentHubOn(t *testing.T, here, there net.Conn, serve func(ws *websocket.Conn)) *line {
	t.Helper()
	up := websocket.Upgrader{}
	srv := &http.Server{Handler: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		ws, err := up.Upgrade(w, r, nil)
		if err != nil {
			t.Error(err)
			return
		}
		serve(ws)
		ws.Close()
	})}
	one := make(chan net.Conn, 1)
	one <- there
	go srv.Serve(&single{one, make(chan bool)})
	t.Cleanup(func() { srv.Close() })
	d := websocket.Dialer{NetDialContext: func(context.Context, string, string) (net.Conn, error) { return here, nil }}
	ws, _, err := d.Dial("ws://192.0.2.1/", nil)
	if err != nil {
		t.Fatal(err)
	}
	return &line{Conn: ws, address: "192.0.2.1:80"}
}

// single accepts one connection.
type single struct {
	conns chan net.Conn
	ended chan bool
}

func (s *single) Accept() (net.Conn, error) {
	select {
	case c := <-s.conns:
		return c, nil
	case <-s.ended:
		return nil, net.ErrClosed
	}
}
func (s *single) Close() error   { close(s.ended); return nil }
func (s *single) Addr() net.Addr { return &net.TCPAddr{} }

// onPipe is this start's session on a line, in a bubble.
func onPipe(t *testing.T, l *line) *session {
	t.Helper()
	u, err := New(Config{Instrument: "trumpet_bb"})
	if err != nil {
		t.Fatal(err)
	}
	u.outbox.connect(true)
	return &session{uplink: u, queue: u.queue, live: true, line: l}
}

// elsewhere is a connection that was made from an address which is not this laptop's.
type elsewhere struct{ net.Conn }

func (elsewhere) LocalAddr() net.Addr { return &net.TCPAddr{IP: net.IPv4(203, 0, 113, 77), Port: 80} } // RFC 5737

// TestALaptopThatChangedNetworks: its connection ends when its address is looked for, long before the
// silence would tell.
func TestALaptopThatChangedNetworks(t *testing.T) {
	for _, roamed := range []bool{true, false} {
		bubble(t, func(t *testing.T) {
			here, there := net.Pipe()
			if roamed {
				here = elsewhere{here}
			}
			l := silentHubOn(t, here, there, func(ws *websocket.Conn) {
				for {
					if _, _, err := ws.ReadMessage(); err != nil {
						return
					}
				}
			})
			s := onPipe(t, l)
			began := time.Now()
			tr := s.serve(t.Context())
			if took := time.Since(began); tr == nil || tr.code != "unreachable" || took != map[bool]time.Duration{true: lookEvery, false: silence}[roamed] {
				t.Errorf("roamed %v: %v after %v", roamed, tr, took)
			}
		})
	}
}

// TestWhatTheHubComplainsOf: an error that ends nothing ends nothing; one that is final does, and
// so does another section, with the hub's own words.
func TestWhatTheHubComplainsOf(t *testing.T) {
	for _, e := range []proto.Error{{Code: proto.CodeSection, Message: "another section", Hint: "wait"}, {Code: proto.CodeReplaced, Message: "taken", Hint: "ask", Fatal: true}} {
		bubble(t, func(t *testing.T) {
			s := onPipe(t, silentHub(t, func(ws *websocket.Conn) {
				go func() {
					for {
						if _, _, err := ws.ReadMessage(); err != nil {
							return
						}
					}
				}()
				for _, say := range []*proto.Error{{Code: proto.CodeBadMessage, Message: "odd"}, &e} {
					time.Sleep(time.Second)
					data, err := proto.Encode(proto.Message{Type: proto.TypeError, Error: say})
					if err != nil {
						t.Error(err)
					}
					ws.WriteMessage(websocket.TextMessage, data)
				}
				time.Sleep(time.Minute)
			}))
			began := time.Now()
			tr := s.serve(t.Context())
			if took := time.Since(began); tr == nil || tr.code != e.Code || tr.message != e.Message || tr.hint != e.Hint || tr.final != e.Fatal || took != 2*time.Second {
				t.Errorf("%+v after %v, want %+v", tr, took, e)
			}
			time.Sleep(2 * time.Minute) // for the hub to end
		})
	}
}

// TestAHubThatTakesNothing: a line on which nothing can be said is over after writeWithin; a message
// that is none is left out, and the line goes on.
func TestAHubThatTakesNothing(t *testing.T) {
	bubble(t, func(t *testing.T) {
		end := make(chan bool)
		s := onPipe(t, silentHub(t, func(*websocket.Conn) { <-end }))
		if err := s.write(proto.Message{Type: proto.TypeReading, Reading: &proto.Reading{Hz: -1}}); err != nil {
			t.Errorf("what is no message: %v", err)
		}
		began := time.Now()
		tr := s.serve(t.Context())
		if took := time.Since(began); tr == nil || tr.code != "unreachable" || took < writeWithin || took > writeWithin+time.Second {
			t.Errorf("%v after %v", tr, took)
		}
		close(end)
	})
}

// TestNothingWaitsForAnother: whatever the node has to say goes at once, not with the next thing.
func TestNothingWaitsForAnother(t *testing.T) {
	bubble(t, func(t *testing.T) {
		heard := map[string]bool{}
		s := onPipe(t, silentHub(t, func(ws *websocket.Conn) {
			for {
				_, data, err := ws.ReadMessage()
				if err != nil {
					return
				}
				for _, what := range []string{"sounding", "german", "\"fr\"", "setting", "track", "reading"} {
					heard[what] = heard[what] || strings.Contains(string(data), what)
				}
			}
		}))
		u := s.uplink
		ctx, cancel := context.WithCancel(t.Context())
		done := make(chan *trouble)
		go func() { done <- s.serve(ctx) }()
		time.Sleep(3*time.Second + time.Millisecond) // between two things that it does by itself
		for what, say := range map[string]func(){
			"setting": func() { u.Setting(proto.Setting{Slide: "main", MM: 3}) }, "track": func() { u.Track(track.Chunk{Reference: 233, Rate: 48000}) },
			"reading": func() { u.Send(note()) }, "sounding": func() { u.State(proto.State{State: "sounding"}) },
		} {
			say()
			synctest.Wait()
			if !heard[what] {
				t.Errorf("%s waits", what)
			}
		}
		u.SetNames("german")
		synctest.Wait()
		if !heard["german"] {
			t.Error("the names wait")
		}
		u.SetLanguage("fr")
		synctest.Wait()
		if !heard["\"fr\""] {
			t.Error("the language waits")
		}
		cancel()
		<-done
	})
}

// TestTheScreenSaysWhatIsTried: while a hub is spoken to.
func TestTheScreenSaysWhatIsTried(t *testing.T) {
	bubble(t, func(t *testing.T) {
		h := newFakeHub(t, false)
		h.mu.Lock() // it does not get round to answering
		u, _ := running(t, Config{Hub: h.link(), Join: code})
		until(t, u, "the trying", func(s Status) bool { return s.Phase == Connecting })
		h.mu.Unlock()
		until(t, u, "the connection", connected)
	})
}

// TestWhatCannotBeKeptIsSaid: of a folder that takes no files.
func TestWhatCannotBeKeptIsSaid(t *testing.T) {
	const dir = "/proc/self/fdinfo" // of Linux; nobody can make files there
	if _, err := os.Stat(dir); err != nil {
		t.Skip("no such folder on this system")
	}
	if _, err := New(Config{Instrument: "trumpet_bb", StateDir: dir}); err == nil || !strings.Contains(err.Error(), "identity") {
		t.Errorf("%v", err)
	}
	m := openMemory(dir)
	if err := m.put(known{ID: "x"}); err == nil || m.get("x").ID != "x" {
		t.Errorf("%v, %+v", err, m.get("x"))
	}
}

// TestASilentHub: an answer is waited for handshakeWithin, however much else is said; less where the
// one who asks goes away; a connection ends when nothing was said for silence.
func TestASilentHub(t *testing.T) {
	never := func(proto.Message) bool { return false }
	bubble(t, func(t *testing.T) {
		s := onPipe(t, silentHub(t, func(ws *websocket.Conn) {
			for range 4 {
				ws.WriteMessage(websocket.TextMessage, []byte(`{"type":"applause","applause":1}`))
				time.Sleep(time.Second)
			}
			ws.ReadMessage()
		}))
		began := time.Now()
		_, tr := s.answer(never)
		if took := time.Since(began); tr == nil || tr.code != "unreachable" || took != handshakeWithin {
			t.Errorf("%v after %v", tr, took)
		}
		s.line.Close()
	})
	bubble(t, func(t *testing.T) {
		s := onPipe(t, silentHub(t, func(ws *websocket.Conn) { ws.ReadMessage() }))
		ctx, cancel := context.WithTimeout(t.Context(), time.Second)
		defer cancel()
		began := time.Now()
		tr := s.within(ctx, func() *trouble { _, tr := s.answer(never); return tr })
		if took := time.Since(began); tr == nil || took != time.Second {
			t.Errorf("%v after %v", tr, took)
		}
	})
	bubble(t, func(t *testing.T) {
		pings, pongs := 0, 0
		s := onPipe(t, silentHub(t, func(ws *websocket.Conn) {
			ws.SetPongHandler(func(string) error { pongs++; return nil })
			read := make(chan bool)
			go func() {
				defer close(read)
				for {
					_, data, err := ws.ReadMessage()
					if err != nil {
						return
					}
					if strings.Contains(string(data), `"ping"`) {
						pings++
					}
				}
			}()
			for range 8 {
				time.Sleep(silence - time.Second)
				ws.WriteControl(websocket.PingMessage, nil, time.Now().Add(time.Second))
			}
			<-read
		}))
		began := time.Now()
		tr := s.serve(t.Context())
		took, whole := time.Since(began), 8*(silence-time.Second)+silence
		if tr == nil || tr.code != "unreachable" || took != whole || pongs != 8 {
			t.Errorf("%v after %v, want %v; %d pongs", tr, took, whole, pongs)
		}
		// A burst of pings, and then one each while.
		burst := float64(clock.Kept-1) * clock.Burst
		if want := clock.Kept + int((whole.Seconds()-burst)/clock.Every); pings != want {
			t.Errorf("%d pings in %v, want %d", pings, took, want)
		}
	})
}

// TestTracksAskForTheClock: while tracks go out the clock is asked for each TrackEvery, not with each.
func TestTracksAskForTheClock(t *testing.T) {
	bubble(t, func(t *testing.T) {
		var pings, tracks int
		l := silentHub(t, func(ws *websocket.Conn) {
			for {
				_, data, err := ws.ReadMessage()
				switch {
				case err != nil:
					return
				case strings.Contains(string(data), `"ping"`):
					pings++
				case strings.Contains(string(data), `"track"`):
					tracks++
				}
			}
		})
		s := onPipe(t, l)
		u := s.uplink
		ctx, cancel := context.WithCancel(t.Context())
		done := make(chan *trouble)
		go func() { done <- s.serve(ctx) }()
		time.Sleep(3 * time.Second) // the burst is over
		synctest.Wait()
		before := pings
		for range 80 { // eight seconds, in which nothing else asks
			u.Track(track.Chunk{Reference: 233, Rate: 48000})
			time.Sleep(time.Second / 10)
		}
		synctest.Wait()
		if tracks != 80 || pings-before < 7 || pings-before > 9 {
			t.Errorf("%d tracks, %d pings beside them", tracks, pings-before)
		}
		cancel()
		<-done
	})
}

// TestWhenTheLineIsGone: tracks are for who is there; settings wait.
func TestWhenTheLineIsGone(t *testing.T) {
	bubble(t, func(t *testing.T) {
		h := newFakeHub(t, false)
		u, stop := running(t, Config{Hub: h.link(), Join: code})
		until(t, u, "the connection", connected)
		if !u.outbox.addTrack(track.Chunk{}) {
			t.Error("no track is taken on a line")
		}
		stop()
		if u.outbox.addTrack(track.Chunk{}) {
			t.Error("a track is taken for nobody")
		}
	})
}

// forgotten is a hub that does not know a laptop's token any more, the folder where that
// laptop keeps it, and what it was told.
func forgotten(t *testing.T) (h *fakeHub, dir string, told Status) {
	t.Helper()
	h, dir = newFakeHub(t, false), t.TempDir()
	h.proves = code
	u, stop := trusting(t, Config{Hub: h.link(), Join: code, StateDir: dir})
	until(t, u, "the connection", connected)
	stop()
	h.change(func() { h.tokens = map[string]string{u.Node(): "another"} })
	u, stop = trusting(t, Config{StateDir: dir})
	told = until(t, u, "the refusal", func(s Status) bool { return s.Code == proto.CodeWrongToken })
	stop()
	return h, dir, told
}

// TestATokenThatIsNotKnownAnyMore: the code gets a new one, where the player has given it.
func TestATokenThatIsNotKnownAnyMore(t *testing.T) {
	bubble(t, func(t *testing.T) {
		h, dir, _ := forgotten(t)
		u, stop := trusting(t, Config{StateDir: dir, Join: code})
		until(t, u, "the connection", connected)
		stop()
		hellos := h.heard()
		if last := hellos[len(hellos)-1]; last.Prove.By != proto.ByCode || h.tokens[u.Node()] == "another" {
			t.Errorf("came by %+v", last.Prove)
		}
		u, stop = trusting(t, Config{StateDir: dir}) // and has it kept
		until(t, u, "the connection", connected)
		stop()
	})
}

// TestSpoolsThatCannotBeRead: one that is a folder stays and holds nothing up; an empty one goes;
// lines that come twice or late are left out.
func TestSpoolsThatCannotBeRead(t *testing.T) {
	bubble(t, func(t *testing.T) {
		dir := t.TempDir()
		if err := os.MkdirAll(filepath.Join(dir, "x"+spoolSuffix, "full"), 0o700); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, "y"+spoolSuffix), nil, 0o600); err != nil {
			t.Fatal(err)
		}
		var lines []byte
		for _, seq := range []uint64{2, 2, 1, 2, 3, 3, 5} {
			r := note()
			r.Sequence = seq
			line, err := proto.Encode(proto.Message{Type: proto.TypeReading, Reading: &r})
			if err != nil {
				t.Fatal(err)
			}
			lines = append(append(lines, line...), '\n')
		}
		if err := os.WriteFile(filepath.Join(dir, "z"+spoolSuffix), lines, 0o600); err != nil {
			t.Fatal(err)
		}
		rs, err := readSpool(dir, "z")
		if got := sequences(rs); err != nil || !slices.Equal(got, []uint64{2, 3, 5}) {
			t.Errorf("%v, %v", got, err)
		}
		if _, err := readSpool(dir, "x"); err == nil {
			t.Error("a folder was read")
		}
		os.Remove(filepath.Join(dir, "z"+spoolSuffix))
		h := newFakeHub(t, false)
		u, stop := running(t, Config{Hub: h.link(), Join: code, StateDir: dir})
		u.Send(note())
		drained(t, u)
		stop()
		left, err := filepath.Glob(filepath.Join(dir, "*"+spoolSuffix))
		if err != nil || !slices.Equal(left, []string{filepath.Join(dir, "x"+spoolSuffix)}) {
			t.Errorf("left: %v, %v", left, err)
		}
	})
}
