package session_test

import (
	"context"
	"fmt"
	"path/filepath"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/hub/mem"
	"bellrow/hub/session"
	"bellrow/hub/sqlite"
	"bellrow/proto"
)

var sizes = []int{12, 120, 1000}

// crowd opens a hub with so many trumpets, each with a view that is read, and
// ten pages that watch the row as browsers do, ten times a second.
func crowd(b *testing.B, n int, store hub.Store) (*session.Session, []hub.Joined) {
	b.Helper()
	h, err := session.New(b.Context(), session.Config{Store: store})
	if err != nil {
		b.Fatal(err)
	}
	ctx, cancel := context.WithCancel(b.Context())
	var wg sync.WaitGroup
	wg.Go(func() { _ = h.Run(ctx) })
	var seats []hub.Joined
	for i := range n {
		j, err := h.Join(ctx, hub.Peer{Node: fmt.Sprint("n", i), Boot: "b", Chair: fmt.Sprint("P", i), Instrument: "trumpet_bb"})
		if err != nil {
			b.Fatal(err)
		}
		seats = append(seats, j)
		f := h.Follow(j.Chair)
		wg.Go(func() {
			for range f.C() {
				f.Get()
			}
		})
		b.Cleanup(f.Close)
	}
	for range 10 {
		f := h.FollowRow()
		wg.Go(func() {
			for range f.C() {
				f.Get()
				time.Sleep(100 * time.Millisecond)
			}
		})
		b.Cleanup(f.Close)
	}
	b.Cleanup(func() { cancel(); go wg.Wait() })
	if err := h.Command(ctx, hub.Command{Do: hub.DoCall, Call: &hub.Call{Note: 70, Together: true}}); err != nil {
		b.Fatal(err)
	}
	return h, seats
}

func BenchmarkState(b *testing.B) {
	for _, n := range sizes {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			h, seats := crowd(b, n, mem.New())
			states := []proto.State{{State: "sounding"}, {State: "quiet"}}
			b.ReportAllocs()
			for i := 0; b.Loop(); i++ {
				h.State(seats[i%n].Chair, states[i/n%2])
			}
		})
	}
}

func BenchmarkRow(b *testing.B) {
	for _, n := range sizes {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			h, seats := crowd(b, n, mem.New())
			b.ReportAllocs()
			for i := 0; b.Loop(); i++ {
				h.State(seats[0].Chair, []proto.State{{State: "sounding"}, {State: "quiet"}}[i%2])
				h.Row()
			}
		})
	}
}

// BenchmarkDeliver measures one reading from arrival to commit on disk, from
// one node after another and from 32 at once.
func BenchmarkDeliver(b *testing.B) {
	for _, n := range sizes {
		for _, at := range []int{1, 32} {
			b.Run(fmt.Sprintf("%d chairs, %d at once", n, at), func(b *testing.B) {
				store, err := sqlite.Open(b.Context(), filepath.Join(b.TempDir(), "hub.db"))
				if err != nil {
					b.Fatal(err)
				}
				b.Cleanup(func() { store.Close() })
				h, seats := crowd(b, n, store)
				deliver(b, h, seats, at)
			})
		}
	}
}

func deliver(b *testing.B, h *session.Session, seats []hub.Joined, at int) {
	round := h.View(seats[0].Chair).Round
	var seq atomic.Uint64
	var mu sync.Mutex
	var took []time.Duration
	b.SetParallelism(at) // times GOMAXPROCS
	if at == 1 {
		b.SetParallelism(1)
	}
	b.ResetTimer()
	b.RunParallel(func(pb *testing.PB) {
		for pb.Next() {
			s := seq.Add(1)
			seat := seats[int(s)%len(seats)]
			r := proto.Reading{Sequence: s/uint64(len(seats)) + 1, Round: round, Hz: 466, CI95: 1, Settled: true, Played: 600}
			start := time.Now()
			if err := h.Deliver(b.Context(), seat.Chair, fmt.Sprint("n", int(s)%len(seats)), "b", r); err != nil {
				b.Error(err)
				return
			}
			d := time.Since(start)
			mu.Lock()
			took = append(took, d)
			mu.Unlock()
		}
	})
	slices.Sort(took)
	b.ReportMetric(float64(took[len(took)/2].Microseconds())/1000, "p50-ms")
	b.ReportMetric(float64(took[len(took)*99/100].Microseconds())/1000, "p99-ms")
}

// BenchmarkOpen opens a hub on what a season of watched rehearsals left: many
// notes that nobody asked for, and few answers.
func BenchmarkOpen(b *testing.B) {
	store, err := sqlite.Open(b.Context(), filepath.Join(b.TempDir(), "hub.db"))
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { store.Close() })
	h, err := session.New(b.Context(), session.Config{Store: store})
	if err != nil {
		b.Fatal(err)
	}
	j, err := h.Join(b.Context(), hub.Peer{Node: "n", Boot: "b", Chair: "P", Instrument: "trumpet_bb"})
	if err != nil {
		b.Fatal(err)
	}
	const notes, batch = 100_000, 5000
	for n := range uint64(notes / batch) {
		rs := make([]hub.Reading, batch)
		for i := range rs {
			rs[i] = hub.Reading{Chair: j.Chair, Node: "n", Boot: "b", At: time.Now().Add(-time.Hour), Why: hub.WhyWatch,
				Wire: proto.Reading{Sequence: n*batch + uint64(i) + 1, Hz: 466, Settled: true}}
		}
		if _, err := store.AddReadings(b.Context(), rs); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := session.New(b.Context(), session.Config{Store: store}); err != nil {
			b.Fatal(err)
		}
	}
}
