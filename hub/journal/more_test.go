package journal_test

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"testing"

	"bellrow/hub"
	"bellrow/hub/journal"
)

// wrapped is a store that refuses one key in words of its own.
type wrapped struct {
	book
	with error
}

func (w *wrapped) Commit(ctx context.Context, changes []hub.Change) error {
	for _, c := range changes {
		if c.(hub.ValueChange).Key == "bad" {
			return fmt.Errorf("row 7: %w", w.with)
		}
	}
	return w.book.Commit(ctx, changes)
}

// TestHopelessHoweverItIsSaid: what can never be stored is left out at once, whatever is
// said around it; what may work later waits, all of it, in order.
func TestHopelessHoweverItIsSaid(t *testing.T) {
	for _, with := range []error{hub.ErrRefused, hub.ErrNotFound, hub.ErrFull} {
		hopeless := !errors.Is(with, hub.ErrFull)
		w := &wrapped{with: with}
		j := journal.New(w, nil, nil)
		j.Put(values("a"), nil)
		j.Put(values("b", "bad", "c"), nil)
		j.Put(values("d"), nil)
		if n := j.Waiting(); n != 3 {
			t.Errorf("%d wait, need 3", n)
		}
		err := j.Flush(t.Context(), nil)
		want, left := []string{"a", "b", "c", "d"}, 0
		if !hopeless {
			want, left = []string{"a"}, 2
		}
		if !slices.Equal(w.all(), want) || j.Waiting() != left || (err == nil) != hopeless {
			t.Errorf("%v: stored %q, %d wait, %v", with, w.all(), j.Waiting(), err)
		}
	}
}

// TestOneStepIsCommittedOnce: a step alone is not tried as a batch and then again.
func TestOneStepIsCommittedOnce(t *testing.T) {
	w := &counted{err: hub.ErrFull}
	j := journal.New(w, nil, nil)
	e := j.Put(values("a"), nil)
	if err := j.Flush(t.Context(), e); !errors.Is(err, hub.ErrFull) || w.n != 1 {
		t.Errorf("tried %d times (%v), need once", w.n, err)
	}
}

type counted struct {
	err error
	n   int
}

func (c *counted) Commit(context.Context, []hub.Change) error { c.n++; return c.err }
