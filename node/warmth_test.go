package node

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"testing"
	"time"

	"bellrow/node/capture"
)

// TestWarmthOutlivesTheNode: a node that starts anew is as warm as it was, less
// what it has cooled, and a file that is none warms nothing.
func TestWarmthOutlivesTheNode(t *testing.T) {
	path := filepath.Join(t.TempDir(), "warmth.json")
	now := time.Date(2026, 3, 2, 19, 0, 0, 0, time.UTC)
	open := func() *Node {
		n, err := New(Config{Uplink: &asking{}, Warmth: path, Now: func() time.Time { return now },
			Open: func(context.Context) (capture.Source, error) { return capture.Slice(nil, keepRate), nil }})
		if err != nil {
			t.Fatal(err)
		}
		return n
	}
	if got := open().Played(); got != 0 {
		t.Errorf("played %g s before the first note", got)
	}
	open().Warm()
	if got := open().Played(); got != WarmSeconds {
		t.Errorf("started anew at once: %g s, need %d", got, WarmSeconds)
	}
	now = now.Add(cooling)
	if got, want := open().Played(), WarmSeconds/math.E; math.Abs(got-want) > 0.01 {
		t.Errorf("after %v at rest: %g s, need %g", cooling, got, want)
	}
	now = now.Add(-24 * time.Hour) // the clock was set back
	if got := open().Played(); got != 0 {
		t.Errorf("from the future: %g s, need 0", got)
	}
	for _, junk := range []string{"", "{}", `{"played_s":-5}`, `{"played_s":1e999}`, "nonsense"} {
		if err := os.WriteFile(path, []byte(junk), 0o600); err != nil {
			t.Fatal(err)
		}
		if got := open().Played(); got != 0 {
			t.Errorf("from %q: %g s, need 0", junk, got)
		}
	}
}

// TestPlayingIsKept: what is played is written down as it goes.
func TestPlayingIsKept(t *testing.T) {
	path := filepath.Join(t.TempDir(), "warmth.json")
	n, err := New(Config{Uplink: &asking{}, Warmth: path,
		Open: func(context.Context) (capture.Source, error) { return capture.Slice(siren(25), keepRate), nil }})
	if err != nil {
		t.Fatal(err)
	}
	if err := n.Run(t.Context()); err != nil {
		t.Fatal(err)
	}
	if kept := loadWarmth(path, time.Now()); math.Abs(kept-n.Played()) > 2*keepEvery || kept < keepEvery {
		t.Errorf("kept %.1f s of %.1f s played", kept, n.Played())
	}
}
