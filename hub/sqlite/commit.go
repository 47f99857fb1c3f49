package sqlite

import (
	"context"

	"bellrow/hub"
)

// Commit implements hub.Store: one transaction.
func (s *session) Commit(ctx context.Context, changes []hub.Change) error {
	return s.within(ctx, func(s *session) error {
		for _, c := range changes {
			if err := c.Write(ctx, s); err != nil {
				return err
			}
		}
		return nil
	})
}
