package session_test

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"go.uber.org/goleak"

	"bellrow/hub"
	"bellrow/hub/session"
	"bellrow/hub/sqlite"
	"bellrow/proto"
	"bellrow/proto/track"
)

// TestEverythingAtOnce lets players, pages and the leader at one hub without
// any order, for the race detector, and then counts what is stored.
func TestEverythingAtOnce(t *testing.T) {
	defer goleak.VerifyNone(t)
	path := filepath.Join(t.TempDir(), "hub.db")
	store, err := sqlite.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer store.Close()
	h, err := session.New(t.Context(), session.Config{Store: store})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	var services, players sync.WaitGroup
	services.Go(func() { _ = h.Run(ctx) })
	services.Go(func() { watchRow(ctx, h) })
	services.Go(func() { lead(ctx, h) })
	const nodes, readings = 8, 40
	for i := range nodes {
		players.Go(func() { playAlong(t, h, fmt.Sprint("n", i), readings) })
	}
	players.Wait()
	cancel()
	services.Wait()
	for i := range nodes {
		if n, err := store.Stored(t.Context(), fmt.Sprint("n", i), "b"); err != nil || n != readings {
			t.Errorf("node %d: stored up to %d (%v), want %d", i, n, err, readings)
		}
	}
	rs, err := store.Readings(t.Context(), h.Section().ID, time.Time{})
	if err != nil || len(rs) != nodes*readings {
		t.Errorf("%d readings stored (%v), want %d", len(rs), err, nodes*readings)
	}
}

func watchRow(ctx context.Context, h *session.Session) {
	f := h.FollowRow()
	defer f.Close()
	last := uint64(0)
	for {
		select {
		case <-ctx.Done():
			return
		case <-f.C():
			row := f.Get()
			if row.Version < last {
				panic("the row went back in time")
			}
			last = row.Version
			h.Summary()
		}
	}
}

// lead gives commands as a restless leader would.
func lead(ctx context.Context, h *session.Session) {
	for i := 0; ctx.Err() == nil; i++ {
		c := hub.Command{Do: []string{hub.DoCall, hub.DoNext, hub.DoAgain, hub.DoUndo, hub.DoSkip, hub.DoAbsent, hub.DoPresent, hub.DoEnd}[i%8]}
		switch i / 8 % 3 {
		case 0:
			c.Call = &hub.Call{Note: 70}
		case 1:
			c.Call = &hub.Call{Note: 65, Together: true}
		default:
			c.Call = &hub.Call{Kind: hub.CallChord, Chord: "Bb major"}
		}
		if row := h.Row(); len(row.Chairs) > 0 {
			c.Chair = row.Chairs[i%len(row.Chairs)].ID
		}
		_ = h.Command(ctx, c) // many of these cannot be; that is the point
		time.Sleep(time.Millisecond)
	}
}

// playAlong is a node that answers whatever it is shown, twice over.
func playAlong(t *testing.T, h *session.Session, node string, readings uint64) {
	ctx := t.Context()
	join := func() hub.ChairID {
		j, err := h.Join(ctx, hub.Peer{Node: node, Boot: "b", Chair: node, Instrument: "trumpet_bb", Tracks: true})
		if err != nil {
			t.Error(err)
		}
		return j.Chair
	}
	chair := join()
	views := h.Follow(chair)
	defer views.Close()
	stored := h.FollowStored(node, "b")
	defer stored.Close()
	for seq := uint64(1); seq <= readings; seq++ {
		v := views.Get()
		h.State(chair, proto.State{State: "sounding", Level: -20})
		h.Track(chair, track.Chunk{Reference: 58, Rate: 48000})
		h.Clock(chair, proto.Ping{ID: seq, Sent: float64(seq), Error: 0.001, Sample: int64(seq) * 48000})
		r := proto.Reading{Sequence: seq, Round: v.Round, Hz: v.Target.Shift(7), CI95: 1, Settled: seq%3 != 0, Reason: "moving", Played: 600}
		for range 2 {
			if err := h.Deliver(ctx, chair, node, "b", r); err != nil {
				t.Error(err)
			}
		}
		if seq%10 == 0 {
			h.Leave(chair, node)
			chair = join()
		}
		err := h.Setting(ctx, chair, proto.Setting{Slide: "main", MM: float64(seq % 10)})
		if err != nil && !errors.Is(err, hub.ErrNotFound) {
			t.Error(err)
		}
	}
}

// TestSectionsChangeUnderWay opens other sections while players go on: a
// store with one connection and a hub with one lock must not wait for one
// another.
func TestSectionsChangeUnderWay(t *testing.T) {
	store, err := sqlite.Open(t.Context(), filepath.Join(t.TempDir(), "hub.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer store.Close()
	h, err := session.New(t.Context(), session.Config{Store: store})
	if err != nil {
		t.Fatal(err)
	}
	var wg sync.WaitGroup
	for i := range 4 {
		node := fmt.Sprint("n", i)
		wg.Go(func() {
			for seq := range uint64(40) {
				j, err := h.Join(t.Context(), hub.Peer{Node: node, Boot: "b", Chair: node, Instrument: "horn_f"})
				if err != nil {
					continue // the section changed in between
				}
				_ = h.Deliver(t.Context(), j.Chair, node, "b", proto.Reading{Sequence: seq + 1, Hz: 440, Settled: true})
				_ = h.Setting(t.Context(), j.Chair, proto.Setting{Slide: "main", MM: float64(seq % 9)})
			}
		})
	}
	wg.Go(func() {
		for i := range 40 {
			if err := h.Command(t.Context(), hub.Command{Do: hub.DoOpen, Name: fmt.Sprint("section ", i%3)}); err != nil {
				t.Error(err)
			}
			h.Row()
		}
	})
	wg.Wait()
}
