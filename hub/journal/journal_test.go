package journal_test

import (
	"context"
	"errors"
	"slices"
	"testing"

	"bellrow/hub"
	"bellrow/hub/journal"
)

// book is a store that notes what was committed, by key, and refuses some.
type book struct {
	commits [][]string
	fail    error           // of everything
	never   map[string]bool // keys that it will never take
}

func (b *book) Commit(_ context.Context, changes []hub.Change) error {
	if b.fail != nil {
		return b.fail
	}
	var keys []string
	for _, c := range changes {
		key := c.(hub.ValueChange).Key
		if b.never[key] {
			return hub.ErrRefused
		}
		keys = append(keys, key)
	}
	b.commits = append(b.commits, keys)
	return nil
}

func (b *book) all() []string { return slices.Concat(b.commits...) }

func values(keys ...string) []hub.Change {
	var out []hub.Change
	for _, k := range keys {
		out = append(out, hub.ValueChange{Key: k})
	}
	return out
}

func TestInOrderAndAtOnce(t *testing.T) {
	b := &book{}
	stored := 0
	j := journal.New(b, nil, nil)
	first := j.Put(values("a", "b"), func() { stored++ })
	j.Put(values("c"), func() { stored++ })
	if err := j.Flush(t.Context(), first); err != nil {
		t.Fatal(err)
	}
	if len(b.commits) != 1 || !slices.Equal(b.all(), []string{"a", "b", "c"}) || stored != 2 || j.Waiting() != 0 {
		t.Errorf("committed %q, told %d times, %d left; need one commit of all and both told", b.commits, stored, j.Waiting())
	}
}

// TestWhatIsRefusedHoldsUpNothing: a change that the store will never take is
// left out, all others of its step and of the next are stored, once each.
func TestWhatIsRefusedHoldsUpNothing(t *testing.T) {
	b := &book{never: map[string]bool{"bad": true}}
	refused, told := 0, 0
	j := journal.New(b, nil, func(error) { refused++ })
	bad := j.Put(values("a", "bad", "c"), func() { told++ })
	j.Put(values("d"), func() { told++ })
	if err := j.Flush(t.Context(), bad); !errors.Is(err, hub.ErrRefused) {
		t.Errorf("the step with the refused change: %v, need ErrRefused", err)
	}
	if err := j.Flush(t.Context(), nil); err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(b.all(), []string{"a", "c", "d"}) || refused != 1 || told != 1 {
		t.Errorf("committed %q, refused %d, told %d; need all but the bad one, and one told", b.all(), refused, told)
	}
}

// TestTroubleIsToldOnce: while the store fails everything waits, in order.
func TestTroubleIsToldOnce(t *testing.T) {
	b := &book{fail: hub.ErrFull}
	var told []error
	j := journal.New(b, func(err error) { told = append(told, err) }, nil)
	j.Put(values("a"), nil)
	last := j.Put(values("b"), nil)
	for range 3 {
		if err := j.Flush(t.Context(), last); !errors.Is(err, hub.ErrFull) {
			t.Fatalf("%v, need ErrFull", err)
		}
	}
	b.fail = nil
	if err := j.Flush(t.Context(), last); err != nil {
		t.Fatal(err)
	}
	if len(told) != 2 || !errors.Is(told[0], hub.ErrFull) || told[1] != nil || !slices.Equal(b.all(), []string{"a", "b"}) {
		t.Errorf("told %v, committed %q; need the trouble, its end, and both in order", told, b.all())
	}
}
