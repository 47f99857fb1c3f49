package hub_test

import (
	"context"
	"runtime"
	"testing"

	"bellrow/hub"
	"bellrow/hub/mem"
	"bellrow/proto"
)

// sink is a store that keeps no readings.
type sink struct{ hub.Store }

func (sink) AddReadings(_ context.Context, rs []hub.Reading) ([]hub.Reading, error) { return rs, nil }

// TestPractisingLeavesNothingInMemory lets a player practise for days with the
// node connected: what nobody asked for is stored, and not kept in memory.
func TestPractisingLeavesNothingInMemory(t *testing.T) {
	const notes = 50_000
	b := newBench(t)
	b.store = sink{mem.New()}
	b.start()
	tuba, _, _ := b.trio()
	heap := func() uint64 {
		runtime.GC()
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		return m.HeapAlloc
	}
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
	const slack = 256 << 10 // bytes; a reading alone takes some 500, so a leak would be 100 times as much
	if after := heap(); after > before+slack {
		t.Errorf("%d notes left %d bytes", notes, after-before)
	}
	runtime.KeepAlive(b)
}
