package mem

import (
	"context"
	"fmt"
	"slices"

	"bellrow/hub"
)

// Commit implements hub.Store.
func (s *Store) Commit(ctx context.Context, changes []hub.Change) error {
	if err := s.check(changes); err != nil {
		return err
	}
	for _, c := range changes {
		if err := s.write(ctx, c); err != nil {
			return err
		}
	}
	return nil
}

// write writes one change.
func (s *Store) write(ctx context.Context, c hub.Change) (err error) {
	switch c := c.(type) {
	case hub.SectionChange:
		_, err = s.SaveSection(ctx, *c.Is)
	case hub.ChairChange:
		err = s.SaveChair(ctx, c.Section, *c.Is)
	case hub.RoundChange:
		_, err = s.SaveRound(ctx, *c.Is)
	case hub.ReadingChange:
		if c.Was == nil {
			_, err = s.AddReadings(ctx, []hub.Reading{*c.Is})
		} else {
			err = s.SaveReading(ctx, *c.Is)
		}
	case hub.MoveChange:
		_, err = s.SaveMove(ctx, *c.Is)
	case hub.SettingAdded:
		err = s.AddSetting(ctx, c.Is)
	case hub.NodeChange:
		err = s.Enrol(ctx, c.Is)
	case hub.ValueChange:
		err = s.SetValue(ctx, c.Key, c.Is)
	default:
		err = fmt.Errorf("mem: change %T: %w", c, hub.ErrRefused)
	}
	return err
}

// check finds a change of what is not there, nor comes with those before it.
func (s *Store) check(changes []hub.Change) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	sections, readings := map[int64]bool{}, map[int64]bool{}
	for _, c := range changes {
		switch c := c.(type) {
		case hub.SectionChange:
			sections[c.Is.ID] = true
		case hub.ChairChange:
			if !sections[c.Section] && !slices.ContainsFunc(s.sections, func(o hub.Section) bool { return o.ID == c.Section }) {
				return hub.ErrNotFound
			}
		case hub.ReadingChange:
			if c.Was != nil && !readings[c.Is.ID] && s.reading(c.Is.ID) < 0 {
				return hub.ErrNotFound
			}
			readings[c.Is.ID] = true
		}
	}
	return nil
}
