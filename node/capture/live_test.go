package capture

import (
	"errors"
	"testing"
	"testing/synctest"
	"time"
)

// bench is a device on the test bench. It counts the calls that must come
// exactly once.
type bench struct{ released int }

func (b *bench) release() error { b.released++; return nil }

func openBench() (*Live, *bench) {
	b := &bench{}
	ring := NewRing(RingSeconds * 48000)
	return Watch(Info{Rate: 48000, Name: "bench"}, ring, b.release), b
}

func TestLiveReleasesOnce(t *testing.T) {
	s, b := openBench()
	for range 2 {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	}
	if b.released != 1 {
		t.Errorf("released %d times, want once", b.released)
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
