package network

import (
	"context"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/proto"
	"bellrow/testdata/require"
)

// TestMain lets the trials start this test binary in the roles of hub and
// nodes.
func TestMain(m *testing.M) {
	if role := os.Getenv(roleEnv); role != "" {
		if err := Run(context.Background(), os.Stdout, strings.Split(role, "\n")); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// The tally itself must be able to find faults.
func TestTallyFindsFaults(t *testing.T) {
	stored := func(seq uint64, stamp float64) hub.Reading {
		return hub.Reading{ID: int64(seq), Node: "n", Boot: "b", Wire: proto.Reading{Sequence: seq, Played: stamp}}
	}
	late := stored(2, 2)
	late.ID = 9
	sent := map[float64]bool{1: true, 2: true, 3: true}
	for what, c := range map[string]struct {
		stored []hub.Reading
		want   tally
	}{
		"all well":                    {[]hub.Reading{stored(1, 1), stored(2, 2), stored(3, 3)}, tally{Sent: 3, Stored: 3, Boots: 1}},
		"one lost":                    {[]hub.Reading{stored(1, 1), stored(3, 3)}, tally{Sent: 3, Stored: 2, Lost: 1, Gaps: 1, Boots: 1}},
		"the last lost":               {[]hub.Reading{stored(1, 1), stored(2, 2)}, tally{Sent: 3, Stored: 2, Lost: 1, Boots: 1}},
		"one doubled as another":      {[]hub.Reading{stored(1, 1), stored(2, 2), stored(3, 3), stored(4, 3)}, tally{Sent: 3, Stored: 4, Doubled: 1, Boots: 1}},
		"one stored too late":         {[]hub.Reading{stored(1, 1), late, stored(3, 3)}, tally{Sent: 3, Stored: 3, Swapped: 1, Boots: 1}},
		"one stored before the crash": {[]hub.Reading{stored(1, 1), stored(2, 2), stored(3, 3), stored(4, 4)}, tally{Sent: 3, Stored: 4, Boots: 1}},
	} {
		if got := tallyOf(sent, c.stored); got != c.want {
			t.Errorf("%s: %v, want %v", what, got, c.want)
		}
	}
}

// A short rehearsal on a bad network: crashes of hub and nodes, cut links, a
// changed address, loss of 10 and 30 percent.
func TestDelivery(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("takes half a minute")
	}
	if why := missing(); why != "" {
		require.Missing(t, why)
	}
	d, err := newDelivery(t.Output(), 3, 6, 100*time.Millisecond, 3)
	if err != nil {
		t.Fatal(err)
	}
	defer d.close()
	d.pace = 0.4
	// Everything once, the hub's crash between all of it.
	script := []trouble{
		moveHub, crashHub, setHubClock, cutLink, func(d *delivery, _ context.Context) error { return d.setLoss(30) },
		crashHub, sleepNodes, crashNodes, setHubClock, freeze, crashHub,
	}
	got, err := d.through(t.Context(), func() (trouble, bool) {
		if len(script) == 0 {
			return nil, false
		}
		next := script[0]
		script = script[1:]
		return next, true
	})
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("hub killed %d, nodes killed %d, cuts %d, moves %d, clocks set %d, frozen %d: %v", d.kills, d.nodeKills, d.cuts, d.moves, d.sets, d.freezes, got)
	if err := got.err(); err != nil {
		t.Error(err)
	}
}

func TestHostile(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("takes some seconds")
	}
	r, err := hostile(t.Context(), 3000, 300, 40, 2*time.Second)
	if err != nil {
		t.Fatal(err)
	}
	t.Log(r)
	if r.LetIn != 0 || r.Rebinds == 0 {
		t.Errorf("%d bad clients were let in", r.LetIn)
	}
	// A kilobyte kept of each frame would show as three megabytes.
	if grown := r.After.heap - r.Before.heap; grown > 2<<10 {
		t.Errorf("%d kB more live on the hub's heap", grown)
	}
	if grown := r.After.goroutines - r.Before.goroutines; grown > 4 {
		t.Errorf("%d goroutines more on the hub", grown)
	}
}

func TestLoad(t *testing.T) {
	if testing.Short() {
		t.Skip("takes some seconds")
	}
	r, err := load(t.Context(), 40, 3, 2)
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("\n%s\n%s", loadHeader, r)
	if len(r.ping) == 0 || len(r.ack) == 0 || r.rows == 0 {
		t.Errorf("%d pings, %d acknowledgements, %d rows measured", len(r.ping), len(r.ack), r.rows)
	}
}

// Comings and goings must leave nothing behind.
func TestChurn(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("takes some seconds")
	}
	all, err := churn(t.Context(), 30, 7, 3*time.Second, 3)
	for _, s := range all {
		t.Log(s)
	}
	if err != nil {
		t.Fatal(err)
	}
	first, last := all[0], all[len(all)-1]
	if last.goroutines > first.goroutines+2 {
		t.Errorf("goroutines grew from %d to %d", first.goroutines, last.goroutines)
	}
}

// Round after round must leave nothing behind but one tune-up.
func TestRehearsal(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("takes some seconds")
	}
	readings, all, err := rehearse(t.Context(), 6, 6*time.Second, 3)
	for _, s := range all {
		t.Log(s)
	}
	if err != nil {
		t.Fatal(err)
	}
	if readings == 0 {
		t.Error("nobody played")
	}
	if first, last := all[0], all[len(all)-1]; last.goroutines > first.goroutines+4 {
		t.Errorf("goroutines grew from %d to %d", first.goroutines, last.goroutines)
	}
}
