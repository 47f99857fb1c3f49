package report

import (
	"context"
	"fmt"
	"slices"
	"time"

	"bellrow/hub"
)

// Records are what a store holds of one section, as far as a report reads it.
type Records struct {
	Section  hub.Section         `json:"section"`
	Rounds   []hub.Round         `json:"rounds"`
	Moves    []hub.MoveRecord    `json:"moves"`
	Settings []hub.SettingRecord `json:"settings"`
	Figures  []hub.Figures       `json:"-"` // of the readings
}

// Export is everything that a store holds of one section.
type Export struct {
	Records
	Readings []hub.Reading `json:"readings"`
}

// Season is how far back a report looks when nobody says.
const Season = 90 * 24 * time.Hour

// Load reads a section's records since a moment. Settings are read from the
// beginning: a slide may have stood still ever since.
func Load(ctx context.Context, store hub.Store, section hub.Section, since time.Time) (Records, error) {
	r, err := around(ctx, store, section, since)
	if err != nil {
		return r, err
	}
	if r.Figures, err = store.Figures(ctx, section.ID, since); err != nil {
		return r, fmt.Errorf("report: figures of %s: %w", section.Name, err)
	}
	return r, nil
}

// LoadExport reads everything since a moment, and all settings. It takes
// several times as long as Load.
func LoadExport(ctx context.Context, store hub.Store, section hub.Section, since time.Time) (Export, error) {
	r, err := around(ctx, store, section, since)
	e := Export{Records: r}
	if err != nil {
		return e, err
	}
	if e.Readings, err = store.Readings(ctx, section.ID, since); err != nil {
		return e, fmt.Errorf("report: readings of %s: %w", section.Name, err)
	}
	return e, nil
}

// around reads what there is beside the readings.
func around(ctx context.Context, store hub.Store, section hub.Section, since time.Time) (Records, error) {
	r := Records{Section: section}
	var err error
	if r.Rounds, err = store.Rounds(ctx, section.ID, since); err != nil {
		return r, fmt.Errorf("report: rounds of %s: %w", section.Name, err)
	}
	if r.Moves, err = store.Moves(ctx, section.ID, since); err != nil {
		return r, fmt.Errorf("report: moves of %s: %w", section.Name, err)
	}
	if r.Settings, err = store.Settings(ctx, section.ID, time.Time{}); err != nil {
		return r, fmt.Errorf("report: settings of %s: %w", section.Name, err)
	}
	return r, nil
}

// HideNames takes the players' names out; chairs keep their labels.
func (r *Records) HideNames() {
	r.Section = r.Section.Clone()
	for i := range r.Section.Chairs {
		c := &r.Section.Chairs[i]
		c.Name = ""
		if c.Label == "" {
			c.Label = fmt.Sprintf("chair %d", i+1)
		}
	}
}

// Only keeps one chair.
func (e *Export) Only(id hub.ChairID) {
	e.Section = e.Section.Clone()
	e.Section.Chairs = slices.DeleteFunc(e.Section.Chairs, func(c hub.Chair) bool { return c.ID != id })
	e.Readings = slices.DeleteFunc(e.Readings, func(x hub.Reading) bool { return x.Chair != id })
	e.Moves = slices.DeleteFunc(e.Moves, func(x hub.MoveRecord) bool { return x.Chair != id })
	e.Settings = slices.DeleteFunc(e.Settings, func(x hub.SettingRecord) bool { return x.Chair != id })
}
