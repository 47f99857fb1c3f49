package session_test

import (
	"bytes"
	"context"
	"errors"
	"log/slog"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"bellrow/hub"
	"bellrow/hub/mem"
	"bellrow/hub/sqlite"
	"bellrow/proto"
	"bellrow/proto/instrument"
)

// flaky is a store that refuses to write while err is set.
type flaky struct {
	hub.Store
	mu  sync.Mutex
	err error
}

func (f *flaky) fail(err error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.err = err
}

func (f *flaky) failing() error {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.err
}

func (f *flaky) Commit(ctx context.Context, changes []hub.Change) error {
	if err := f.failing(); err != nil {
		return err
	}
	return f.Store.Commit(ctx, changes)
}

func TestFullDiskKeepsTheRowGoing(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		store := &flaky{Store: mem.New()}
		b := newBench(t)
		b.store, b.now = store, time.Time{}
		b.start()
		ctx, cancel := context.WithCancel(t.Context())
		defer cancel()
		h := b.hub
		go func() { _ = h.Run(ctx) }()
		tuba, horn, trumpet := b.trio()
		b.call("Bb4")
		stored := b.hub.FollowStored(tuba.node, tuba.boot)
		defer stored.Close()
		<-stored.C()

		store.fail(hub.ErrFull)
		r := proto.Reading{Sequence: 1, Round: tuba.view().Round, Hz: tuba.view().Target, Settled: true, CI95: 0.5, Played: 600}
		for range 2 { // and once more, as the node resends
			if err := b.hub.Deliver(t.Context(), tuba.chair, tuba.node, tuba.boot, r); !errors.Is(err, hub.ErrFull) {
				t.Fatalf("delivered with error %v, want ErrFull: it must not be acknowledged", err)
			}
		}
		tuba.wants("answer")
		horn.wants("play")
		if row := b.row(); len(row.Trouble) != 1 || !strings.Contains(row.Say, "disk is full") || row.SayKind != "trouble" {
			t.Errorf("the row does not say so: %q %q", row.Trouble, row.Say)
		}
		if got := b.hub.Stored(tuba.node, tuba.boot); got != 0 {
			t.Errorf("stored up to %d, but nothing is stored", got)
		}
		select {
		case <-stored.C():
			t.Error("news of a commit that was none")
		default:
		}

		store.fail(nil)
		time.Sleep(2 * time.Second)
		synctest.Wait()
		<-stored.C()
		if got := stored.Get(); got != 1 {
			t.Errorf("stored up to %d after the disk has space again, want 1", got)
		}
		if row := b.row(); len(row.Trouble) != 0 {
			t.Errorf("trouble stays: %q", row.Trouble)
		}
		b.restart(tuba, horn, trumpet)
		tuba.wants("answer")
		if n := len(tuba.row().History); n != 1 {
			t.Errorf("%d readings after all, want 1", n)
		}
	})
}

func TestRefusedRecordHoldsUpNothing(t *testing.T) {
	store := &flaky{Store: mem.New()}
	b := newBench(t)
	b.store = store
	b.start()
	tuba, horn, _ := b.trio()
	b.call("Bb4")
	store.fail(hub.ErrRefused)
	v := tuba.view()
	err := b.hub.Deliver(t.Context(), tuba.chair, tuba.node, tuba.boot, proto.Reading{Sequence: 1, Round: v.Round, Hz: v.Target, Settled: true})
	if !errors.Is(err, hub.ErrRefused) {
		t.Errorf("error %v, want ErrRefused", err)
	}
	store.fail(nil)
	horn.play(0)
	if len(b.row().Trouble) != 0 {
		t.Errorf("trouble %q", b.row().Trouble)
	}
}

// TestOnDisk runs a tune-up over SQLite with a restart after each step.
func TestOnDisk(t *testing.T) {
	path := filepath.Join(t.TempDir(), "hub.db")
	b := newBench(t)
	open := func() {
		s, err := sqlite.Open(t.Context(), path)
		if err != nil {
			t.Fatal(err)
		}
		b.store = s
	}
	open()
	b.start()
	tuba, horn, trumpet := b.trio()
	row := []*player{tuba, horn, trumpet}
	again := func() {
		t.Helper()
		before := b.hub.Summary()
		if err := b.store.Close(); err != nil {
			t.Fatal(err)
		}
		open()
		b.restart(row...) // the first to come back has the turn
		if after := b.hub.Summary(); !equal(after, before) {
			t.Errorf("summary\n%+v, before the restart\n%+v", after, before)
		}
	}
	b.call("Bb4")
	again()
	for range row {
		row[0].wants("play")
		row[0].play(20)
		row = append(row[1:], row[0]) // it may be the room: heard again after the others
		again()
	}
	tuba.wants("answer")
	b.do(hub.Command{Do: hub.DoMoves}) // the whole section was sharp
	again()
	b.call("Bb4")
	for _, p := range []*player{tuba, horn, trumpet} {
		p.play(0)
		again()
		if f := p.row().FollowThrough; !strings.Contains(f, "went with the slide") {
			t.Errorf("%s: follow-through %q", p.name, f)
		}
	}
	if r := b.row(); r.Say != "Everybody is set." {
		t.Errorf("the row says %q", r.Say)
	}
	if err := b.store.Close(); err != nil {
		t.Error(err)
	}
}

func TestDeletedPlayerIsGone(t *testing.T) {
	b := newBench(t)
	tuba, horn, _ := b.trio()
	b.call("Bb4")
	tuba.play(20)
	if err := b.hub.DeletePlayer(t.Context(), tuba.chair); err != nil {
		t.Fatal(err)
	}
	rs, err := b.store.Readings(t.Context(), b.hub.Section().ID, time.Time{})
	if err != nil || len(rs) != 0 || len(b.row().Chairs) != 2 {
		t.Errorf("%d readings (%v) and %d chairs left", len(rs), err, len(b.row().Chairs))
	}
	horn.wants("play")
	err = b.hub.Deliver(t.Context(), tuba.chair, tuba.node, tuba.boot, proto.Reading{Sequence: 9})
	if !errors.Is(err, hub.ErrNotFound) {
		t.Errorf("a reading of the deleted player: %v", err)
	}
}

func TestNumbersAreNeverGivenTwice(t *testing.T) {
	b := newBench(t)
	tuba, _, _ := b.trio()
	seen := map[int64]bool{}
	for range 5 {
		b.call("Bb4")
		id := tuba.wants("play").Round
		if seen[id] {
			t.Fatalf("round %d twice", id)
		}
		seen[id] = true
		b.restart(tuba)
	}
}

// TestStoreOrder writes what depends on one another in one batch: SQLite
// refuses a record whose chair it does not know.
func TestStoreOrder(t *testing.T) {
	store, err := sqlite.Open(t.Context(), filepath.Join(t.TempDir(), "hub.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer store.Close()
	b := newBench(t)
	b.store = store
	var log bytes.Buffer
	b.log = slog.New(slog.NewTextHandler(&log, nil))
	b.start()
	s := b.hub.Section()
	s.Chairs = []hub.Chair{{Label: "Tuba 1", Instrument: "tuba_bbb", Settings: instrument.Settings{instrument.Main: 21}}}
	b.do(hub.Command{Do: hub.DoEdit, Section: &s})
	tuba := b.join("Tuba 1", "tuba_bbb")
	b.call("Bb4")
	tuba.play(12)
	b.do(hub.Command{Do: hub.DoAgain})
	tuba.play(1)
	if log.Len() > 0 {
		t.Errorf("something was refused: %s", &log)
	}
	set, err := store.Settings(t.Context(), b.hub.Section().ID, time.Time{})
	if err != nil || len(set) != 2 {
		t.Errorf("settings %+v (%v), want the leader's and the move's", set, err)
	}
}
