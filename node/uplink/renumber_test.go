package uplink

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"bellrow/proto"
	"bellrow/testdata/smalldisk"
)

// spools lists what is in a state folder, by boot.
func spools(t *testing.T, dir string) map[string][]proto.Reading {
	t.Helper()
	out := map[string][]proto.Reading{}
	for _, boot := range leftovers(dir, "") {
		rs, err := readSpool(dir, boot)
		if err != nil {
			t.Fatal(err)
		}
		out[boot] = rs
	}
	return out
}

// A laptop goes to another hub and back within one start: each hub gets what
// was played for it, in numbers of its own, and acknowledges it.
func TestAnotherHub(t *testing.T) {
	bubble(t, func(t *testing.T) {
		dir := t.TempDir()
		one, two := newFakeHub(t, false), newFakeHub(t, false)
		two.id = "hub2"
		u, stop := running(t, Config{Hub: one.link(), Boot: "b1", Join: "K7M4QX", StateDir: dir})
		send := func(n int) {
			for range n {
				r := note()
				r.Round = 7
				u.Send(r)
			}
			drained(t, u)
		}
		at := func(hub string) {
			until(t, u, hub, func(s Status) bool { return s.Phase == Connected && s.Hub == hub })
		}
		at("hub1")
		send(3)
		u.Rejoin(two.link())
		at("hub2")
		send(2)
		second := u.Boot()
		u.Rejoin(one.link())
		at("hub1")
		send(1)
		stop()
		one.change(func() { inOrder(t, one.got["b1"], 3); inOrder(t, one.got[u.Boot()], 1) })
		two.change(func() { inOrder(t, two.got[second], 2) })
		if len(two.got) != 1 || len(one.got) != 2 || second == "b1" || second == u.Boot() {
			t.Errorf("the first got %v, the second %v", one.got, two.got)
		}
		if left := spools(t, dir); len(left) != 0 {
			t.Errorf("left behind: %v", left)
		}
	})
}

// What waits for a hub that is gone reaches the next one, without the round
// of the first, in which that number may stand for anything.
func TestAnotherHubGetsWhatWaits(t *testing.T) {
	bubble(t, func(t *testing.T) {
		dir := t.TempDir()
		one, two := newFakeHub(t, false), newFakeHub(t, false)
		two.id = "hub2"
		u, stop := running(t, Config{Hub: one.link(), Boot: "b1", Join: "K7M4QX", StateDir: dir})
		until(t, u, "the first hub", func(s Status) bool { return s.Phase == Connected })
		one.change(func() {
			one.dropAt = 1 // it has the first; nobody will ever say so
			one.refusal = &proto.Error{Code: proto.CodeTrouble, Message: "gone", Hint: "wait"}
		})
		for range 3 {
			r := note()
			r.Round = 7
			u.Send(r)
		}
		until(t, u, "its end", func(s Status) bool { return s.Phase != Connected })
		u.Rejoin(two.link())
		drained(t, u)
		stop()
		two.change(func() {
			inOrder(t, two.got[u.Boot()], 3)
			if !slices.Equal(two.rounds, []int64{0, 0, 0}) {
				t.Errorf("rounds %v of another hub", two.rounds)
			}
		})
		if left := spools(t, dir); len(left) != 0 {
			t.Errorf("left behind: %v", left)
		}
	})
}

// What an earlier start left behind answers a round only of the hub that asked.
func TestRoundsOfAnEarlierStart(t *testing.T) {
	bubble(t, func(t *testing.T) {
		for _, back := range []bool{true, false} {
			dir := t.TempDir()
			one, two := newFakeHub(t, false), newFakeHub(t, false)
			two.id = "hub2"
			u, stop := running(t, Config{Hub: one.link(), Boot: "b1", Join: "K7M4QX", StateDir: dir})
			until(t, u, "the first hub", func(s Status) bool { return s.Phase == Connected })
			stop()
			q := newQueue("b1", newSpool(dir, "b1"), nil)
			r := note()
			r.Round = 7
			if err := q.put(r); err != nil {
				t.Fatal(err)
			}
			next, want := two, int64(0)
			if back {
				next, want = one, 7
			}
			u, stop = running(t, Config{Hub: next.link(), Join: "K7M4QX", StateDir: dir})
			until(t, u, "the next hub", func(s Status) bool { return s.Phase == Connected })
			stop()
			next.change(func() {
				if !slices.Equal(next.rounds, []int64{want}) {
					t.Errorf("back at the same hub %v: rounds %v, want %d", back, next.rounds, want)
				}
			})
		}
	})
}

// A hub whose data was put back to an older copy has forgotten readings that
// it acknowledged: what follows them must not wait for ever.
func TestHubPutBackToAnEarlierState(t *testing.T) {
	bubble(t, func(t *testing.T) {
		h := newFakeHub(t, false)
		u, _ := running(t, Config{Hub: h.link(), Boot: "b1", Join: "K7M4QX"})
		for range 5 {
			u.Send(note())
		}
		drained(t, u)
		h.change(func() { h.stored["b1"], h.dropAt = 2, 1 })
		u.Send(note())
		drained(t, u)
		h.change(func() { inOrder(t, h.got[u.Boot()], 1) })
	})
}

// A spool with a line that cannot be read, or without its first, must hold up
// neither what follows in it nor this start of the node. Twice the same is
// numbered the same.
func TestDamagedSpool(t *testing.T) {
	bubble(t, func(t *testing.T) {
		write := func(dir string) {
			q := newQueue("b1", newSpool(dir, "b1"), nil)
			for range 8 {
				if err := q.put(note()); err != nil {
					t.Fatal(err)
				}
			}
			path := filepath.Join(dir, "b1.readings")
			data, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			lines := strings.SplitAfter(string(data), "\n")
			lines[3], lines[4] = strings.Repeat("\x00", 9000)+"\n", "{\n" // 4 and 5
			if err := os.WriteFile(path, []byte(strings.Join(lines[1:], "")), 0o600); err != nil {
				t.Fatal(err)
			}
		}
		h := newFakeHub(t, false)
		for range 2 {
			dir := t.TempDir()
			write(dir)
			u, stop := running(t, Config{Hub: h.link(), StateDir: dir, Node: "n", Join: "K7M4QX"})
			u.Send(note())
			drained(t, u)
			stop()
			if left := spools(t, dir); len(left) != 0 {
				t.Errorf("left behind: %v", left)
			}
		}
		h.change(func() {
			var counts []int
			for _, got := range h.got {
				inOrder(t, got, uint64(len(got)))
				counts = append(counts, len(got))
			}
			slices.Sort(counts)
			if !slices.Equal(counts, []int{1, 1, 2, 3}) { // two starts, 2 and 3, 6 to 8
				t.Errorf("readings by boot %v", h.got)
			}
		})
	})
}

// A full disk at the node: readings go on in memory, are none of them dropped,
// and are all in the spool, in order, once there is room again.
func TestFullDisk(t *testing.T) {
	disk := smalldisk.New(t, 64)
	u, err := New(Config{Instrument: "trumpet_bb", Boot: "b1", StateDir: disk.Dir})
	if err != nil {
		t.Fatal(err)
	}
	u.Send(note())
	disk.Fill(t)
	for range 50 { // beyond what is left of the last page
		u.Send(note())
	}
	if got := spools(t, disk.Dir)["b1"]; len(got) < 1 || len(got) > 40 {
		t.Fatalf("%d readings on a full disk, want the first and a few", len(got))
	}
	if s := u.Status(); s.Dropped != 0 || s.Waiting != 51 {
		t.Errorf("%+v, want 51 that wait", s)
	}
	disk.Free(t)
	u.Send(note())
	got := spools(t, disk.Dir)["b1"]
	if len(got) != 52 || unbroken(got) != 52 || got[0].Sequence != 1 {
		t.Errorf("%d readings in the spool, want 1 to 52", len(got))
	}
	if err := u.queue.spool.close(); err != nil {
		t.Error(err)
	}
}

func BenchmarkPut(b *testing.B) {
	q := newQueue("b1", newSpool(b.TempDir(), "b1"), nil)
	for n := uint64(1); b.Loop(); n++ {
		if err := q.put(note()); err != nil {
			b.Fatal(err)
		}
		if err := q.acknowledge(n); err != nil {
			b.Fatal(err)
		}
	}
}
