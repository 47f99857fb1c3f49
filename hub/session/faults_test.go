package session_test

import (
	"context"
	"fmt"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"bellrow/hub"
	"bellrow/hub/attribute"
	"bellrow/hub/mem"
	"bellrow/hub/session"
)

// TestClockThatStrides lets every look at the clock be another moment: a row
// and a view are made of one, so that no laptop is waited for in one half of a
// row and given up in the other.
func TestClockThatStrides(t *testing.T) {
	b := newBench(t)
	tuba, horn, trumpet := b.trio()
	b.call("Bb4")
	tuba.play(0)
	horn.play(0)
	b.hub.Leave(trumpet.chair, trumpet.node)
	stride := func() time.Time { b.now = b.now.Add(700 * time.Millisecond); return b.now }
	h, err := session.New(t.Context(), session.Config{Store: b.store, Now: stride})
	if err != nil {
		t.Fatal(err)
	}
	for range 60 {
		r := h.Row()
		if away := r.Say == "The laptop of Ada is away: waiting a moment for it."; r.Round != nil && away == r.Round.Done {
			t.Fatalf("done %v, and the row says %q", r.Round.Done, r.Say)
		}
		h.View(trumpet.chair)
		h.Summary()
	}
}

// TestRowIsOfOneMoment: the section that a row brings along is the one it was
// made of, whoever changes it meanwhile.
func TestRowIsOfOneMoment(t *testing.T) {
	b := newBench(t)
	b.trio()
	h := b.hub
	var wg sync.WaitGroup
	wg.Go(func() {
		for i := range 200 {
			s := h.Section()
			s.Name = fmt.Sprint("section ", i)
			if err := h.Command(t.Context(), hub.Command{Do: hub.DoEdit, Section: &s}); err != nil {
				t.Error(err)
			}
		}
	})
	for range 200 {
		if r := h.Row(); r.Section.Name != r.Setup.Name || len(r.Chairs) != len(r.Setup.Chairs) {
			t.Fatalf("a row of %q came with the section %q", r.Section.Name, r.Setup.Name)
		}
	}
	wg.Wait()
}

// slow is an attributor that takes a minute, slowStore a store that does.
type (
	slow      struct{}
	slowStore struct{ hub.Store }
)

func (slow) Fit(in attribute.Input) attribute.Result {
	time.Sleep(time.Minute)
	return (&oracle{}).Fit(in)
}

func (s slowStore) Commit(ctx context.Context, changes []hub.Change) error {
	for _, c := range changes {
		if _, reading := c.(hub.ReadingChange); reading {
			time.Sleep(time.Minute)
		}
	}
	return s.Store.Commit(ctx, changes)
}

// TestSlowFitAndDiskDelayNoTimeout: while a fit is worked out, or a disk takes
// its time, a round that waits for a laptop ends when it has waited enough.
func TestSlowFitAndDiskDelayNoTimeout(t *testing.T) {
	for _, tt := range []struct {
		name   string
		fit    bool
		commit bool
	}{{"a slow fit", true, false}, {"a slow disk", false, true}} {
		t.Run(tt.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				b := &bench{t: t, store: mem.New()}
				if tt.fit {
					b.attributor = slow{}
				}
				if tt.commit {
					b.store = slowStore{b.store}
				}
				h, err := session.New(t.Context(), session.Config{Store: b.store, Attributor: b.attributor, RetryEvery: time.Hour})
				if err != nil {
					t.Fatal(err)
				}
				b.hub = h
				ctx, cancel := context.WithCancel(t.Context())
				done := make(chan struct{})
				go func() { _ = h.Run(ctx); close(done) }()
				tuba, horn, trumpet := b.trio()
				if tt.fit {
					b.callTogether(hub.Call{Note: 70})
					for _, p := range []*player{tuba, horn, trumpet} {
						p.play(0)
					}
					time.Sleep(2 * time.Second) // the fit is under way
					b.call("Bb4")
				} else {
					b.call("Bb4")
				}
				var playing sync.WaitGroup
				playing.Go(func() { tuba.play(0); horn.play(0); trumpet.play(0) })
				synctest.Wait()
				for _, p := range []*player{tuba, horn, trumpet} {
					h.Leave(p.chair, p.node)
				}
				time.Sleep(16 * time.Second) // awayGrace and a little
				synctest.Wait()
				if r := h.Row(); r.Round == nil || !r.Round.Done {
					t.Errorf("the round still waits: %q", r.Say)
				}
				time.Sleep(10 * time.Minute)
				playing.Wait()
				cancel()
				<-done
			})
		})
	}
}
