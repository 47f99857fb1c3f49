package receipt

import "testing"

// TestBounded: a boot that is read and committed in any order leaves no more behind than what
// is still open, however many readings there were.
func TestBounded(t *testing.T) {
	b, boot := Book[int]{}, Boot{Boot: "b"}
	for block := uint64(0); block < 1000; block += 10 {
		for _, n := range []uint64{3, 1, 2, 10, 9, 5, 4, 8, 6, 7} {
			b.Take(boot, block+n, 0)
			b.Commit(boot, block+n)
		}
	}
	b.Take(boot, 1005, 0)
	if e := b.entry(boot); e.prefix != 1000 || len(e.beyond) != 1 || len(e.pending) != 1 {
		t.Errorf("up to %d; %d beyond, %d pending; want 1000, 1 and 1", e.prefix, len(e.beyond), len(e.pending))
	}
	b.Stored(boot, 1005)
	if e := b.entry(boot); len(e.beyond) != 0 {
		t.Errorf("%d beyond what is stored", len(e.beyond))
	}
}
