package network

import (
	"testing"
	"time"

	"bellrow/testdata/require"
)

// One laptop without the code keeps nobody out: honest nodes stay connected,
// fresh ones join, and the leader's page loads, on the hub's own laptop and on
// another.
func TestOneLaptopKeepsNobodyOut(t *testing.T) {
	if testing.Short() {
		t.Skip("takes half a minute")
	}
	if why := missing(); why != "" {
		require.Missing(t, why)
	}
	for _, c := range []struct {
		kind string
		many bool
	}{{"bodies", false}, {"strangers", true}} {
		r, err := doors(t.Context(), c.kind, c.many, 8*time.Second)
		t.Log(r)
		if err != nil || r.lost > 0 || r.worst["fresh node"] == 0 || r.worst["here"] == 0 {
			t.Errorf("%s: %v", r.kind, err)
		}
		if r.rss > 100<<10 {
			t.Errorf("%s: the hub holds %d MB", r.kind, r.rss>>10)
		}
	}
}

// A network full of false hubs, some of which pose as the right one, gets no
// code and holds up nobody.
func TestFalseHubsGetNoCode(t *testing.T) {
	if testing.Short() {
		t.Skip("takes some seconds")
	}
	if why := missing(); why != "" {
		require.Missing(t, why)
	}
	slowest, hellos, codes, err := posing(t.Context(), 60, 2)
	if err != nil || codes > 0 || hellos == 0 || slowest == 0 {
		t.Errorf("%v; %d nodes began with a false hub, %d sent it a code; the slowest took %v", err, hellos, codes, slowest)
	}
}
