package mic

import (
	"context"
	"testing"
	"time"

	"bellrow/node/capture"
)

func TestFeed(t *testing.T) {
	ring := capture.NewRing(4096)
	f := newFeed(ring, 2, 48000, 2)
	f.put([]float32{0.5, 0.25, -1, 1}, 100*time.Millisecond, false)
	f.put([]float32{1, 1}, 200*time.Millisecond, true)
	b, err := ring.Read(t.Context())
	if err != nil || len(b.Samples) != 2 || b.Samples[0] != 0.375 || b.Samples[1] != 0 {
		t.Errorf("stereo block %v, error %v, want the means 0.375 and 0", b.Samples, err)
	}
	// 100 ms at 48 kHz less the two frames that did come.
	const lost = 4800 - 2
	if b, err = ring.Read(t.Context()); err != nil || b.Lost != lost {
		t.Errorf("after the overflow: lost %d, error %v, want %d", b.Lost, err, lost)
	}
}

func TestFeedOverflowWithoutAClock(t *testing.T) {
	ring := capture.NewRing(4096)
	f := newFeed(ring, 1, 48000, 1)
	f.put([]float32{0}, 0, false)
	f.put([]float32{0}, 0, true)
	if got := ring.Lost(); got != 1 {
		t.Errorf("lost %d, want 1: an overflow is never hidden", got)
	}
}

// TestFeedDoesNotAllocate: the callback runs on the device's own thread and
// must not wait for the memory of others.
func TestFeedDoesNotAllocate(t *testing.T) {
	ring := capture.NewRing(1 << 15)
	in := make([]float32, 2*480)
	for _, channels := range []int{1, 2} {
		f := newFeed(ring, channels, 48000, 480)
		n := testing.AllocsPerRun(100, func() {
			f.put(in[:480*channels], time.Second, false)
			ring.Read(context.Background())
		})
		if n != 0 {
			t.Errorf("%d channels: %g allocations in a callback, want 0", channels, n)
		}
	}
}

func TestChatter(t *testing.T) {
	for line, want := range map[string]bool{
		"ALSA lib pcm_dmix.c:1032:(snd_pcm_dmix_open) unable to open slave": true,
		"Expression 'paTimedOut' failed in 'src/os/unix/pa_unix_util.c'":    true,
		"jack server is not running or cannot be started":                   true,
		"bellrow node: no hub answered":                                     false,
		"panic: runtime error: index out of range":                          false,
		"2026/01/02 10:00:00 INFO reading settled=true":                     false,
	} {
		if got := isChatter(line); got != want {
			t.Errorf("%q is chatter: %v, want %v", line, got, want)
		}
	}
}
