package hub

import (
	"context"
	"strconv"
)

// idSource numbers rounds, readings and moves. The hub numbers them itself so
// that a round goes on while the store cannot write; a reserve of numbers is
// noted in the store ahead of their use, so that a restart never repeats one.
type idSource struct {
	next, limit int64
}

// idReserve is how many numbers one note in the store covers.
const idReserve = 1000

func (h *Hub) newID() int64 {
	if h.ids.next >= h.ids.limit {
		h.ids.limit = h.ids.next + idReserve
		value := strconv.FormatInt(h.ids.limit, 10)
		h.journal.put(&write{key: keyNextID, do: func(ctx context.Context, s Store) error {
			return s.SetValue(ctx, keyNextID, value)
		}})
	}
	id := h.ids.next
	h.ids.next++
	return id
}
