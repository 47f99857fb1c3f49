// Package hearing is what tests of microphones have in common: it listens to a
// source and compares the readings with those of the file that was played.
package hearing

import (
	"errors"
	"io"
	"math"
	"testing"
	"time"

	"bellrow/node/capture"
	"bellrow/node/listen"
	"bellrow/proto/pitch"
)

// Tolerance is how far a reading through a microphone may be from the file's,
// in cents: a fiftieth of what a slide can be set to.
const Tolerance = 0.01

// Heard is what came out of a source.
type Heard struct {
	Settled, Other []listen.Reading
	Lost, Samples  int64
}

// From listens to src until enough settled readings have come, the source
// ends or the limit is reached.
func From(t testing.TB, src capture.Source, enough int, limit time.Duration) Heard {
	t.Helper()
	l, err := listen.New(listen.Config{Rate: src.Info().Rate, ClockPPM: -1})
	if err != nil {
		t.Fatal(err)
	}
	var h Heard
	for start := time.Now(); len(h.Settled) < enough && time.Since(start) < limit; {
		b, err := src.Read(t.Context())
		if errors.Is(err, io.EOF) {
			h.note(l.Flush())
			return h
		}
		if err != nil {
			t.Fatal(err)
		}
		h.Lost, h.Samples = h.Lost+b.Lost, h.Samples+int64(len(b.Samples))
		if b.Lost > 0 {
			l.Gap(b.Lost)
		}
		h.note(l.Write(b.Samples))
	}
	return h
}

func (h *Heard) note(events []listen.Event) {
	for _, ev := range events {
		switch {
		case ev.Reading == nil:
		case ev.Reading.Settled:
			h.Settled = append(h.Settled, *ev.Reading)
		default:
			h.Other = append(h.Other, *ev.Reading)
		}
	}
}

// Direct reads the one note in a file without any microphone.
func Direct(t testing.TB, path string) pitch.Hertz {
	t.Helper()
	src, err := capture.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer src.Close()
	h := From(t, src, 1, time.Minute)
	if len(h.Settled) != 1 {
		t.Fatalf("%d settled readings in the file itself, want 1; others %+v", len(h.Settled), h.Other)
	}
	return h.Settled[0].Hz
}

// mayLose is what part of the sound a starved machine may lose before it reaches
// us: told as lost, and in no reading.
const mayLose = 0.02

// Check fails the test unless enough readings came, all within Tolerance of
// want, and little was lost.
func (h Heard) Check(t testing.TB, want pitch.Hertz, enough int) {
	t.Helper()
	worst := 0.0
	for _, r := range h.Settled {
		worst = max(worst, math.Abs(float64(pitch.Between(want, r.Hz))))
	}
	t.Logf("%d settled readings, %d others, largest difference %.5f cents, %d of %d samples lost",
		len(h.Settled), len(h.Other), worst, h.Lost, h.Samples)
	if len(h.Settled) < enough || worst > Tolerance || float64(h.Lost) > mayLose*float64(h.Samples) {
		t.Errorf("want %d readings within %g cents and at most %g of the samples lost", enough, Tolerance, mayLose)
	}
}
