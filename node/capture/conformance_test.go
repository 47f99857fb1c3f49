package capture_test

import (
	"math"
	"testing"
	"testing/synctest"
	"time"

	"bellrow/node/capture"
	"bellrow/node/capture/capturetest"
)

// tone is half a second of sound with exact ends.
func tone(rate float64) []float64 {
	s := make([]float64, int(rate/2))
	for i := range s {
		s[i] = 0.5 * math.Sin(2*math.Pi*233*float64(i)/rate)
	}
	return s
}

func TestSlice(t *testing.T) {
	want := tone(8000)
	capturetest.Run(t, capturetest.Subject{
		Open: func(testing.TB) capture.Source { return capture.Slice(want, 8000) },
		Want: want,
	})
}

func TestPaced(t *testing.T) {
	want := tone(48000)
	capturetest.Run(t, capturetest.Subject{
		Open: func(testing.TB) capture.Source { return capture.Paced(capture.Slice(want, 48000)) },
		Want: want,
	})
}

func TestLive(t *testing.T) {
	capturetest.Run(t, capturetest.Subject{
		Open: func(testing.TB) capture.Source {
			info := capture.Info{Rate: 48000, Name: "silent device"}
			return capture.Watch(info, capture.NewRing(48000), func() error { return nil })
		},
		Starves: true,
	})
}

// TestPacedKeepsTime runs in a bubble with its own clock: ten seconds of sound
// take ten seconds, neither more nor less, also for a reader that dawdles.
func TestPacedKeepsTime(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		const rate = 8000
		src := capture.Paced(capture.Slice(make([]float64, 10*rate), rate))
		defer src.Close()
		if !src.Info().Live {
			t.Error("paced source is not live")
		}
		start := time.Now()
		for n := 0; ; n++ {
			b, err := src.Read(t.Context())
			if err != nil {
				break
			}
			end := float64(b.First+int64(len(b.Samples))) / rate
			if late := time.Since(start).Seconds() - end; n < 5 && math.Abs(late) > 1e-6 {
				t.Errorf("block %d comes %g s late", n, late)
			}
			if n == 5 {
				time.Sleep(700 * time.Millisecond) // the reader falls behind and catches up
			}
		}
		if took := time.Since(start); took != 10*time.Second {
			t.Errorf("took %v, want 10 s", took)
		}
	})
}
