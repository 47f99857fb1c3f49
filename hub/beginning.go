package hub

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
)

// beginning is where a tune-up begins: at a moment, and at the first of the
// numbers that the hub gives to what it makes. The numbers tell before from
// after even when the laptop's clock was set in between.
type beginning struct {
	at time.Time
	id int64
}

// beginning is a tune-up's that begins now.
func (h *Hub) beginning() beginning { return beginning{h.now(), h.ids.next} }

// longestTuneUp is how far back a tune-up that is going on may have begun.
const longestTuneUp = 24 * time.Hour

// freshOf is where the section's present tune-up began, as far as is known.
func (h *Hub) freshOf(ctx context.Context, section int64) (beginning, error) {
	oldest := beginning{at: h.now().Add(-longestTuneUp)}
	v, err := h.store.Value(ctx, keyFresh+strconv.FormatInt(section, 10))
	if errors.Is(err, ErrNotFound) {
		return oldest, nil
	}
	if err != nil {
		return oldest, fmt.Errorf("hub: loading the tune-up: %w", err)
	}
	at, id, numbered := strings.Cut(v, " ")
	fresh := beginning{}
	if fresh.at, err = time.Parse(time.RFC3339Nano, at); err != nil {
		return oldest, nil // written by nobody we know; the records decide
	}
	if fresh.id, err = strconv.ParseInt(id, 10, 64); numbered && err != nil {
		return oldest, nil
	}
	fresh.at = later(fresh.at, oldest.at)
	return fresh, nil
}

func (h *Hub) saveFresh() {
	key := keyFresh + strconv.FormatInt(h.section.ID, 10)
	value := fmt.Sprintf("%s %d", h.fresh.at.Format(time.RFC3339Nano), h.fresh.id)
	h.journal.put(&write{key: key, do: func(ctx context.Context, s Store) error { return s.SetValue(ctx, key, value) }})
}

// from returns what belongs to the tune-up that begins at b, in the order in
// which the hub made it. Settings bear no numbers; of them time decides.
func (rec Records) from(b beginning) Records {
	after := func(id int64, at time.Time) bool {
		if b.id == 0 {
			return !at.Before(b.at)
		}
		return id >= b.id
	}
	rec.Rounds = slices.DeleteFunc(rec.Rounds, func(r Round) bool { return !after(int64(r.ID), r.Started) })
	rec.Readings = slices.DeleteFunc(rec.Readings, func(r Reading) bool { return !after(r.ID, r.At) })
	rec.Moves = slices.DeleteFunc(rec.Moves, func(m MoveRecord) bool { return !after(m.ID, m.At) })
	rec.Settings = slices.DeleteFunc(rec.Settings, func(s SettingRecord) bool { return s.At.Before(b.at) })
	slices.SortStableFunc(rec.Rounds, func(a, b Round) int { return cmp.Compare(a.ID, b.ID) })
	slices.SortStableFunc(rec.Readings, func(a, b Reading) int { return cmp.Compare(a.ID, b.ID) })
	slices.SortStableFunc(rec.Moves, func(a, b MoveRecord) int { return cmp.Compare(a.ID, b.ID) })
	return rec
}
