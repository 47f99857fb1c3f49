// Package report says what a section's records show: once for the section and
// once for each player, as text, JSON, CSV and HTML with drawings.
//
// Load reads a store, Make draws the conclusions, and the Write functions
// print them. A player's habits stand on the player's own page; the section's
// page has hints for the leader, in the order of the seats, and never compares
// players with one another.
package report

import (
	"context"
	"fmt"
	"slices"
	"time"

	"bellrow/hub"
)

// Records are what a store holds of one section.
type Records struct {
	Section  hub.Section         `json:"section"`
	Rounds   []hub.Round         `json:"rounds"`
	Readings []hub.Reading       `json:"readings"`
	Moves    []hub.MoveRecord    `json:"moves"`
	Settings []hub.SettingRecord `json:"settings"`
}

// Load reads a section's records since a moment. Settings are read from the
// beginning: a slide may have stood still ever since.
func Load(ctx context.Context, store hub.Store, section hub.Section, since time.Time) (Records, error) {
	r := Records{Section: section}
	var err error
	if r.Rounds, err = store.Rounds(ctx, section.ID, since); err != nil {
		return r, fmt.Errorf("report: rounds of %s: %w", section.Name, err)
	}
	if r.Readings, err = store.Readings(ctx, section.ID, since); err != nil {
		return r, fmt.Errorf("report: readings of %s: %w", section.Name, err)
	}
	if r.Moves, err = store.Moves(ctx, section.ID, since); err != nil {
		return r, fmt.Errorf("report: moves of %s: %w", section.Name, err)
	}
	if r.Settings, err = store.Settings(ctx, section.ID, time.Time{}); err != nil {
		return r, fmt.Errorf("report: settings of %s: %w", section.Name, err)
	}
	return r, nil
}

// NoNames takes the players' names out; chairs keep their labels.
func (r Records) NoNames() Records {
	r.Section = r.Section.Clone()
	for i := range r.Section.Chairs {
		c := &r.Section.Chairs[i]
		c.Name = ""
		if c.Label == "" {
			c.Label = fmt.Sprintf("chair %d", i+1)
		}
	}
	return r
}

// Only keeps one chair.
func (r Records) Only(id hub.ChairID) Records {
	r.Section = r.Section.Clone()
	r.Section.Chairs = slices.DeleteFunc(r.Section.Chairs, func(c hub.Chair) bool { return c.ID != id })
	r.Readings = slices.DeleteFunc(slices.Clone(r.Readings), func(x hub.Reading) bool { return x.Chair != id })
	r.Moves = slices.DeleteFunc(slices.Clone(r.Moves), func(x hub.MoveRecord) bool { return x.Chair != id })
	r.Settings = slices.DeleteFunc(slices.Clone(r.Settings), func(x hub.SettingRecord) bool { return x.Chair != id })
	return r
}
