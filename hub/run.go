package hub

import (
	"context"
	"errors"
	"fmt"
	"time"
)

// Run serves the hub's timers until ctx ends: it tries again what the store
// refused, and closes the windows of together rounds. Everything else works
// without it.
func (h *Hub) Run(ctx context.Context) error {
	retry := time.NewTicker(h.retryEvery)
	defer retry.Stop()
	window := time.NewTimer(time.Hour)
	defer window.Stop()
	for {
		if at := h.deadline(); !at.IsZero() {
			window.Reset(max(0, at.Sub(h.now())))
		}
		select {
		case <-ctx.Done():
			h.flushLogged(ctx)
			return ctx.Err()
		case <-h.wake:
		case <-window.C:
			h.closeWindow()
			h.expire()
			h.flushLogged(ctx)
		case <-retry.C:
			if h.journal.waiting() > 0 {
				h.flushLogged(ctx)
			}
		}
	}
}

// flushLogged stores what is queued; a refusal shows on the row.
func (h *Hub) flushLogged(ctx context.Context) {
	if err := h.journal.flush(context.WithoutCancel(ctx), nil); err != nil {
		h.log.Error("hub: not stored", "err", err)
	}
}

// storeChanged says loudly that the store refuses, and that it works again.
func (h *Hub) storeChanged(err error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	switch {
	case err == nil:
		h.trouble = ""
	case errors.Is(err, ErrFull):
		h.trouble = "The disk is full: nothing more is stored. Free some space; the round goes on meanwhile."
	case errors.Is(err, ErrReadOnly):
		h.trouble = "The data folder cannot be written: nothing more is stored. The round goes on meanwhile."
	default:
		h.trouble = fmt.Sprintf("Nothing more is stored (%v). The round goes on meanwhile.", err)
	}
	h.touchRow()
}
