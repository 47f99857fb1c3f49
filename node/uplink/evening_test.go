package uplink

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"math/rand/v2"
	"net"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"testing/synctest"
	"time"

	"github.com/gorilla/websocket"

	"bellrow/node/find"
	"bellrow/proto"
	"bellrow/proto/instrument"
)

// evening is a laptop's, in which it is started again and again, beside two hubs.
type evening struct {
	*testing.T
	*rand.Rand
	dir    string
	hubs   []*fakeHub
	at     int // the hub that the player means
	u      *Uplink
	stop   func()
	starts int
	played []int // the start of each note; its end, counted from one, tells it apart
}

func (e *evening) start() {
	e.starts++
	e.u, e.stop = running(e.T, Config{StateDir: e.dir, Hub: e.hubs[e.at].link(), Join: code})
}

// happens is something that may happen while a section plays.
func (e *evening) happens(others bool) {
	h := e.hubs[e.at]
	switch k := e.IntN(12); {
	case k < 5:
		for range 1 + e.IntN(4) {
			n := note()
			n.End = float64(len(e.played) + 1)
			n.Round = e.u.View().Round
			e.u.Send(n)
			e.played = append(e.played, e.starts)
		}
	case k < 7:
		h.change(func() { h.dropAt = 1 + e.IntN(3) })
	case k < 8:
		h.change(func() { h.mute = !h.mute })
	case k < 9:
		h.change(func() {
			h.refusal = nil
			if e.IntN(2) == 0 {
				h.refusal = &proto.Error{Code: proto.CodeTrouble, Message: "a full disk", Hint: "wait"}
			}
		})
	case k < 10:
		h.change(func() { h.room = e.IntN(3) - 1 })
	case k < 11:
		e.stop()
		e.start()
	case others:
		e.at = 1 - e.at
		e.u.Rejoin(e.hubs[e.at].link())
	}
	time.Sleep(time.Duration(e.IntN(int(20 * time.Second))))
}

// TestAnEveningLosesNothing: whatever happens to the line, to the hub and to the program, each note
// that was played reaches the hub, those of one start in the order in which they were played, once; where the player goes from
// one hub to another, one of them at least. A note answers a round of the hub that it was played for,
// and none of another's. What is on the screen is what is.
func TestAnEveningLosesNothing(t *testing.T) {
	for seed := range uint64(map[bool]int{true: 12, false: 60}[testing.Short()]) {
		others := seed%2 == 1
		bubble(t, func(t *testing.T) {
			one, two := newFakeHub(t, false), newFakeHub(t, false)
			one.asks, two.asks, two.id = 1, 2, "hub2"
			e := &evening{T: t, Rand: rand.New(rand.NewPCG(seed, 5)), dir: t.TempDir(), hubs: []*fakeHub{one, two}}
			e.start()
			for range 40 {
				e.happens(others)
				synctest.Wait()
				e.screen(seed)
			}
			for _, h := range e.hubs {
				h.change(func() { h.mute, h.refusal, h.room, h.dropAt = false, nil, -1, 0 })
			}
			time.Sleep(2 * lastWait)
			drained(t, e.u)
			until(t, e.u, "the connection", connected)
			e.screen(seed)
			e.stop()
			if left := spools(t, e.dir); len(left) != 0 {
				t.Errorf("seed %d: left on the disk: %v", seed, left)
			}
			reached := map[float64]bool{}
			for i, h := range e.hubs {
				last, once := map[int]float64{}, map[float64]bool{}
				for _, r := range h.readings() {
					start := e.played[int(r.End)-1]
					if !others && r.End <= last[start] {
						t.Errorf("seed %d: note %g after %g", seed, r.End, last[start])
					}
					if r.Round != 0 && r.Round != int64(i+1) {
						t.Errorf("seed %d: note %g answers round %d of another hub than %s", seed, r.End, r.Round, h.id)
					}
					last[start], reached[r.End], once[r.End] = r.End, true, true
				}
				if !others && len(once) != len(h.readings()) {
					t.Errorf("seed %d: %d of %d kept once", seed, len(once), len(h.readings()))
				}
			}
			if len(reached) != len(e.played) {
				t.Errorf("seed %d: %d of %d notes reached a hub", seed, len(reached), len(e.played))
			}
		})
	}
}

// screen compares what the player reads with what is.
func (e *evening) screen(seed uint64) {
	e.Helper()
	s := e.u.Status()
	if s.Waiting != e.u.queue.len() || s.Dropped != 0 {
		e.Errorf("seed %d: %d wait, on the screen %+v", seed, e.u.queue.len(), s)
	}
	is := s.Phase == Connected
	if h := e.hubs[e.at]; is != (s.Hub != "") || is != (s.Section != "") || is && (s.Hub != h.id || s.Code != "" || s.Message != "" || s.Hint != "") {
		e.Errorf("seed %d: at %s the screen says %+v", seed, h.id, s)
	}
	if (s.Code == "") != (s.Message == "") || (s.Code == "") != (s.Hint == "") {
		e.Errorf("seed %d: half a trouble: %+v", seed, s)
	}
}

// phases watches what is on the screen, each time that it changes.
func phases(t *testing.T, u *Uplink) func() []Status {
	var seen []Status
	stop, done := make(chan bool), make(chan bool)
	go func() {
		defer close(done)
		for {
			changed := u.Changed()
			if s := u.Status(); len(seen) == 0 || seen[len(seen)-1] != s {
				seen = append(seen, s)
			}
			select {
			case <-changed:
			case <-stop:
				return
			}
		}
	}()
	return func() []Status { close(stop); <-done; return seen }
}

// TestTheScreenKeepsARefusal: while the refused words are tried again, however long the hub takes to
// answer; what the player types takes it away only when it is answered.
func TestTheScreenKeepsARefusal(t *testing.T) {
	bubble(t, func(t *testing.T) {
		h := newFakeHub(t, false)
		h.refusal = &proto.Error{Code: proto.CodeWrongCode, Message: "m", Hint: "h", Fatal: true}
		h.slow = 2 * time.Second
		u, stop := running(t, Config{Hub: h.link(), Join: "AAAAAA"})
		until(t, u, "the refusal", func(s Status) bool { return s.Phase == Refused })
		seen := phases(t, u)
		time.Sleep(3 * refusedWait)
		u.Rejoin(proto.Link{Code: "BBBBBB"})
		time.Sleep(h.slow + time.Second)
		if got := seen(); len(got) != 1 || got[0].Phase != Refused || got[0].Code != proto.CodeWrongCode {
			t.Errorf("it says %+v", got)
		}
		if n := len(h.heard()); n != 4 || h.heard()[n-1].Join != "BBBBBB" {
			t.Errorf("said %+v", h.heard())
		}
		h.change(func() { h.refusal = nil })
		u.Rejoin(proto.Link{Code: code})
		if s := until(t, u, "the connection", connected); s.Code != "" || s.Message != "" || s.Hint != "" {
			t.Errorf("%+v", s)
		}
		stop()
	})
}

// TestWhatAnEarlierStartLeftStays: where the player goes to another hub before it is acknowledged; that
// one gets it.
func TestWhatAnEarlierStartLeftStays(t *testing.T) {
	bubble(t, func(t *testing.T) {
		dir := t.TempDir()
		q := newQueue("b1", newSpool(dir, "b1"), nil)
		for range 3 {
			if err := q.put(note()); err != nil {
				t.Fatal(err)
			}
		}
		one, two := newFakeHub(t, false), newFakeHub(t, false)
		one.mute, two.id = true, "hub2"
		u, stop := running(t, Config{Hub: one.link(), Join: code, StateDir: dir})
		time.Sleep(silence / 2) // it hears them, and says nothing
		if left := spools(t, dir)["b1"]; len(left) != 3 || len(one.readings()) != 3 {
			t.Errorf("%d on the disk, %d heard", len(left), len(one.readings()))
		}
		seen := phases(t, u)
		u.Rejoin(two.link())
		until(t, u, "the other hub", func(s Status) bool { return s.Hub == "hub2" })
		for _, s := range seen() {
			if s.Code != "" {
				t.Errorf("going elsewhere is no trouble: %+v", s)
			}
		}
		stop()
		if len(two.readings()) != 3 || len(spools(t, dir)) != 0 {
			t.Errorf("the other hub has %d, left %v", len(two.readings()), spools(t, dir))
		}
	})
}

// readings are what a hub has kept.
func (h *fakeHub) readings() (all []proto.Reading) {
	h.change(func() { all = slices.Clone(h.kept) })
	return all
}

// calls are when a hub was called.
func (h *fakeHub) called() (at []time.Time) {
	h.change(func() { at = slices.Clone(h.calls) })
	return at
}

// TestHowLongAnAddressIsTried: the next of a hub's addresses is tried a moment after one that does not
// answer, and at once after one that refuses; one that never answers is given up after connectWithin,
// and so is one that takes the connection and says nothing.
func TestHowLongAnAddressIsTried(t *testing.T) {
	open := func(t *testing.T, addresses ...string) (took time.Duration, s *session, tr *trouble) {
		u, err := New(Config{Instrument: "trumpet_bb", Join: code, Dial: dialLAN})
		if err != nil {
			t.Fatal(err)
		}
		began := time.Now()
		s, tr = u.open(t.Context(), find.Hub{Name: "Quay", Addresses: addresses}, u.queue, true)
		return time.Since(began), s, tr
	}
	for _, c := range []struct {
		before []string
		takes  time.Duration
	}{
		{nil, 0}, {[]string{"192.0.2.1:7440"}, nextAddress}, {[]string{"192.0.2.1:7440", "192.0.2.2:7440", "192.0.2.3:7440"}, 3 * nextAddress},
		{[]string{"127.0.0.1:1", "127.0.0.1:2"}, 0}, {[]string{"192.0.2.1:7440", "127.0.0.1:1"}, nextAddress},
	} {
		bubble(t, func(t *testing.T) {
			h := newFakeHub(t, false)
			h.proves = code
			took, s, tr := open(t, append(c.before, h.link().Address)...)
			if tr != nil || took != c.takes || s.line.address != h.link().Address {
				t.Fatalf("after %v: %v, %v, want %v", c.before, tr, took, c.takes)
			}
			s.line.Close()
		})
	}
	bubble(t, func(t *testing.T) {
		if took, _, tr := open(t, "192.0.2.1:7440"); tr == nil || tr.code != "unreachable" || took != connectWithin {
			t.Errorf("%v after %v", tr, took)
		}
		if took, _, tr := open(t, "192.0.2.1:7440", "192.0.2.2:7440"); tr == nil || took != nextAddress+connectWithin {
			t.Errorf("of two: %v after %v", tr, took)
		}
		if took, _, tr := open(t); tr == nil || tr.code != "unreachable" || took != 0 || tr.message != "the hub at Quay cannot be reached" {
			t.Errorf("of none: %v after %v", tr, took)
		}
		dumb := listen()
		go func() {
			c, err := dumb.Accept()
			if err != nil {
				t.Error(err)
				return
			}
			time.Sleep(time.Minute)
			c.Close()
		}()
		if took, _, tr := open(t, dumb.addr.String()); tr == nil || tr.code != "unreachable" || took != connectWithin {
			t.Errorf("who says nothing: %v after %v", tr, took)
		}
		dumb.Close()
		time.Sleep(time.Minute)
	})
}

// TestAHubIsCalledByItsAddress: which it knows, by whatever name it goes.
func TestAHubIsCalledByItsAddress(t *testing.T) {
	bubble(t, func(t *testing.T) {
		h := newFakeHub(t, false)
		u, stop := running(t, Config{Hub: h.link(), Join: code})
		until(t, u, "the connection", connected)
		stop()
		if !slices.Equal(h.hosts, []string{h.link().Address}) {
			t.Errorf("called as %v", h.hosts)
		}
	})
}

// TestHowSoonItComesBack: a connection that held is looked for again within firstWait; the ones after
// failures wait longer, twice as long each time until lastWait. So does one that ends early.
func TestHowSoonItComesBack(t *testing.T) {
	for _, c := range []struct {
		holds        time.Duration
		least, most  time.Duration // of the mean wait
		longest      time.Duration
		says, inCode string
	}{
		{lastWait + time.Second, firstWait * 4 / 10, firstWait * 6 / 10, firstWait, "held", "closed"},
		{lastWait, lastWait * 35 / 100, lastWait * 6 / 10, lastWait, "held to the moment", "closed"},
		{lastWait - time.Second, lastWait * 35 / 100, lastWait * 6 / 10, lastWait, "ended early", "closed"},
	} {
		bubble(t, func(t *testing.T) {
			h := newFakeHub(t, false)
			h.holds = c.holds
			u, stop := running(t, Config{Hub: h.link(), Join: code})
			time.Sleep(200 * (c.holds + c.most))
			if s := until(t, u, "an end", func(s Status) bool { return s.Phase != Connected }); s.Code != c.inCode {
				t.Errorf("%s: %+v", c.says, s)
			}
			stop()
			at := h.called()
			var sum, longest time.Duration
			for i := range at[:len(at)-1] {
				wait := at[i+1].Sub(at[i]) - c.holds
				sum, longest = sum+wait, max(longest, wait)
			}
			if mean := sum / time.Duration(len(at)-1); len(at) < 100 || mean < c.least || mean > c.most || longest > c.longest || longest < c.longest*8/10 {
				t.Errorf("%s: %d calls, waits of %v on average, at most %v", c.says, len(at), mean, longest)
			}
		})
	}
}

// TestSettingsThatDoNotGo: what a line did not take goes on the next one, the latest of each slide.
func TestSettingsThatDoNotGo(t *testing.T) {
	slides := []string{"main", "third", "first", "second"}
	for breaks := range len(slides) + 1 {
		bubble(t, func(t *testing.T) {
			heard := map[string]float64{}
			hub := func(taking int) *line {
				return silentHub(t, func(ws *websocket.Conn) {
					for range taking {
						_, data, err := ws.ReadMessage()
						if err != nil {
							return
						}
						m, err := proto.Decode(data)
						if err != nil || m.Setting == nil {
							t.Errorf("%s: %v", data, err)
							return
						}
						heard[string(m.Setting.Slide)] = m.Setting.MM
					}
					if taking == len(slides) {
						ws.ReadMessage() // the ping that asks whether they are there
					}
				})
			}
			s := onPipe(t, hub(breaks))
			for i, slide := range slides {
				s.uplink.Setting(proto.Setting{Slide: instrument.SlideID(slide), MM: float64(i + 1)})
			}
			err := s.flush()
			synctest.Wait()
			if (err == nil) != (breaks == len(slides)) || len(heard) != breaks {
				t.Errorf("of %d taken %d: %v", breaks, len(heard), err)
			}
			s.line.Close()
			s.uplink.Setting(proto.Setting{Slide: "main", MM: 9})
			s.uplink.outbox.connect(true)
			s.line = hub(len(slides))
			if err := s.flush(); err != nil {
				t.Error(err)
			}
			synctest.Wait()
			s.line.Close()
			for i, slide := range slides {
				want := float64(i + 1)
				if slide == "main" {
					want = 9
				}
				if heard[slide] != want {
					t.Errorf("broken off at %d: %s stands at %g, want %g", breaks, slide, heard[slide], want)
				}
			}
		})
	}
}

// TestASettingThatALineLost: what was written as a line died, and reached nobody, goes on the next one, however often that
// happens; what the hub has taken does not go again.
func TestASettingThatALineLost(t *testing.T) {
	for loses := range 4 {
		bubble(t, func(t *testing.T) {
			h := newFakeHub(t, false)
			h.loses = loses
			u, stop := running(t, Config{Hub: h.link(), Join: code})
			u.Setting(proto.Setting{Slide: "main", MM: 5})
			time.Sleep(time.Minute)
			u.Setting(proto.Setting{Slide: "third", MM: 7})
			time.Sleep(time.Minute)
			h.change(func() { h.dropAt = 1 })
			u.Send(note()) // ends the line
			time.Sleep(time.Minute)
			stop()
			var taken []string
			h.change(func() {
				for _, m := range h.others {
					if m.Setting != nil {
						taken = append(taken, fmt.Sprint(m.Setting.Slide, " ", m.Setting.MM))
					}
				}
			})
			if !slices.Equal(taken, []string{"main 5", "third 7"}) || h.loses != 0 {
				t.Errorf("a hub that lost %d settings, %d of them not yet, took %v", loses, h.loses, taken)
			}
		})
	}
}

// TestFallbackWhereNothingCanBeSearched: by whatever cause; not where a hub was found and refused.
func TestFallbackWhereNothingCanBeSearched(t *testing.T) {
	bubble(t, func(t *testing.T) {
		h, refusing := newFakeHub(t, false), newFakeHub(t, false)
		refusing.refusal = &proto.Error{Code: proto.CodeWrongCode, Message: "m", Hint: "h", Fatal: true}
		u, stop := running(t, Config{Hub: refusing.link(), Fallback: h.link(), Join: code})
		time.Sleep(5 * time.Minute)
		if s := u.Status(); s.Code != proto.CodeWrongCode || len(h.called()) != 0 {
			t.Errorf("%+v; the other was called %d times", s, len(h.called()))
		}
		stop()
		nobody := func() []net.Interface { return nil }
		u, stop = running(t, Config{Interfaces: nobody, Join: code})
		if s := until(t, u, "an answer", func(s Status) bool { return s.Code != "" }); s.Code != "no-network" {
			t.Errorf("%+v", s)
		}
		stop()
		u, stop = running(t, Config{Interfaces: nobody, Fallback: h.link(), Join: code})
		until(t, u, "the fallback", connected)
		stop()
	})
}

// TestAnEndedRunReturns: at once, wherever it stands.
func TestAnEndedRunReturns(t *testing.T) {
	for after := time.Duration(0); after < 40*time.Second; after += 1300 * time.Millisecond {
		bubble(t, func(t *testing.T) {
			h := newFakeHub(t, false)
			h.slow, h.holds = 3*time.Second, 5*time.Second
			u, err := New(Config{Instrument: "trumpet_bb", NoMulticast: true, Dial: dialLAN, Sure: true, Hub: h.link(), Join: code, StateDir: t.TempDir()})
			if err != nil {
				t.Fatal(err)
			}
			u.Send(note())
			ctx, cancel := context.WithTimeout(t.Context(), after)
			defer cancel()
			began := time.Now()
			if err := u.Run(ctx); err != nil || time.Since(began) > after+time.Second {
				t.Errorf("%v after %v of %v", err, time.Since(began), after)
			}
			time.Sleep(time.Minute)
		})
	}
}

// TestAFolderThatGoesAway: what cannot be written is played on, counted as waiting, and told to the log
// alone; a disk that comes back has all of it.
func TestAFolderThatGoesAway(t *testing.T) {
	bubble(t, func(t *testing.T) {
		dir := filepath.Join(t.TempDir(), "state")
		q := newQueue("b", newSpool(dir, "b"), nil)
		for i := range 3 {
			if err := q.put(note()); !errors.Is(err, errUnsaved) {
				t.Errorf("put %d: %v", i, err)
			}
		}
		if err := os.Mkdir(dir, 0o700); err != nil {
			t.Fatal(err)
		}
		if err := q.put(note()); err != nil {
			t.Error(err)
		}
		if got := fmt.Sprint(sequences(spools(t, dir)["b"])); got != "[1 2 3 4]" {
			t.Errorf("on the disk %s", got)
		}
		if err := q.acknowledge(4); err != nil {
			t.Error(err)
		}
		if err := q.spool.close(); err != nil || len(spools(t, dir)) != 0 {
			t.Errorf("%v, left %v", err, spools(t, dir))
		}
	})
}

// TestRoundsOfAHubThatWasLeft: a note that answers one hub's round, played when the next hub has not
// shown anything yet, answers none there; nor at a hub that was put back, where that number may be
// another round's.
func TestRoundsOfAHubThatWasLeft(t *testing.T) {
	bubble(t, func(t *testing.T) {
		one, two := newFakeHub(t, false), newFakeHub(t, false)
		one.asks, two.id = 7, "hub2"
		u, stop := running(t, Config{Hub: one.link(), Join: code})
		play := func() {
			n := note()
			n.Round = u.View().Round
			u.Send(n)
		}
		until(t, u, "the first hub", connected)
		time.Sleep(time.Second)
		play()
		time.Sleep(time.Second)
		two.room = 1 // for the connection on which it says that it has none of these numbers
		u.Rejoin(two.link())
		until(t, u, "the want of room", func(s Status) bool { return s.Code == "full" })
		play()
		two.change(func() { two.room = -1 })
		drained(t, u)
		u.Rejoin(one.link())
		until(t, u, "the first hub again", func(s Status) bool { return s.Hub == "hub1" })
		time.Sleep(time.Second)
		play()
		drained(t, u)
		stop()
		if !slices.Equal(one.rounds, []int64{7, 7}) || !slices.Equal(two.rounds, []int64{0}) {
			t.Errorf("the first was answered %v, the other %v", one.rounds, two.rounds)
		}
	})
}

// TestOneLineIsKept: of several addresses that answer at once one, and the others are let go.
func TestOneLineIsKept(t *testing.T) {
	for range 20 {
		bubble(t, func(t *testing.T) {
			one, two, three := newFakeHub(t, false), newFakeHub(t, false), newFakeHub(t, false)
			one.slow, two.slow = 2*nextAddress, nextAddress
			for _, h := range []*fakeHub{one, two, three} {
				h.proves = code
			}
			u, err := New(Config{Instrument: "trumpet_bb", Join: code, Dial: dialLAN})
			if err != nil {
				t.Fatal(err)
			}
			s, tr := u.open(t.Context(), find.Hub{ID: "hub1", Addresses: []string{one.link().Address, two.link().Address, three.link().Address}}, u.queue, true)
			if tr != nil {
				t.Fatal(tr)
			}
			synctest.Wait()
			open := 0
			for _, h := range []*fakeHub{one, two, three} {
				h.change(func() { open += h.open })
			}
			if open != 1 {
				t.Errorf("%d lines are open", open)
			}
			s.line.Close()
		})
	}
}

// TestAnOlderHubThatMoved: one that cannot prove itself is confirmed at an address; at another it is asked
// about anew and hears nothing, and so is one of which it was never said that it was confirmed.
func TestAnOlderHubThatMoved(t *testing.T) {
	for _, c := range []struct {
		what    string
		older   bool
		proved  bool
		there   bool
		trouble string
	}{
		{"confirmed here", true, false, true, ""}, {"confirmed elsewhere", true, false, false, codeOlder},
		{"not confirmed", false, false, true, codeOlder}, {"it could prove itself once", true, true, true, codeUnproven},
	} {
		bubble(t, func(t *testing.T) {
			h := newFakeHub(t, false)
			u, err := New(Config{Instrument: "trumpet_bb", Join: code, Dial: dialLAN})
			if err != nil {
				t.Fatal(err)
			}
			k := known{ID: "hub1", Addresses: []string{"198.51.100.250:7440"}, Older: c.older, Proved: c.proved, Token: "t"}
			if c.there {
				k.Addresses = append(k.Addresses, h.link().Address)
			}
			u.memory.put(k)
			s, tr := u.open(t.Context(), find.Hub{ID: "hub1", Addresses: []string{h.link().Address}}, u.queue, true)
			if tr == nil {
				s, tr = s.settle(t.Context())
			}
			if tr == nil {
				s.line.Close()
			}
			if tr == nil {
				tr = &trouble{}
			}
			if tr.code != c.trouble || c.trouble != "" && len(h.heard()) != 0 {
				t.Errorf("%s: %v, heard %+v", c.what, tr, h.heard())
			}
		})
	}
}

// TestALineThatTakesNothing: at whatever point of the greeting, the hub cannot be reached.
func TestALineThatTakesNothing(t *testing.T) {
	for what, say := range map[string]func(s *session) *trouble{
		"proof": func(s *session) *trouble { return s.prove(known{}) }, "entrance": (*session).enter,
	} {
		bubble(t, func(t *testing.T) {
			s := onPipe(t, silentHub(t, func(*websocket.Conn) {}))
			s.uplink.join = code
			s.line.NetConn().Close()
			began := time.Now()
			if tr := s.within(t.Context(), func() *trouble { return say(s) }); tr == nil || tr.code != "unreachable" || tr.cause == nil || time.Since(began) > 0 {
				t.Errorf("%s: %v after %v", what, tr, time.Since(began))
			}
		})
	}
}

// TestWhoIsToldNothing: a hub of another id than the one that was meant, and any hub where there is
// neither code nor token.
func TestWhoIsToldNothing(t *testing.T) {
	for _, c := range []struct{ id, code, trouble string }{{"hub2", code, "other-hub"}, {"hub1", "", proto.CodeWrongCode}, {"hub1", "nonsense!", proto.CodeWrongCode}} {
		bubble(t, func(t *testing.T) {
			h := newFakeHub(t, false)
			h.proves = code
			u, err := New(Config{Instrument: "trumpet_bb", Join: c.code, Dial: dialLAN})
			if err != nil {
				t.Fatal(err)
			}
			_, tr := u.open(t.Context(), find.Hub{ID: c.id, Addresses: []string{h.link().Address}}, u.queue, true)
			if tr == nil || tr.code != c.trouble || len(h.heard()) != 0 {
				t.Errorf("%+v: %v, heard %+v", c, tr, h.heard())
			}
		})
	}
}

// TestDrainHasItsTime: of readings that go nowhere.
func TestDrainHasItsTime(t *testing.T) {
	bubble(t, func(t *testing.T) {
		u, err := New(Config{Instrument: "trumpet_bb"})
		if err != nil {
			t.Fatal(err)
		}
		if err := u.Drain(t.Context()); err != nil {
			t.Error(err)
		}
		u.Send(note())
		ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
		defer cancel()
		if err := u.Drain(ctx); !errors.Is(err, context.DeadlineExceeded) {
			t.Errorf("%v", err)
		}
	})
}

// TestNumbersThatCannotBeSaved: where the spool under new numbers cannot be made, the old one stays with
// all that waits; the new one has it once it can be.
func TestNumbersThatCannotBeSaved(t *testing.T) {
	dir := t.TempDir()
	again := newQueue("b1", nil, nil)
	if err := again.renumber(); err != nil {
		t.Fatal(err)
	}
	inTheWay := filepath.Join(dir, again.identity()+spoolSuffix)
	if err := os.Mkdir(inTheWay, 0o700); err != nil {
		t.Fatal(err)
	}
	q := newQueue("b1", newSpool(dir, "b1"), nil)
	for range 3 {
		if err := q.put(note()); err != nil {
			t.Fatal(err)
		}
	}
	if err := q.renumber(); !errors.Is(err, errUnsaved) {
		t.Errorf("%v", err)
	}
	old, err := readSpool(dir, "b1")
	if err != nil || len(old) != 3 || q.len() != 3 {
		t.Errorf("%d in the old spool, %d wait, %v", len(old), q.len(), err)
	}
	os.Remove(inTheWay)
	if err := q.put(note()); err != nil {
		t.Error(err)
	}
	if got := fmt.Sprint(sequences(spools(t, dir)[q.identity()])); got != "[1 2 3 4]" {
		t.Errorf("in the new one %s", got)
	}
	if err := q.spool.close(); err != nil {
		t.Error(err)
	}
}

// TestWhoComesIsTold: all that the player gave, names as they are written; whichever way the hub is entered.
func TestWhoComesIsTold(t *testing.T) {
	for _, proves := range []string{"", code} {
		bubble(t, func(t *testing.T) {
			h := newFakeHub(t, false)
			h.proves = proves
			u, stop := running(t, Config{Hub: h.link(), Join: code, Node: "n1", Boot: "b1", Chair: "  Horn  2 ", Part: "Low", Instrument: "horn_f", Device: "Built-in", Rate: 44100, Tracks: true})
			until(t, u, "the connection", connected)
			stop()
			got := h.heard()[0]
			got.Prove, got.Join = nil, ""
			if want := (proto.Hello{Version: proto.Version, Node: "n1", Boot: "b1", Chair: "Horn 2", Part: "Low", Instrument: "horn_f", Device: "Built-in", Rate: 44100, Tracks: true}); got != want {
				t.Errorf("told %+v, want %+v", got, want)
			}
			if u.Node() != "n1" || u.Boot() != "b1" {
				t.Errorf("it is %s, %s", u.Node(), u.Boot())
			}
		})
	}
}

// TestWhoIsLeftIsNotShown: once the player has typed another address, though nobody answers there yet.
func TestWhoIsLeftIsNotShown(t *testing.T) {
	bubble(t, func(t *testing.T) {
		h := newFakeHub(t, false)
		u, stop := running(t, Config{Hub: h.link(), Join: code})
		until(t, u, "the connection", connected)
		u.Rejoin(proto.Link{Address: "192.0.2.1:7440"})
		time.Sleep(time.Second / 2)
		if s := u.Status(); s.Phase != Connecting || s.Hub != "" || s.Section != "" {
			t.Errorf("it shows %+v", s)
		}
		stop()
	})
}

// TestAReadingThatDoesNotGo: the line is over, and the reading waits for the next one.
func TestAReadingThatDoesNotGo(t *testing.T) {
	bubble(t, func(t *testing.T) {
		s := onPipe(t, silentHub(t, func(*websocket.Conn) {}))
		s.line.NetConn().Close()
		s.uplink.Send(note())
		if err := s.flush(); err == nil || s.sent != 0 || s.queue.len() != 1 {
			t.Errorf("%v, sent up to %d, %d wait", err, s.sent, s.queue.len())
		}
		began := time.Now()
		if tr := s.stay(t.Context()); tr == nil || tr.code != "unreachable" || time.Since(began) > 0 {
			t.Errorf("%v after %v", tr, time.Since(began))
		}
	})
}

// TestTheHubsKeyIsOfTheLatestTLS: older versions show certificates openly.
func TestTheHubsKeyIsOfTheLatestTLS(t *testing.T) {
	var seen string
	if got := pinned("", &seen); got.MinVersion != tls.VersionTLS13 || got.VerifyConnection(tls.ConnectionState{}) == nil {
		t.Errorf("from version %x on, and without a certificate", got.MinVersion)
	}
}
