package session_test

import (
	"context"
	"fmt"
	"runtime"
	"slices"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/hub/mem"
	"bellrow/proto"
)

// slack is growth that is no leak, in bytes: a reading or the record of a start
// takes some 500, so that a leak of the tests below would be 10 times as much.
const slack = 256 << 10

func heap() uint64 {
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return m.HeapAlloc
}

// sink is a store that keeps no readings.
type sink struct{ hub.Store }

func (s sink) Commit(ctx context.Context, changes []hub.Change) error {
	return s.Store.Commit(ctx, slices.DeleteFunc(slices.Clone(changes), func(c hub.Change) bool {
		_, reading := c.(hub.ReadingChange)
		return reading
	}))
}

// TestPractisingLeavesNothingInMemory lets a player practise for days with the
// node connected: what nobody asked for is stored, and not kept in memory.
func TestPractisingLeavesNothingInMemory(t *testing.T) {
	const notes = 50_000
	b := newBench(t)
	b.store = sink{mem.New()}
	b.start()
	tuba, _, _ := b.trio()
	practise := func(n int) {
		for range n {
			tuba.seq++
			if err := b.hub.Deliver(t.Context(), tuba.chair, tuba.node, tuba.boot, proto.Reading{Sequence: tuba.seq, Hz: 116, Settled: true}); err != nil {
				t.Fatal(err)
			}
			b.hub.State(tuba.chair, proto.State{State: "sounding"})
		}
	}
	practise(1000)
	before := heap()
	practise(notes)
	if after := heap(); after > before+slack {
		t.Errorf("%d notes left %d bytes", notes, after-before)
	}
	runtime.KeepAlive(b)
}

// TestStartsLeaveNothingInMemory lets a node start anew again and again, as
// laptops do every day while the hub runs on.
func TestStartsLeaveNothingInMemory(t *testing.T) {
	const starts = 5000
	b := newBench(t)
	b.store = sink{mem.New()}
	b.start()
	come := func(boot int) {
		p := hub.Peer{Node: "n", Boot: fmt.Sprint(boot), Chair: "Tuba", Instrument: "tuba_bbb"}
		j, err := b.hub.Join(t.Context(), p)
		if err != nil {
			t.Fatal(err)
		}
		feed := b.hub.FollowStored(p.Node, p.Boot)
		if err := b.hub.Deliver(t.Context(), j.Chair, p.Node, p.Boot, proto.Reading{Sequence: 1, Hz: 116, Settled: true}); err != nil {
			t.Fatal(err)
		}
		if n := feed.Get(); n != 1 {
			t.Fatalf("start %d: acknowledged up to %d, want 1", boot, n)
		}
		b.hub.Leave(j.Chair, p.Node)
		feed.Close()
		feed.Close() // harmless
	}
	for i := range 100 {
		come(i)
	}
	before := heap()
	for i := range starts {
		come(100 + i)
	}
	if after := heap(); after > before+slack {
		t.Errorf("%d starts left %d bytes", starts, after-before)
	}
	runtime.KeepAlive(b)
}

// TestALateRepeatIsKnown lets a node that ended come back with what the hub
// stored long ago, when nothing of it is in memory any more.
func TestALateRepeatIsKnown(t *testing.T) {
	b := newBench(t)
	tuba, horn, _ := b.trio()
	b.call("Bb4")
	tuba.play(14)
	played := proto.Reading{Sequence: tuba.seq, Round: horn.wants("play").Round, Hz: 116, Settled: true}
	before := len(b.hub.Summary().Chairs[0].Readings)
	b.hub.Leave(tuba.chair, tuba.node)
	horn.rejoin(horn.instrument) // others come and go
	if err := b.hub.Deliver(t.Context(), tuba.chair, tuba.node, tuba.boot, played); err != nil {
		t.Fatal(err)
	}
	rs, err := b.store.Readings(t.Context(), b.hub.Section().ID, time.Time{})
	if after := len(b.hub.Summary().Chairs[0].Readings); err != nil || len(rs) != 1 || after != before {
		t.Errorf("%d readings stored (%v), %d on the row, want 1 and %d", len(rs), err, after, before)
	}
}
