package receipt_test

import (
	"testing"

	"bellrow/hub/receipt"
)

// TestStoredClosesUp: what the store has counts as taken in and committed, joins what was
// taken in beyond it, and never shrinks.
func TestStoredClosesUp(t *testing.T) {
	b, boot := receipt.Book[string]{}, receipt.Boot{Node: "n", Boot: "b"}
	for _, n := range []uint64{3, 5, 6} {
		b.Take(boot, n, "w")
		b.Commit(boot, n)
	}
	if got := b.Committed(boot); got != 0 || b.Known(boot) {
		t.Errorf("committed up to %d, need 0, and the store was not asked", got)
	}
	b.Stored(boot, 4) // 1 to 4; 3 was among them, 5 and 6 close up
	if got := b.Committed(boot); got != 6 || !b.Known(boot) {
		t.Errorf("committed up to %d, need 6", got)
	}
	b.Stored(boot, 2)
	if got := b.Committed(boot); got != 6 {
		t.Errorf("an older word of the store takes it back to %d", got)
	}
	b.Take(boot, 7, "last")
	if got := b.Committed(boot); got != 6 {
		t.Errorf("7 is only taken in, committed up to %d", got)
	}
	if wait, has := b.Has(boot, 7); wait != "last" || !has {
		t.Errorf("7: %q, has %v", wait, has)
	}
	b.Stored(boot, 9)
	if got := b.Committed(boot); got != 9 {
		t.Errorf("the store has 9, committed up to %d", got)
	}
	for n, want := range map[uint64]bool{1: true, 9: true, 10: false} {
		if _, has := b.Has(boot, n); has != want {
			t.Errorf("%d taken in: %v, need %v", n, has, want)
		}
	}
}

// TestHeldAsOften: a record that is held twice goes after two releases, not one.
func TestHeldAsOften(t *testing.T) {
	b, boot := receipt.Book[int]{}, receipt.Boot{Boot: "b"}
	nobody := func(receipt.Boot) bool { return false }
	b.Stored(boot, 3)
	b.Hold(boot)
	b.Hold(boot)
	b.Release(boot)
	if b.Forget(nobody); !b.Known(boot) {
		t.Error("forgotten while held")
	}
	b.Release(boot)
	if b.Forget(nobody); b.Known(boot) {
		t.Error("kept though nobody holds it")
	}
}
