package hub

import (
	"context"
	"fmt"
	"time"
)

// Records is what is stored of a section since a moment, oldest first.
type Records struct {
	Section  Section
	Rounds   []Round
	Readings []Reading // that answered a round
	Moves    []MoveRecord
	Settings []SettingRecord
}

// records reads what a section's tune-ups have left since a moment.
func (h *Hub) records(ctx context.Context, s Section, since time.Time) (Records, error) {
	rec := Records{Section: s}
	var err error
	if rec.Rounds, err = h.store.Rounds(ctx, s.ID, since); err != nil {
		return rec, fmt.Errorf("hub: loading the rounds: %w", err)
	}
	if rec.Readings, err = h.store.Answers(ctx, s.ID, since); err != nil {
		return rec, fmt.Errorf("hub: loading the readings: %w", err)
	}
	if rec.Moves, err = h.store.Moves(ctx, s.ID, since); err != nil {
		return rec, fmt.Errorf("hub: loading the moves: %w", err)
	}
	if rec.Settings, err = h.store.Settings(ctx, s.ID, since); err != nil {
		return rec, fmt.Errorf("hub: loading the settings: %w", err)
	}
	return rec, nil
}

// last is when something last happened in a tune-up, not before since.
func (rec Records) last(since time.Time) time.Time {
	for _, r := range rec.Rounds {
		since = later(since, later(r.Started, r.Ended))
	}
	for _, r := range rec.Readings {
		since = later(since, r.At)
	}
	return since
}
