package mem

import (
	"context"
	"slices"

	"bellrow/hub"
)

// Commit implements hub.Store.
func (s *Store) Commit(ctx context.Context, changes []hub.Change) error {
	if err := s.check(changes); err != nil {
		return err
	}
	for _, c := range changes {
		if err := c.Write(ctx, s); err != nil {
			return err
		}
	}
	return nil
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
