package session

import (
	"context"
	"sync"
	"time"

	"bellrow/hub/attribute"
	"bellrow/hub/tuneup"
)

// Run serves the timers until ctx ends: it tells the state of time that went
// by, has whose sound is whose worked out, and tries again what the store
// refused. None of the three waits for another. Everything else works without
// it.
func (s *Session) Run(ctx context.Context) error {
	var wg sync.WaitGroup
	defer wg.Wait()
	fits := make(chan *tuneup.Fit)
	wg.Go(func() { s.retry(ctx) })
	wg.Go(func() {
		for fit := range fits {
			s.solve(fit)
		}
	})
	defer close(fits)
	var ready *tuneup.Fit // for whoever solves, when that is free
	for {
		at, fit := s.due()
		if fit != nil {
			ready = fit
		}
		free := fits
		if ready == nil {
			free = nil
		}
		var due <-chan time.Time
		if !at.IsZero() {
			due = s.after(at.Sub(s.now()))
		}
		select {
		case free <- ready:
			ready = nil
		case <-ctx.Done():
			wg.Go(func() { s.flush(ctx) })
			return ctx.Err()
		case <-s.woken:
		case <-due:
			s.happened(tuneup.Tick{})
		}
	}
}

// due is when the state has to be told the time, zero for never, and what is to
// be solved, nil for nothing.
func (s *Session) due() (time.Time, *tuneup.Fit) {
	s.mu.Lock()
	defer s.mu.Unlock()
	fit := s.fit
	s.fit = nil
	return s.wake, fit
}

// retry stores what is left in the queue, until ctx ends.
func (s *Session) retry(ctx context.Context) {
	every := time.NewTicker(s.retryEvery)
	defer every.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-every.C:
			if s.journal.Waiting() > 0 {
				s.flush(ctx)
			}
		}
	}
}

// solve works out whose sound is whose, and lets the state take it.
func (s *Session) solve(fit *tuneup.Fit) {
	for _, c := range fit.Chairs {
		if len(c.Chunks) > 0 && !c.Timed() {
			s.log.Warn("session: together: the clock of this laptop is not known, its tracks are left out", "chair", c.ID)
		}
	}
	res := fit.Fit(s.attributor, s.logFit)
	s.happened(tuneup.Fitted{Round: fit.Round, Result: res})
}

// logFit tells developers what a window held and what became of it.
func (s *Session) logFit(in attribute.Input, res attribute.Result) {
	s.log.Debug("session: together", "start_s", in.Start, "end_s", in.End, "pairs", len(res.Pairs), "fallback", res.Fallback)
	for i, c := range in.Chairs {
		if i < len(res.Chairs) {
			s.log.Debug("session: together", "chair", c.ID, "chunks", len(c.Chunks), "zero_s", c.Zero, "clock_error_s", c.ClockError,
				"own_hz", c.Own.Hz, "verdict", res.Chairs[i].Verdict, "hz", res.Chairs[i].Hz, "ci95_cents", res.Chairs[i].CI95)
		}
	}
}
