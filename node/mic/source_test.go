package mic

import (
	"context"
	"errors"
	"testing"
	"testing/synctest"
	"time"

	"bellrow/node/capture"
	"bellrow/node/capture/capturetest"
)

// bench is a device on the test bench. It counts the calls that must come
// exactly once, in order.
type bench struct {
	stopped, freed int
}

func (b *bench) stop() error { b.stopped++; return nil }

func (b *bench) free() error {
	if b.stopped != 1 {
		return errors.New("freed while callbacks may run")
	}
	b.freed++
	return nil
}

func openBench() (*source, *bench) {
	b := &bench{}
	ring := capture.NewRing(ringSeconds * WantRate)
	return newSource(capture.Info{Rate: WantRate, Name: "bench", Live: true}, ring, b), b
}

func TestConformance(t *testing.T) {
	capturetest.Run(t, capturetest.Subject{
		Open:    func(testing.TB) capture.Source { s, _ := openBench(); return s },
		Starves: true,
	})
}

func TestCloseStopsThenFrees(t *testing.T) {
	s, b := openBench()
	for range 2 {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	}
	if b.stopped != 1 || b.freed != 1 {
		t.Errorf("stopped %d times and freed %d times, want once each", b.stopped, b.freed)
	}
}

// lostAfter feeds the source for a while and tells how long after the last
// sample Read gave the device up.
func lostAfter(t *testing.T, feedFor time.Duration) time.Duration {
	t.Helper()
	var took time.Duration
	synctest.Test(t, func(t *testing.T) {
		s, _ := openBench()
		defer s.Close()
		const every = 10 * time.Millisecond
		for range feedFor / every {
			s.ring.Put(make([]float32, 480))
			time.Sleep(every)
		}
		last := time.Now()
		for {
			if _, err := s.Read(t.Context()); err != nil {
				if !errors.Is(err, ErrLost) {
					t.Errorf("error %v, want ErrLost", err)
				}
				break
			}
		}
		took = time.Since(last)
	})
	return took
}

func TestWatchdog(t *testing.T) {
	for _, tt := range []struct {
		name    string
		feedFor time.Duration
		allowed time.Duration
	}{
		{"never starts", 0, startFor},
		{"dies after two seconds", 2 * time.Second, silentFor},
	} {
		t.Run(tt.name, func(t *testing.T) {
			took := lostAfter(t, tt.feedFor)
			if took < tt.allowed-lookEvery || took > tt.allowed+lookEvery {
				t.Errorf("given up after %v, want %v", took, tt.allowed)
			}
		})
	}
}

// TestWatchdogLetsAStallPass: what PulseAudio was seen to buffer is no loss.
func TestWatchdogLetsAStallPass(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s, _ := openBench()
		defer s.Close()
		for range 20 {
			s.ring.Put(make([]float32, 480))
			time.Sleep(800 * time.Millisecond)
			if _, err := s.Read(t.Context()); err != nil {
				t.Fatal(err)
			}
		}
	})
}

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
