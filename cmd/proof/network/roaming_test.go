package network

import (
	"context"
	"path/filepath"
	"testing"

	"bellrow/node/uplink"
	"bellrow/proto"
)

// A player goes from one rehearsal to another and back without starting the
// node anew: each hub stores what was played for it, once and in order.
func TestTwoHubsInTurn(t *testing.T) {
	if testing.Short() {
		t.Skip("takes some seconds")
	}
	t.Parallel()
	type rehearsal struct {
		hub  *process
		data string
		link proto.Link
		sent map[float64]bool
	}
	var at []*rehearsal
	for range 2 {
		dir := t.TempDir()
		hub, address, err := startedHub(dir, 10)
		if err != nil {
			t.Fatal(err)
		}
		defer hub.kill()
		at = append(at, &rehearsal{hub, filepath.Join(dir, "hub.db"), proto.Link{Address: address}, map[float64]bool{}})
	}
	u, err := uplink.New(uplink.Config{Instrument: "horn_f", Chair: "Horn", Join: joinCode, Hub: at[0].link, StateDir: t.TempDir()})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan error)
	go func() { ended <- u.Run(ctx) }()
	played, hub := 0.0, ""
	for visit := range 5 {
		here := at[visit%2]
		if visit > 0 {
			u.Rejoin(here.link)
		}
		waitFor(t, "the other hub", func() bool { s := u.Status(); return s.Phase == uplink.Connected && s.Hub != hub })
		hub = u.Status().Hub
		for range 3 {
			played++
			here.sent[played] = true
			u.Send(proto.Reading{End: 1, Hz: 466.16, CI95: 1, Level: -20, Floor: -60, Settled: true, Played: played})
		}
		late, done := context.WithTimeout(ctx, drainWithin)
		if err := u.Drain(late); err != nil {
			t.Fatalf("visit %d: %v; %+v", visit, err, u.Status())
		}
		done()
	}
	cancel()
	if err := <-ended; err != nil {
		t.Error(err)
	}
	for i, r := range at {
		if err := r.hub.stop(endWithin); err != nil {
			t.Fatal(err)
		}
		got, err := count(t.Context(), r.data, r.sent)
		if err != nil {
			t.Fatal(err)
		}
		if err := got.err(); err != nil || got.Stored != len(r.sent) {
			t.Errorf("hub %d: %v, sent %d", i+1, got, len(r.sent))
		}
	}
}
