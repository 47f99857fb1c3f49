// Package capturetest checks that a capture.Source keeps the contract that
// capture documents. Every implementation runs it, the fakes included.
package capturetest

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"testing"
	"time"

	"bellrow/node/capture"
)

// patience is how long a call that should return "promptly" may take before
// it counts as stuck. It is generous: a busy machine must not fail the suite.
const patience = 10 * time.Second

// A Subject is a source under test.
type Subject struct {
	// Open returns a fresh source; it is called once for each check.
	Open func(t testing.TB) capture.Source
	// Want is what the source must deliver, to within Tolerance, when it loses
	// nothing. Nil leaves the samples unchecked.
	Want []float64
	// Tolerance is the largest difference allowed from Want; zero means exact.
	Tolerance float64
	// Endless sources are read for Blocks blocks instead of to their end.
	Endless bool
	// Blocks bounds the reading of an endless source; zero means 50.
	Blocks int
	// Starves is true when a Read soon blocks because no more samples come
	// (a device gone silent): Close must then release it.
	Starves bool
}

// Run runs every check as a subtest.
func Run(t *testing.T, s Subject) {
	for _, c := range checks {
		t.Run(c.name, func(t *testing.T) {
			src := s.Open(t)
			defer src.Close()
			if err := c.run(t.Context(), s, src); err != nil {
				t.Error(err)
			}
		})
	}
}

var checks = []struct {
	name string
	run  func(ctx context.Context, s Subject, src capture.Source) error
}{
	{"info", checkInfo},
	{"blocks", checkBlocks},
	{"cancelled", checkCancelled},
	{"cancel-in-flight", checkCancelInFlight},
	{"closed", checkClosed},
	{"close-in-flight", checkCloseInFlight},
}

// checkInfo: the description makes sense and stays the same.
func checkInfo(ctx context.Context, s Subject, src capture.Source) error {
	before := src.Info()
	if before.Rate < capture.MinRate || before.Rate > capture.MaxRate {
		return fmt.Errorf("rate %g Hz, want %d to %d", before.Rate, capture.MinRate, capture.MaxRate)
	}
	if before.Name == "" {
		return errors.New("the source has no name")
	}
	if !s.Starves {
		if _, err := src.Read(ctx); err != nil {
			return fmt.Errorf("first Read: %w", err)
		}
	}
	if after := src.Info(); after != before {
		return fmt.Errorf("Info changed from %+v to %+v", before, after)
	}
	return nil
}

// checkBlocks: indices follow each other, samples are sound, the end is sticky.
func checkBlocks(ctx context.Context, s Subject, src capture.Source) error {
	if s.Starves {
		return nil
	}
	limit := math.MaxInt
	if s.Endless {
		limit = max(s.Blocks, 1)
		if s.Blocks == 0 {
			limit = 50
		}
	}
	var next int64
	for range limit {
		b, err := src.Read(ctx)
		if err != nil {
			return checkEnd(ctx, s, src, b, err, next)
		}
		if err := checkBlock(s, b, next); err != nil {
			return err
		}
		next = b.First + int64(len(b.Samples))
	}
	return nil
}

func checkBlock(s Subject, b capture.Block, next int64) error {
	if len(b.Samples) == 0 {
		return fmt.Errorf("empty block at %d without an error", b.First)
	}
	if b.Lost < 0 || b.First != next+b.Lost {
		return fmt.Errorf("block starts at %d with %d lost, want %d plus the lost", b.First, b.Lost, next)
	}
	for i, x := range b.Samples {
		at := b.First + int64(i)
		if math.IsNaN(x) || x < -1 || x > 1 {
			return fmt.Errorf("sample %d is %g, want -1 to 1", at, x)
		}
		if s.Want == nil {
			continue
		}
		if at >= int64(len(s.Want)) {
			return fmt.Errorf("sample %d, want only %d samples", at, len(s.Want))
		}
		if d := math.Abs(x - s.Want[at]); d > s.Tolerance {
			return fmt.Errorf("sample %d is %g, want %g", at, x, s.Want[at])
		}
	}
	return nil
}

func checkEnd(ctx context.Context, s Subject, src capture.Source, b capture.Block, end error, next int64) error {
	if len(b.Samples) > 0 {
		return fmt.Errorf("a block of %d samples together with error %v", len(b.Samples), end)
	}
	if s.Endless {
		return fmt.Errorf("after %d samples: %w, want more", next, end)
	}
	if end != io.EOF {
		return fmt.Errorf("after %d samples: error %v, want io.EOF", next, end)
	}
	if s.Want != nil && next != int64(len(s.Want)) {
		return fmt.Errorf("%d samples, want %d", next, len(s.Want))
	}
	for range 3 {
		if b, err := src.Read(ctx); err != io.EOF || len(b.Samples) > 0 {
			return fmt.Errorf("Read after the end: %d samples, error %v, want io.EOF again", len(b.Samples), err)
		}
	}
	return nil
}

// checkCancelled: a context that is done is said so, and does no lasting harm.
func checkCancelled(ctx context.Context, s Subject, src capture.Source) error {
	done, cancel := context.WithCancel(ctx)
	cancel()
	if b, err := src.Read(done); !errors.Is(err, context.Canceled) || len(b.Samples) > 0 {
		return fmt.Errorf("Read with a cancelled context: %d samples, error %v, want context.Canceled", len(b.Samples), err)
	}
	if s.Starves {
		return nil
	}
	if _, err := src.Read(ctx); err != nil {
		return fmt.Errorf("Read after a cancelled one: %w", err)
	}
	return nil
}

// checkCancelInFlight: a Read that waits returns when its context ends.
func checkCancelInFlight(ctx context.Context, s Subject, src capture.Source) error {
	if !s.Starves {
		return nil
	}
	inner, cancel := context.WithCancel(ctx)
	err := inFlight(inner, src, cancel)
	if !errors.Is(err, context.Canceled) {
		return fmt.Errorf("Read in flight while its context ends: error %v, want context.Canceled", err)
	}
	return nil
}

// checkClosed: Close twice is harmless, and a closed source gives no samples.
func checkClosed(ctx context.Context, _ Subject, src capture.Source) error {
	if err := src.Close(); err != nil {
		return fmt.Errorf("Close: %w", err)
	}
	if err := src.Close(); err != nil {
		return fmt.Errorf("second Close: %w", err)
	}
	// What had arrived before the Close may still come out, but not forever.
	const leftover = 10000
	for range leftover {
		if _, err := src.Read(ctx); err != nil {
			return nil
		}
	}
	return fmt.Errorf("a closed source still gave %d blocks", leftover)
}

// checkCloseInFlight: Close releases the reader.
func checkCloseInFlight(ctx context.Context, s Subject, src capture.Source) error {
	if !s.Starves && !s.Endless {
		return nil
	}
	err := inFlight(ctx, src, func() { src.Close() })
	if err == nil || errors.Is(err, errStuck) {
		return fmt.Errorf("Read in flight while the source closes: %w", errStuck)
	}
	return nil
}

var errStuck = errors.New("it did not return")

// inFlight reads until an error while act happens, and returns that error.
func inFlight(ctx context.Context, src capture.Source, act func()) error {
	result := make(chan error, 1)
	reading := make(chan struct{})
	go func() {
		close(reading)
		for {
			if _, err := src.Read(ctx); err != nil {
				result <- err
				return
			}
		}
	}()
	<-reading
	act()
	select {
	case err := <-result:
		return err
	case <-time.After(patience):
		return errStuck
	}
}
