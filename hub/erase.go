package hub

import (
	"context"
	"fmt"
	"slices"
	"time"
)

// DeletePlayer takes a chair out of the section and erases everything it ever
// stored. It cannot be undone.
func (h *Hub) DeletePlayer(ctx context.Context, id ChairID) error {
	h.mu.Lock()
	if h.chair(id) != nil {
		h.remove(id)
	}
	h.readings = slices.DeleteFunc(h.readings, func(r *Reading) bool { return r.Chair == id })
	h.moves = slices.DeleteFunc(h.moves, func(m *MoveRecord) bool { return m.Chair == id })
	h.undo = nil
	h.rebuild()
	h.progress()
	h.touch()
	h.mu.Unlock()
	if err := h.journal.flush(context.WithoutCancel(ctx), nil); err != nil {
		return fmt.Errorf("hub: deleting chair %d: %w", id, err)
	}
	if err := h.store.DeletePlayer(ctx, id); err != nil {
		return fmt.Errorf("hub: deleting chair %d: %w", id, err)
	}
	return nil
}

// Forget erases what is older than before. The tune-up that is going on stays.
func (h *Hub) Forget(ctx context.Context, before time.Time) error {
	h.mu.Lock()
	if h.fresh.at.Before(before) {
		before = h.fresh.at
	}
	h.mu.Unlock()
	return h.store.Forget(ctx, before)
}
