package node

import (
	"context"
	"errors"
	"math"
	"os"
	"path/filepath"
	"sync"
	"syscall"
	"testing"
	"time"

	"bellrow/node/capture"
	"bellrow/proto"
	"bellrow/proto/track"
	"bellrow/testdata/smalldisk"
)

// asking is a hub that always asks, or never.
type asking struct {
	listen bool
	mu     sync.Mutex
	got    []proto.Reading
	states []string
}

func (a *asking) Send(r proto.Reading) { a.mu.Lock(); defer a.mu.Unlock(); a.got = append(a.got, r) }
func (a *asking) State(s proto.State) {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.states = append(a.states, s.State)
}
func (a *asking) Track(track.Chunk) {}
func (a *asking) View() proto.View  { return proto.View{Round: 1, Listen: a.listen} }
func (a *asking) Clock(int64, float64, time.Time) {
}

const keepRate = 16000

// siren is silence, a tone that glides all the time, silence: never at rest.
func siren(seconds float64) []float64 {
	pause := keepRate / 2
	x := make([]float64, 2*pause+int(seconds*keepRate))
	phase := 0.0
	for i := pause; i < len(x)-pause; i++ {
		t := float64(i-pause) / keepRate
		phase += 2 * math.Pi * 220 * math.Exp2(t/20) / keepRate
		for k := 1.0; k <= 5; k++ {
			x[i] += 0.1 / k * math.Sin(k*phase)
		}
	}
	return x
}

// heardBy runs a node over x and returns it with what it sent.
func heardBy(t *testing.T, x []float64, listen, keep bool) (*Node, []proto.Reading) {
	t.Helper()
	hub := &asking{listen: listen}
	n, err := New(Config{Uplink: hub, KeepSound: keep, Open: func(context.Context) (capture.Source, error) { return capture.Slice(x, keepRate), nil }})
	if err != nil {
		t.Fatal(err)
	}
	if err := n.Run(t.Context()); err != nil {
		t.Fatal(err)
	}
	return n, hub.got
}

// TestKept: the sound kept is that of the note which was sent, sample for
// sample, and only if it was asked for.
func TestKept(t *testing.T) {
	x := siren(3)
	n, sent := heardBy(t, x, true, true)
	s := n.Kept()
	if len(sent) != 1 || s == nil || s.Rate != keepRate {
		t.Fatalf("%d readings, kept %v; need one refused note and its sound", len(sent), s)
	}
	from := int(math.Round((sent[0].Onset - keepBefore) * keepRate))
	for i, v := range s.Samples {
		if v != float32(x[from+i]) {
			t.Fatalf("sample %d is %g, the note has %g there", i, v, x[from+i])
		}
	}
	if end := from + len(s.Samples); float64(end)/keepRate < sent[0].End {
		t.Errorf("kept up to %.2f s, the reading goes to %.2f s", float64(end)/keepRate, sent[0].End)
	}
	n.Pause(true)
	if n.Kept() != nil {
		t.Error("kept through a pause")
	}
	if n, _ := heardBy(t, x, false, true); n.Kept() != nil {
		t.Error("a note was kept that nobody had asked for")
	}
	if n, _ := heardBy(t, x, true, false); n.Kept() != nil {
		t.Error("a note was kept by a node that keeps none")
	}
}

// TestKeptIsBounded: of an endless note the end is kept.
func TestKeptIsBounded(t *testing.T) {
	x := siren(keepSeconds + 5)
	n, _ := heardBy(t, x, true, true)
	s := n.Kept()
	if s == nil || len(s.Samples) > keepSeconds*keepRate {
		t.Fatalf("kept %v, need at most %d s", s, keepSeconds)
	}
}

// TestRecent compares the ring with all of the sound, through losses and
// blocks of any length.
func TestRecent(t *testing.T) {
	r := newRecent(100)
	var all []float32
	lengths := []int{1, 7, 300, 64, 1200, 3, 450}
	for i, n := range lengths {
		b := capture.Block{Samples: make([]float64, n), Lost: int64(i * 17 % 5)}
		if i == 5 {
			b.Lost = 2500
		}
		for range b.Lost {
			all = append(all, 0)
		}
		for j := range b.Samples {
			b.Samples[j] = float64(len(all))
			all = append(all, float32(b.Samples[j]))
		}
		r.hear(b)
		got := r.note(int64(len(all) - 500)).Samples
		want := all[max(0, len(all)-530):]
		if len(got) != len(want) {
			t.Fatalf("after block %d: %d samples, need %d", i, len(got), len(want))
		}
		for j := range got {
			if got[j] != want[j] {
				t.Fatalf("after block %d: sample %d is %g, need %g", i, j, got[j], want[j])
			}
		}
	}
}

// TestSave: the file holds the sound, and none is ever written over.
func TestSave(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "new", "sounds")
	s := &Sound{Rate: keepRate, Samples: []float32{0.5, -0.25, 0}}
	at := time.Date(2026, 11, 28, 19, 30, 5, 0, time.UTC)
	names := map[string]bool{}
	for range 3 {
		path, err := s.Save(dir, at)
		if err != nil {
			t.Fatal(err)
		}
		names[path] = true
		src, err := capture.Open(path)
		if err != nil {
			t.Fatal(err)
		}
		b, err := src.Read(t.Context())
		src.Close()
		if err != nil || src.Info().Rate != keepRate || len(b.Samples) != 3 || b.Samples[1] != -0.25 {
			t.Errorf("%s: %v at %g Hz (%v)", path, b.Samples, src.Info().Rate, err)
		}
		if info, err := os.Stat(path); err != nil || info.Mode().Perm()&0o077 != 0 {
			t.Errorf("%s: mode %v (%v), need it to be the player's alone", path, info.Mode(), err)
		}
	}
	if len(names) != 3 {
		t.Errorf("three sounds of one second have %d names", len(names))
	}
}

// TestSaveThatFails leaves nothing behind.
func TestSaveThatFails(t *testing.T) {
	s := &Sound{Rate: keepRate, Samples: make([]float32, 5*keepRate)}
	file := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if path, err := s.Save(file, time.Now()); err == nil {
		t.Errorf("saved as %s inside a file", path)
	}
	disk := smalldisk.New(t, 64)
	path, err := s.Save(disk.Dir, time.Now())
	if !errors.Is(err, syscall.ENOSPC) {
		t.Errorf("on a disk of 64 kB: %q, %v; need ENOSPC", path, err)
	}
	if left, _ := os.ReadDir(disk.Dir); len(left) != 0 {
		t.Errorf("left behind: %v", left)
	}
}
