package access

import (
	"context"
	"log/slog"
	"sync"
	"time"

	"golang.org/x/time/rate"
)

// Lines of one wording that a log takes at once, and then one each while.
const (
	logBurst = 20
	logEvery = 10 * time.Second
	// maxWordings bounds what is counted; our own wordings are far fewer.
	maxWordings = 512
)

// quiet passes on what is logged, but no more than so many lines of one
// wording: what is logged about others, they can make happen at will.
type quiet struct {
	slog.Handler
	counts *counts
}

type counts struct {
	mu    sync.Mutex
	now   func() time.Time
	lines map[string]*wording
}

type wording struct {
	*rate.Limiter
	left int // lines left out since the last
}

// Quiet returns a handler that limits h by the wording of a line, whatever its
// details; a line that follows on some that were left out says how many. nil now
// means time.Now.
func Quiet(h slog.Handler, now func() time.Time) slog.Handler {
	if now == nil {
		now = time.Now
	}
	return &quiet{h, &counts{now: now, lines: map[string]*wording{}}}
}

// Handle passes r on, or counts it.
func (q *quiet) Handle(ctx context.Context, r slog.Record) error {
	pass, left := q.counts.take(r.Message)
	if !pass {
		return nil
	}
	if left > 0 {
		r = r.Clone()
		r.AddAttrs(slog.Int("like_it_left_out", left))
	}
	return q.Handler.Handle(ctx, r)
}

// WithAttrs and WithGroup share the counts.
func (q *quiet) WithAttrs(a []slog.Attr) slog.Handler {
	return &quiet{q.Handler.WithAttrs(a), q.counts}
}

// WithGroup see WithAttrs.
func (q *quiet) WithGroup(name string) slog.Handler {
	return &quiet{q.Handler.WithGroup(name), q.counts}
}

func (c *counts) take(text string) (pass bool, left int) {
	c.mu.Lock()
	defer c.mu.Unlock()
	w := c.lines[text]
	if w == nil {
		if len(c.lines) >= maxWordings {
			text = "" // wordings that are made of something sent share one count
			w = c.lines[text]
		}
		if w == nil {
			w = &wording{Limiter: rate.NewLimiter(rate.Every(logEvery), logBurst)}
			c.lines[text] = w
		}
	}
	if !w.AllowN(c.now(), 1) {
		w.left++
		return false, 0
	}
	left, w.left = w.left, 0
	return true, left
}
