package uplink

import (
	"context"
	"slices"
	"strings"
	"testing"
	"time"

	"bellrow/node/find"
	"bellrow/proto"
)

const code = "K7M4QXWP"

// trusting runs an uplink that searches nothing but what it is told.
func trusting(t *testing.T, c Config) (*Uplink, func()) {
	t.Helper()
	c.Instrument, c.NoMulticast, c.Dial = "trumpet_bb", true, dialLAN
	u, err := New(c)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- u.Run(ctx) }()
	stop := func() {
		if cancel(); done != nil {
			if err := <-done; err != nil {
				t.Error(err)
			}
			done = nil
		}
	}
	t.Cleanup(stop)
	return u, stop
}

func connected(s Status) bool { return s.Phase == Connected }

// heard returns all that the hub was told in hellos.
func (h *fakeHub) heard() (out []proto.Hello) {
	h.change(func() { out = append(out, h.hellos...) })
	return out
}

func TestNeitherCodeNorTokenIsSent(t *testing.T) {
	bubble(t, func(t *testing.T) {
		for _, secure := range []bool{false, true} {
			h := newFakeHub(t, secure)
			h.proves = code
			dir := t.TempDir()
			u, stop := trusting(t, Config{Hub: h.link(), Join: "k7m4 qxwp", StateDir: dir})
			u.Send(note())
			drained(t, u)
			stop()
			// The second start knows neither address nor code.
			u, stop = trusting(t, Config{StateDir: dir})
			until(t, u, "the connection", connected)
			stop()
			hellos := h.heard()
			for _, hello := range hellos {
				if hello.Join != "" || hello.Token != "" {
					t.Errorf("secure %v: sent %+v", secure, hello)
				}
			}
			if n := len(hellos); n != 2 || hellos[0].Prove.By != proto.ByCode || hellos[1].Prove.By != proto.ByToken {
				t.Errorf("secure %v: %+v", secure, hellos)
			}
		}
	})
}

// A hub that cannot prove that it knows the code learns nothing: neither one
// that tries, nor one that says it is of an older version, until the player has
// confirmed its address.
func TestFalseHubsGetNothing(t *testing.T) {
	bubble(t, func(t *testing.T) {
		guesses := newFakeHub(t, false)
		guesses.proves = "AAAAAAAA"
		u, stop := trusting(t, Config{Hub: guesses.link(), Join: code})
		until(t, u, "the refusal", func(s Status) bool { return s.Code == codeUnproven && s.Phase == Refused })
		stop()
		for _, hello := range guesses.heard() {
			if hello.Join != "" || hello.Token != "" {
				t.Errorf("a hub that guesses heard %+v", hello)
			}
		}
		old := newFakeHub(t, false)
		u, stop = trusting(t, Config{Hub: old.link(), Join: code})
		s := until(t, u, "the question", func(s Status) bool { return s.Code == codeOlder })
		if got := u.Older(); len(got) != 1 || got[0] != old.link().Address || !strings.Contains(s.Message, old.link().Address) {
			t.Errorf("%v, %+v", got, s)
		}
		stop()
		if got := old.heard(); len(got) != 0 {
			t.Errorf("an older hub heard %+v", got)
		}
		u, stop = trusting(t, Config{Hub: old.link(), Join: code, Sure: true})
		until(t, u, "the connection", connected)
		stop()
		if got := old.heard(); len(got) != 1 || got[0].Join != code {
			t.Errorf("a confirmed hub heard %+v", got)
		}
	})
}

// The right hub is found beside false ones, silent ones and a wrong address.
func TestTheRightHubWinsTheRace(t *testing.T) {
	bubble(t, func(t *testing.T) {
		right := newFakeHub(t, false)
		right.proves = code
		dir := t.TempDir()
		u, stop := trusting(t, Config{Hub: right.link(), Join: code, StateDir: dir})
		until(t, u, "the connection", connected)
		stop()
		for what, typed := range map[string]proto.Link{
			"false": func() proto.Link {
				f := newFakeHub(t, false)
				f.id, f.proves = "hub0", "AAAAAAAA"
				l := f.link()
				l.Hub = ""
				return l
			}(),
			"dead":   {Address: "192.0.2.1:7440"},
			"nobody": {Address: "127.0.0.1:1"},
		} {
			u, stop := trusting(t, Config{Hub: typed, Join: code, StateDir: dir})
			until(t, u, what, connected)
			stop()
		}
		// One hub id, of whose addresses others pose as it.
		u, err := New(Config{Instrument: "trumpet_bb", Dial: dialLAN, Join: code, StateDir: t.TempDir()})
		if err != nil {
			t.Fatal(err)
		}
		poser := newFakeHub(t, false)
		poser.proves = "AAAAAAAA"
		s, tr := u.open(t.Context(), find.Hub{ID: "hub1", Addresses: []string{poser.link().Address, "192.0.2.1:7440", right.link().Address}}, u.queue, true)
		if tr != nil || s.line.address != right.link().Address {
			t.Fatalf("%v", tr)
		}
		s.line.Close()
	})
}

// A key that was once seen is that hub's for good, also when another hub was
// used since; a hub without it gets nothing and changes nothing.
func TestPinsHoldForGood(t *testing.T) {
	bubble(t, func(t *testing.T) {
		dir := t.TempDir()
		first := newFakeHub(t, true)
		first.proves = code
		second := newFakeHub(t, false)
		second.id, second.proves = "hub2", code
		for _, h := range []*fakeHub{first, second} {
			u, stop := trusting(t, Config{Hub: h.link(), Join: code, StateDir: dir})
			until(t, u, h.id, connected)
			stop()
		}
		plain := newFakeHub(t, false) // of the id of the first, and of an older version
		proving := newFakeHub(t, false)
		proving.proves = code // somebody in the section who knows the code
		secure := newFakeHub(t, true)
		secure.proves = code
		otherKey := newFakeHub(t, true)
		for what, h := range map[string]*fakeHub{"plain": plain, "plain, with the code": proving, "another key": otherKey, "another key, with the code": secure} {
			for _, id := range []string{h.id, ""} {
				l := h.link()
				l.Hub, l.TLS = id, h.cert != nil
				u, err := New(Config{Instrument: "trumpet_bb", Dial: dialLAN, Join: code, StateDir: dir, Sure: true, Hub: l})
				if err != nil {
					t.Fatal(err)
				}
				s, tr := u.open(t.Context(), find.Typed(l), u.queue, true)
				if tr == nil {
					s, tr = s.settle(t.Context())
				}
				if tr == nil {
					s.line.Close()
					t.Errorf("%s, id %q: let in", what, id)
				}
				for _, hello := range h.heard() {
					if hello.Token != "" {
						t.Errorf("%s: heard the token", what)
					}
					if h.proves != "" {
						t.Errorf("%s, id %q: heard %+v", what, id, hello)
					}
				}
			}
		}
		if k := openMemory(dir).get("hub1"); k.Fingerprint != fingerprintOf(first.cert) || !k.TLS || k.Token == "" {
			t.Errorf("the pin is now %+v", k)
		}
		// The player's own link may name another key.
		m := openMemory(dir)
		if h := m.pinned(find.Hub{ID: "hub1", From: find.FromTyped, TLS: true, Fingerprint: "ab"}); h.Fingerprint != "ab" {
			t.Errorf("%+v", h)
		}
		if h := m.pinned(find.Hub{ID: "hub1", From: find.FromMDNS}); h.Fingerprint != fingerprintOf(first.cert) || !h.TLS {
			t.Errorf("%+v", h)
		}
	})
}

// Hubs beyond the memory's bound put out those without a key first.
func TestPinsAreForgottenLast(t *testing.T) {
	m := openMemory("")
	m.put(known{ID: "pinned", Fingerprint: "ab"})
	for i := range 10 * maxKnown {
		m.put(known{ID: string(rune('A' + i)), Used: time.Unix(int64(i+1), 0)})
	}
	if len(m.hubs) != maxKnown || m.get("pinned").Fingerprint != "ab" {
		t.Errorf("%d hubs, %+v", len(m.hubs), m.get("pinned"))
	}
}

// TestAKnownHubIsReachedAsBefore: over TLS where it was once reached so, whatever a search says of it;
// by its own id where the player gave an address alone; and all its addresses are remembered, each
// once, the one that answered first.
func TestAKnownHubIsReachedAsBefore(t *testing.T) {
	bubble(t, func(t *testing.T) {
		for _, secure := range []bool{true, false} {
			h := newFakeHub(t, secure)
			h.proves = code
			u, err := New(Config{Instrument: "trumpet_bb", Dial: dialLAN, Join: code, StateDir: t.TempDir()})
			if err != nil {
				t.Fatal(err)
			}
			at := h.link().Address
			enter := func(found find.Hub) {
				t.Helper()
				s, tr := u.open(t.Context(), found, u.queue, true)
				if tr == nil {
					s, tr = s.settle(t.Context())
				}
				if tr != nil {
					t.Fatalf("TLS %v, %+v: %v", secure, found, tr)
				}
				s.line.Close()
			}
			enter(find.Hub{Addresses: []string{at}, TLS: secure, From: find.FromTyped}) // of which only the address is known
			if k := u.memory.get("hub1"); k.TLS != secure || k.Token == "" || !slices.Equal(k.Addresses, []string{at}) {
				t.Errorf("TLS %v: remembered %+v", secure, k)
			}
			enter(find.Hub{ID: "hub1", Addresses: []string{"127.0.0.1:1", at}, From: find.FromMDNS}) // which says nothing of TLS
			if k := u.memory.get("hub1"); k.TLS != secure || !slices.Equal(k.Addresses, []string{at, "127.0.0.1:1"}) {
				t.Errorf("TLS %v: remembered %+v", secure, k)
			}
		}
	})
}
