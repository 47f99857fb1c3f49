package uplink

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"math/rand/v2"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"bellrow/node/clock"
	"bellrow/node/find"
	"bellrow/proto"
	"bellrow/proto/pitch"
	"bellrow/proto/track"
	"bellrow/testdata/golden"
)

// sequences are the numbers of readings.
func sequences(rs []proto.Reading) (out []uint64) {
	for _, r := range rs {
		out = append(out, r.Sequence)
	}
	return out
}

// TestNothingUnacknowledgedIsLost: whatever is put, acknowledged, renumbered and begun anew in any
// order, what was put and not acknowledged waits, in the order in which it was put, in numbers
// without a gap, and lies on the disk at each moment.
func TestNothingUnacknowledgedIsLost(t *testing.T) {
	for seed := range uint64(20) {
		r := rand.New(rand.NewPCG(seed, 17))
		dir := t.TempDir()
		q := newQueue("b", newSpool(dir, "b"), nil)
		var want []float64 // the pitches that tell them apart
		hz := 100.0
		for range 60 {
			switch k := r.IntN(10); {
			case k < 5:
				hz++
				n := note()
				n.Hz = 0
				n.Settled = false
				n.End = hz
				if err := q.put(n); err != nil {
					t.Fatal(err)
				}
				want = append(want, hz)
			case k < 7 && len(want) > 0:
				some := r.IntN(len(want) + 1)
				first := q.next - uint64(len(want))
				for range 2 { // once more changes nothing
					if err := q.acknowledge(first + uint64(some) - 1); err != nil {
						t.Fatal(err)
					}
				}
				want = want[some:]
			case k < 8:
				boot := q.identity()
				if err := q.renumber(); err != nil {
					t.Fatal(err)
				}
				if q.identity() == boot || q.next != uint64(len(want))+1 {
					t.Errorf("renumbered from %s to %s, next %d of %d", boot, q.identity(), q.next, len(want))
				}
			case k < 9: // another start, which finds what this one left
				if err := q.spool.close(); err != nil {
					t.Fatal(err)
				}
				var old []proto.Reading
				boot := fmt.Sprintf("c%d", int(hz))
				for _, b := range leftovers(dir, boot) {
					rs, err := readSpool(dir, b)
					if err != nil {
						t.Fatal(err)
					}
					old = append(old, rs...)
					boot = b
				}
				if len(old) < len(want) { // more of them, for a spool is emptied when all are acknowledged
					t.Fatalf("seed %d: %d on the disk, %d wait", seed, len(old), len(want))
				}
				q = newQueue(boot, nil, old[len(old)-len(want):])
				for _, b := range leftovers(dir, "") {
					os.Remove(filepath.Join(dir, b+spoolSuffix))
				}
				q.spool = newSpool(dir, boot)
				if err := q.save(); err != nil {
					t.Fatal(err)
				}
			}
			waiting := q.after(0, 1000)
			var got []float64
			for i, w := range waiting {
				got = append(got, w.End)
				if i > 0 && w.Sequence != waiting[i-1].Sequence+1 {
					t.Fatalf("seed %d: a gap in %v", seed, sequences(waiting))
				}
			}
			if !slices.Equal(got, want) || q.len() != len(want) {
				t.Fatalf("seed %d: %v wait, want %v", seed, got, want)
			}
			select {
			case <-q.drained():
				if len(want) > 0 {
					t.Fatalf("seed %d: drained with %d waiting", seed, len(want))
				}
			default:
				if len(want) == 0 {
					t.Fatalf("seed %d: not drained", seed)
				}
			}
			if len(want) == 0 {
				continue
			}
			disk, err := readSpool(dir, q.identity())
			if err != nil || unbroken(disk) != len(disk) || len(disk) < len(want) {
				t.Fatalf("seed %d: on the disk %v, %v", seed, sequences(disk), err)
			}
			for i, d := range disk[len(disk)-len(want):] {
				if d.End != want[i] || d.Sequence != waiting[i].Sequence {
					t.Fatalf("seed %d: on the disk %v, want %v", seed, d, waiting[i])
				}
			}
		}
	}
}

// TestAfter: so many at most, the next ones, and the same as often as one asks.
func TestAfter(t *testing.T) {
	q := newQueue("b", nil, nil)
	for range 10 {
		if err := q.put(note()); err != nil {
			t.Fatal(err)
		}
	}
	for sent := range uint64(12) {
		for most := range 12 {
			var want []uint64
			for n := sent + 1; n <= 10 && len(want) < most; n++ {
				want = append(want, n)
			}
			if got := sequences(q.after(sent, most)); !slices.Equal(got, want) {
				t.Errorf("%d after %d: %v, want %v", most, sent, got, want)
			}
		}
	}
}

// TestWhichNumbersFit: a hub takes what follows on what it has of this boot, unless it is another
// hub than the one that has taken some.
func TestWhichNumbersFit(t *testing.T) {
	for stored := range uint64(8) {
		for first := uint64(1); first < 8; first++ {
			for _, waits := range []bool{true, false} {
				q := newQueue("b", nil, []proto.Reading{{Sequence: first}})
				if !waits {
					q.acknowledge(first)
				}
				next := first
				if !waits {
					next++
				}
				want := next <= stored+1
				if got := q.fits("one", stored); got != want {
					t.Errorf("stored %d, next %d: fits %v", stored, next, got)
				}
				if want && (q.fits("two", stored) || !q.fits("one", stored)) {
					t.Errorf("stored %d, next %d: another hub fits, or the same does not", stored, next)
				}
				if !want && q.hub != "" {
					t.Errorf("stored %d, next %d: taken by %s", stored, next, q.hub)
				}
			}
		}
	}
}

// TestUnbroken: up to the first gap.
func TestUnbroken(t *testing.T) {
	for _, c := range []struct {
		seqs []uint64
		want int
	}{{nil, 0}, {[]uint64{4}, 1}, {[]uint64{4, 5, 6}, 3}, {[]uint64{4, 6}, 1}, {[]uint64{1, 2, 9, 10}, 2}} {
		var rs []proto.Reading
		for _, s := range c.seqs {
			rs = append(rs, proto.Reading{Sequence: s})
		}
		if got := unbroken(rs); got != c.want {
			t.Errorf("%v: %d, want %d", c.seqs, got, c.want)
		}
	}
}

// kinds lists what an outbox gives out.
func kinds(ms []proto.Message) (out []string) {
	for _, m := range ms {
		switch {
		case m.Setting != nil:
			out = append(out, fmt.Sprintf("%s %g", m.Setting.Slide, m.Setting.MM))
		case m.State != nil:
			out = append(out, m.State.State+" "+m.State.Names+" "+m.State.Language)
		case m.Track != nil:
			out = append(out, "track")
		}
	}
	return out
}

// TestTheOutbox: the latest of each slide and of what is heard goes, once; what did not arrive goes
// again unless something newer has come; tracks go while somebody is there, a few at most.
func TestTheOutbox(t *testing.T) {
	var o outbox
	ping := uint64(0)
	want := func(what string, want ...string) {
		t.Helper()
		ping++
		ms, settings := o.take(ping)
		if got := kinds(ms); !slices.Equal(got, want) {
			t.Errorf("%s: %q, want %q", what, got, want)
		}
		if there := slices.ContainsFunc(ms, func(m proto.Message) bool { return m.Setting != nil }); settings != there {
			t.Errorf("%s: settings %t, told %t", what, there, settings)
		}
	}
	o.setNames("flats")
	o.setLanguage("de")
	want("nothing was heard yet")
	o.addSetting(proto.Setting{Slide: "main", MM: 1})
	o.addSetting(proto.Setting{Slide: "third", MM: 2})
	o.addSetting(proto.Setting{Slide: "main", MM: 3})
	o.setState(proto.State{State: "quiet"})
	o.setState(proto.State{State: "sounding"})
	if o.addTrack(track.Chunk{}) {
		t.Error("a track is kept for nobody")
	}
	want("the latest", "main 3", "third 2", "sounding flats de")
	want("once")
	o.addSetting(proto.Setting{Slide: "third", MM: 4})
	o.connect(false)
	want("what may not have arrived", "third 4", "main 3")
	o.addSetting(proto.Setting{Slide: "third", MM: 5})
	want("another one", "third 5")
	o.answered(ping - 1)
	o.connect(false)
	want("what the answer to an earlier ping says nothing of", "third 5")
	o.answered(ping)
	o.connect(false)
	want("nothing, once all is there")
	o.setNames("sharps")
	want("another way to name notes", "sounding sharps de")
	o.setLanguage("")
	want("another language", "sounding sharps ")
	o.connect(true)
	taken := 0
	for range 2 * maxTracks {
		if o.addTrack(track.Chunk{}) {
			taken++
		}
	}
	if taken != maxTracks {
		t.Errorf("%d tracks wait, want %d", taken, maxTracks)
	}
	if ms, _ := o.take(1); len(ms) != maxTracks {
		t.Errorf("%d tracks go", len(ms))
	}
	if !o.addTrack(track.Chunk{}) {
		t.Error("no room after all went")
	}
	o.connect(false)
	if o.addTrack(track.Chunk{}) {
		t.Error("a track is kept when nobody is there")
	}
	o.connect(true)
	want("what was for the last one")
}

// TestTheExchange: pings are numbered from one; the count of samples goes on with the clock; an
// answer counts if it was asked for; tracks ask for the clock once it is old.
func TestTheExchange(t *testing.T) {
	var e exchanges
	boot := time.Unix(1000, 0)
	at := func(s float64) time.Time { return boot.Add(time.Duration(s * float64(time.Second))) }
	if p := e.ping(boot, at(2)); p.ID != 1 || p.Sent != 2 || p.Sample != 0 || p.Error != 0 || p.Offset != 0 {
		t.Errorf("the first ping %+v", p)
	}
	e.pong(&proto.Pong{ID: 2, Sent: 2, At: 52.5}, boot, at(3)) // never asked for
	e.pong(&proto.Pong{ID: 0, Sent: 2, At: 52.5}, boot, at(3))
	if p := e.ping(boot, at(3)); p.ID != 2 || p.Error != 0 {
		t.Errorf("an answer that was not asked for counts: %+v", p)
	}
	e.tie(48000, 48000, at(4))
	for _, id := range []uint64{1, 2} {
		e.pong(&proto.Pong{ID: id, Sent: 4, At: 54.5}, boot, at(5))
	}
	for now, sample := range map[float64]int64{4: 48000, 5: 96000, 6.5: 168000, 2: 0} {
		coming := e.coming()
		if p := e.ping(boot, at(now)); p.ID != coming || p.Sample != sample || now == 5 && (p.Offset != 50 || p.Error != 0.5) {
			t.Errorf("at %g s %+v, want sample %d", now, p, sample)
		}
	}
	var exact exchanges
	exact.ping(boot, at(1))
	exact.pong(&proto.Pong{ID: 1, Sent: 1, At: 7}, boot, at(1))
	if p := exact.ping(boot, at(1)); p.Offset != 6 || p.Error != minError {
		t.Errorf("an exact one says %+v: 0 would be none", p)
	}
	e.reset()
	if p := e.ping(boot, at(8)); p.Error != 0 || p.Offset != 0 || p.Sample == 0 {
		t.Errorf("after a reset %+v", p)
	}
	e.ping(boot, at(10))
	for _, c := range []struct {
		now    float64
		tracks bool
		want   bool
	}{{10 + clock.TrackEvery, false, false}, {10 + clock.TrackEvery - 0.001, true, false}, {10 + clock.TrackEvery, true, true}, {20, true, true}} {
		if c.tracks {
			e.tracked()
		}
		if got := e.due(at(c.now)); got != c.want {
			t.Errorf("at %g s, tracks %v: due %v", c.now, c.tracks, got)
		}
	}
	e.ping(boot, at(20))
	if e.due(at(30)) {
		t.Error("due without a track since the last")
	}
	for n := range 2 * clock.Kept {
		want := time.Duration(clock.Every * float64(time.Second))
		if n < clock.Kept {
			want = time.Duration(clock.Burst * float64(time.Second))
		}
		if got := pause(n); got != want {
			t.Errorf("before ping %d: %v, want %v", n, got, want)
		}
	}
}

// TestHubsAreRemembered: what was put comes back, from the file too; the last used is the one that
// is tried; a file that cannot be read is none; what goes is what was not used for longest.
func TestHubsAreRemembered(t *testing.T) {
	dir := t.TempDir()
	m := openMemory(dir)
	if m.last() != nil || m.get("x").ID != "" {
		t.Error("something is known of nothing")
	}
	now := time.Unix(1700000000, 0).UTC()
	one := known{ID: "one", Name: "Quay", Addresses: []string{"192.0.2.1:7440", "192.0.2.2:7440"}, TLS: true, Fingerprint: "ab", Token: "t", Boot: "b", Proved: true, Used: now}
	two := known{ID: "two", Name: "Pier", Addresses: []string{"192.0.2.3:7440"}, Token: "u", Older: true, Used: now.Add(time.Hour)}
	for _, k := range []known{two, one, one} {
		if err := m.put(k); err != nil {
			t.Fatal(err)
		}
	}
	for _, m := range []*memory{m, openMemory(dir)} {
		if got := fmt.Sprintf("%+v %+v", m.get("one"), m.get("two")); got != fmt.Sprintf("%+v %+v", one, two) {
			t.Errorf("it comes back as %s", got)
		}
		h := m.last()
		if h == nil || h.ID != "two" || h.Name != "Pier" || !slices.Equal(h.Addresses, two.Addresses) || h.TLS || h.Fingerprint != "" || h.From != find.FromLast {
			t.Errorf("the last is %+v", h)
		}
		h.Addresses[0] = "another"
		if m.get("two").Addresses[0] != two.Addresses[0] {
			t.Error("the memory was changed from outside")
		}
	}
	if err := os.WriteFile(filepath.Join(dir, "hubs.json"), []byte(`{"one":{"id":"one"},"two":`), 0o600); err != nil {
		t.Fatal(err)
	}
	if m := openMemory(dir); m.last() != nil || len(m.hubs) != 0 {
		t.Errorf("of a damaged file %+v", m.hubs)
	}
	// All alike: the one that was not used for longest goes, and of those with a key only when
	// there are no others.
	for _, key := range []string{"", "ab"} {
		m := openMemory("")
		for i := range maxKnown + 3 {
			m.put(known{ID: fmt.Sprint(i), Fingerprint: key, Used: now.Add(time.Duration((i * 37) % 61))})
		}
		if len(m.hubs) != maxKnown {
			t.Errorf("%d hubs", len(m.hubs))
		}
		oldest := now.Add(time.Hour)
		for _, k := range m.hubs {
			if k.Used.Before(oldest) {
				oldest = k.Used
			}
		}
		if oldest.Before(now) || oldest.Equal(now) {
			t.Errorf("key %q: the oldest was used at %v", key, oldest)
		}
	}
}

// TestPinnedHubs: who was reached over TLS once is reached so, by the key that it had; a hub
// without an id, or one whose link names a key, is taken as it comes.
func TestPinnedHubs(t *testing.T) {
	m := openMemory("")
	m.put(known{ID: "keyed", TLS: true, Fingerprint: "ab", Used: time.Unix(1, 0)})
	m.put(known{ID: "plain", Used: time.Unix(1, 0)})
	for _, c := range []struct{ h, want find.Hub }{
		{find.Hub{ID: "keyed"}, find.Hub{ID: "keyed", TLS: true, Fingerprint: "ab"}},
		{find.Hub{ID: "keyed", TLS: true, Fingerprint: "cd"}, find.Hub{ID: "keyed", TLS: true, Fingerprint: "ab"}},
		{find.Hub{ID: "keyed", From: find.FromTyped}, find.Hub{ID: "keyed", From: find.FromTyped, TLS: true, Fingerprint: "ab"}},
		{find.Hub{ID: "keyed", From: find.FromTyped, TLS: true, Fingerprint: "cd"}, find.Hub{ID: "keyed", From: find.FromTyped, TLS: true, Fingerprint: "cd"}},
		{find.Hub{ID: "plain"}, find.Hub{ID: "plain"}}, {find.Hub{ID: "plain", TLS: true, Fingerprint: "cd"}, find.Hub{ID: "plain", TLS: true, Fingerprint: "cd"}},
		{find.Hub{Fingerprint: "cd"}, find.Hub{Fingerprint: "cd"}}, {find.Hub{ID: "new"}, find.Hub{ID: "new"}},
	} {
		got := m.pinned(c.h)
		if fmt.Sprint(got) != fmt.Sprint(c.want) {
			t.Errorf("%+v is reached as %+v, want %+v", c.h, got, c.want)
		}
		// It fits if it was reached so: over the same, with the same key.
		for _, key := range []string{"", "ab", "cd"} {
			h := c.h
			h.ID = ""
			want := got.TLS == c.h.TLS && (got.Fingerprint == "" || got.Fingerprint == key)
			if fits := m.fits(c.h.ID, h, &line{fingerprint: key}); c.h.ID != "" && fits != want {
				t.Errorf("%+v with key %q: fits %v, want %v", c.h, key, fits, want)
			}
		}
	}
}

// TestTheGraverTroubleIsTold: whatever came first, what tells the player more.
func TestTheGraverTroubleIsTold(t *testing.T) {
	ranks := [][]*trouble{{nil}, {unreachable("a"), {code: "closed"}}, {notHub("a"), otherHub("a")}, {older("", "a"), unproven("a")}, {otherKey("a"), needsCode(), {code: "full"}}}
	for i, low := range ranks {
		for j, high := range ranks {
			for _, a := range low {
				for _, b := range high {
					want := a
					if j > i {
						want = b
					}
					if got := graver(a, b); got != want {
						t.Errorf("of %v and %v: %v", a, b, got)
					}
				}
			}
		}
	}
}

// TestWordsOfTroubles writes down what a player reads when there is no connection.
func TestWordsOfTroubles(t *testing.T) {
	var out strings.Builder
	for _, x := range []*trouble{
		searchTrouble(find.ErrForbidden), searchTrouble(find.ErrNoMulticast), searchTrouble(find.ErrNothing), searchTrouble(fmt.Errorf("odd: %w", find.ErrForbidden)),
		unreachable("192.0.2.1:7440"), notHub("192.0.2.1:7440"), otherHub("192.0.2.1:7440"), needsCode(), unproven("192.0.2.1:7440"),
		older("", "192.0.2.1:7440"), older("Quay", "192.0.2.1:7440"), otherKey("192.0.2.1:7440"),
	} {
		fmt.Fprintf(&out, "%s final %t: %s\n\t%s\n", x.code, x.final, x.Error(), x.hint)
	}
	golden.Lines(t, "troubles.txt", out.String())
	cause := errors.New("why")
	if x := unreachable("a").by(cause); x.cause != cause || x.code != "unreachable" {
		t.Errorf("%+v", x)
	}
}

// TestFiguresWithoutBounds: what is hopelessly wide is brought to the protocol's bounds, either
// way, and what lies within stays as it is.
func TestFiguresWithoutBounds(t *testing.T) {
	with := func(ci, spread, drift, early float64) proto.Reading {
		r := note()
		r.CI95, r.Spread, r.Drift, r.Early = pitch.Cents(ci), pitch.Cents(spread), drift, pitch.Cents(early)
		return r
	}
	const most = proto.MaxCents
	for _, far := range []float64{1, most - 1, most, most + 1, 1e12} {
		near := min(far, most)
		for _, c := range [][2]proto.Reading{
			{with(far, 1, 2, 3), with(near, 1, 2, 3)}, {with(1, far, 2, 3), with(1, near, 2, 3)},
			{with(1, 2, far, 3), with(1, 2, near, 3)}, {with(1, 2, -far, 3), with(1, 2, -near, 3)},
			{with(1, 2, 3, far), with(1, 2, 3, near)}, {with(1, 2, 3, -far), with(1, 2, 3, -near)},
		} {
			if got := bounded(c[0]); got != c[1] {
				t.Errorf("%+v becomes %+v", c[0], got)
			}
		}
	}
}

// counting counts lines of a log.
type counting struct {
	slog.Handler
	n *atomic.Int64
}

func (c counting) Handle(context.Context, slog.Record) error { c.n.Add(1); return nil }
func (c counting) Enabled(context.Context, slog.Level) bool  { return true }

// TestPatience: with nobody there, a node tries quickly at first and then ever less often, but
// never less than it may; what the player types is tried at once, and quickly again.
func TestPatience(t *testing.T) {
	bubble(t, func(t *testing.T) {
		var tries atomic.Int64
		u, err := New(Config{Instrument: "trumpet_bb", NoMulticast: true, Log: slog.New(counting{slog.NewTextHandler(io.Discard, nil), &tries})})
		if err != nil {
			t.Fatal(err)
		}
		ctx, cancel := context.WithCancel(t.Context())
		done := make(chan error)
		go func() { done <- u.Run(ctx) }()
		within := func(d time.Duration) int64 {
			before := tries.Load()
			time.Sleep(d)
			synctest.Wait()
			return tries.Load() - before
		}
		// Waits are drawn evenly, so that they are half of the longest on average.
		if n := within(10 * time.Second); n < 4 {
			t.Errorf("%d tries in the first ten seconds", n)
		}
		if n, mean := within(time.Hour), int64(2*time.Hour/lastWait); n < mean*8/10 || n > mean*12/10 {
			t.Errorf("%d tries in an hour, want about %d", n, mean)
		}
		u.Rejoin(proto.Link{Code: "K7M4QX"})
		if n := within(1); n != 1 {
			t.Errorf("%d tries at once", n)
		}
		if n := within(firstWait + time.Second + 2*time.Second); n < 3 {
			t.Errorf("%d tries in the next seconds", n)
		}
		cancel()
		if err := <-done; err != nil {
			t.Error(err)
		}
	})
}

// TestTheNodesClock: seconds since its start, either way.
func TestTheNodesClock(t *testing.T) {
	start := time.Unix(5000, 0)
	u, err := New(Config{Instrument: "trumpet_bb", Now: func() time.Time { return start }})
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range []float64{0, 1.5, -2} {
		if got := u.Since(start.Add(time.Duration(s * float64(time.Second)))); got != s {
			t.Errorf("%g s become %g", s, got)
		}
	}
}

// TestAnIdentityIsMadeOnce: and read ever after; without a folder each start has its own; one that
// cannot be kept is an error.
func TestAnIdentityIsMadeOnce(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "made", "here")
	c := Config{Instrument: "trumpet_bb", StateDir: dir}
	seen := map[string]bool{}
	for range 3 {
		u, err := New(c)
		if err != nil {
			t.Fatal(err)
		}
		seen[u.Node()] = true
	}
	if len(seen) != 1 || seen[""] {
		t.Errorf("identities %v", seen)
	}
	entries, err := os.ReadDir(dir)
	if err != nil || len(entries) != 1 {
		t.Errorf("in the folder %v, %v", entries, err)
	}
	if info, err := os.Stat(filepath.Join(dir, "node-id")); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("%v, %v", info, err)
	}
	path := filepath.Join(dir, "node-id")
	if err := os.WriteFile(path, []byte("\n"), 0o600); err != nil { // empty: made anew
		t.Fatal(err)
	}
	u, err := New(c)
	if data, _ := os.ReadFile(path); err != nil || u.Node() == "" || seen[u.Node()] || strings.TrimSpace(string(data)) != u.Node() {
		t.Errorf("%v, %v", u, err)
	}
	os.Remove(path)
	if err := os.MkdirAll(filepath.Join(path, "full"), 0o700); err != nil {
		t.Fatal(err)
	}
	if _, err := New(c); err == nil || !strings.Contains(err.Error(), "identity") {
		t.Errorf("a folder for an identity: %v", err)
	}
	c.StateDir = filepath.Join(dir, "node-id", "full", "x")
	if err := os.WriteFile(filepath.Join(path, "full", "x"), nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := New(c); err == nil || !strings.Contains(err.Error(), "state folder") {
		t.Errorf("a file for a folder: %v", err)
	}
	c.StateDir = ""
	for range 3 {
		u, err := New(c)
		if err != nil {
			t.Fatal(err)
		}
		seen[u.Node()] = true
	}
	if len(seen) != 4 {
		t.Errorf("%d identities, want each its own", len(seen))
	}
	if err := replaceFile(filepath.Join(dir, "none", "x"), nil); err == nil {
		t.Error("written into no folder")
	}
	if err := replaceFile(path, []byte("x")); err == nil {
		t.Error("a folder was replaced")
	}
	if left, _ := filepath.Glob(filepath.Join(dir, ".new-*")); len(left) != 0 {
		t.Errorf("left: %v", left)
	}
}

// TestACodeInALink: counts where no other was given.
func TestACodeInALink(t *testing.T) {
	for _, c := range []struct{ join, link, want string }{{"", "K7M4QX", "K7M4QX"}, {"AAAAAA", "K7M4QX", "AAAAAA"}, {"AAAAAA", "", "AAAAAA"}, {"", "", ""}} {
		u, err := New(Config{Instrument: "trumpet_bb", Join: c.join, Hub: proto.Link{Address: "192.0.2.1:7440", Code: c.link}})
		if err != nil || u.code() != c.want {
			t.Errorf("%+v: %q, %v", c, u.code(), err)
		}
		u.Rejoin(proto.Link{})
		if u.code() != c.want || u.typed.Address != "192.0.2.1:7440" {
			t.Errorf("%+v: an empty word changed it to %q, %+v", c, u.code(), u.typed)
		}
		u.Rejoin(proto.Link{Address: "192.0.2.9:7440", Code: "BBBBBB"})
		if u.code() != "BBBBBB" || u.typed.Address != "192.0.2.9:7440" {
			t.Errorf("%+v: %q, %+v", c, u.code(), u.typed)
		}
	}
}

// TestHostHeader: an address by its shortest form, without a zone.
func TestHostHeader(t *testing.T) {
	for _, c := range []struct {
		a    net.Addr
		want string
	}{
		{&net.TCPAddr{IP: net.IPv4(192, 0, 2, 1), Port: 7440}, "192.0.2.1:7440"},
		{&net.TCPAddr{IP: net.ParseIP("::ffff:192.0.2.1"), Port: 7440}, "192.0.2.1:7440"},
		{&net.TCPAddr{IP: net.ParseIP("fe80::1"), Zone: "eth0", Port: 80}, "[fe80::1]:80"},
		{&net.UnixAddr{Name: "/a/socket"}, "/a/socket"},
	} {
		if got := hostHeader(c.a); got != c.want {
			t.Errorf("%v: %q, want %q", c.a, got, c.want)
		}
	}
}

// TestWithoutAFolderNothingIsWritten: no spool, none left behind, no memory on the disk.
func TestWithoutAFolderNothingIsWritten(t *testing.T) {
	t.Chdir(t.TempDir())
	q := newQueue("b", newSpool("", "b"), nil)
	if err := q.put(note()); err != nil {
		t.Fatal(err)
	}
	if err := q.renumber(); err != nil || q.len() != 1 {
		t.Errorf("%d wait, %v", q.len(), err)
	}
	if err := openMemory("").put(known{ID: "x"}); err != nil || leftovers("", "") != nil {
		t.Errorf("%v, %v", err, leftovers("", ""))
	}
	if entries, err := os.ReadDir("."); err != nil || len(entries) != 0 {
		t.Errorf("written: %v, %v", entries, err)
	}
}
