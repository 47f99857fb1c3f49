package node

import (
	"encoding/json"
	"math"
	"os"
	"time"
)

// An instrument stays warm while its node starts anew, and cools while it lies
// still. What it has of warmth is kept in a file of its own.
const (
	// cooling is the time constant with which an instrument at rest loses its
	// warmth (from memory; thin brass in a room).
	cooling = 15 * time.Minute
	// keepEvery is how many seconds of playing may be lost by a sudden end.
	keepEvery = 10.0
	// WarmSeconds of playing are what a player who says "I am warm" has played:
	// bands are advised to warm up for five minutes before they tune (common
	// practice, no source).
	WarmSeconds = 300
)

// warmth is what the file holds.
type warmth struct {
	Played float64   `json:"played_s"`
	At     time.Time `json:"at"`
}

// loadWarmth returns the seconds of playing that a file's instrument is still
// warm from; 0 where there is no such file, and for times that cannot be.
func loadWarmth(path string, now time.Time) float64 {
	data, err := os.ReadFile(path)
	if err != nil {
		return 0
	}
	var w warmth
	gap := time.Duration(0)
	if json.Unmarshal(data, &w) == nil {
		gap = now.Sub(w.At)
	}
	if gap < 0 || !(w.Played >= 0) || math.IsInf(w.Played, 0) {
		return 0
	}
	return w.Played * math.Exp(-gap.Seconds()/cooling.Seconds())
}

// saveWarmth replaces the file. One that cannot be written costs a warm-up, no
// more: the node goes on.
func saveWarmth(path string, played float64, now time.Time) error {
	data, err := json.Marshal(warmth{played, now})
	if err != nil {
		return err
	}
	next := path + ".new"
	if err := os.WriteFile(next, data, 0o600); err != nil {
		return err
	}
	return os.Rename(next, path)
}

// Warm counts the instrument as warm: its player says so. It may be called
// from any goroutine.
func (n *Node) Warm() {
	n.mu.Lock()
	n.played = max(n.played, WarmSeconds)
	n.mu.Unlock()
	n.keepWarmth()
}

// SetMute says what is in the bell from now on, as proto.Reading has it; empty
// for nothing. It may be called from any goroutine.
func (n *Node) SetMute(mute string) {
	n.mu.Lock()
	defer n.mu.Unlock()
	n.mute = mute
}

func (n *Node) muted() string {
	n.mu.Lock()
	defer n.mu.Unlock()
	return n.mute
}

// keepWarmth writes down how long the instrument has sounded.
func (n *Node) keepWarmth() {
	if n.config.Warmth == "" {
		return
	}
	n.mu.Lock()
	played := n.played
	n.writtenPlayed = played
	n.mu.Unlock()
	if err := saveWarmth(n.config.Warmth, played, n.now()); err != nil {
		n.log.Info("how warm the instrument is was not kept", "err", err)
	}
}

// warmedSinceKept is how many seconds were played since they were written down.
func (n *Node) warmedSinceKept() float64 {
	n.mu.Lock()
	defer n.mu.Unlock()
	return n.played - n.writtenPlayed
}
