package receipt_test

import (
	"math/rand/v2"
	"testing"

	"bellrow/hub/receipt"
)

// plain is the obvious way: every number taken in and every one stored.
type plain struct{ taken, stored map[uint64]bool }

func (p plain) committed() uint64 {
	n := uint64(0)
	for p.stored[n+1] {
		n++
	}
	return n
}

// TestAgainstThePlainWay takes readings in and commits them in any order, some
// twice, and compares with the obvious way.
func TestAgainstThePlainWay(t *testing.T) {
	for seed := range uint64(200) {
		rng := rand.New(rand.NewPCG(seed, 7))
		b, boot := receipt.Book[uint64]{}, receipt.Boot{Node: "n", Boot: "b"}
		p := plain{map[uint64]bool{}, map[uint64]bool{}}
		known := rng.Uint64N(5)
		b.Stored(boot, known)
		for n := uint64(1); n <= known; n++ {
			p.taken[n], p.stored[n] = true, true
		}
		for range 60 {
			n := 1 + rng.Uint64N(20)
			wait, has := b.Has(boot, n)
			pending := wait != 0
			if has != p.taken[n] || pending != (p.taken[n] && !p.stored[n]) || pending && wait != n {
				t.Fatalf("seed %d: %d taken in %v, pending %v (%d), need %v, %v", seed, n, has, pending, wait, p.taken[n], p.taken[n] && !p.stored[n])
			}
			switch {
			case !has:
				b.Take(boot, n, n)
				p.taken[n] = true
			case pending && rng.IntN(2) == 0:
				b.Commit(boot, n)
				p.stored[n] = true
			}
			if got, want := b.Committed(boot), p.committed(); got != want {
				t.Fatalf("seed %d: committed up to %d, need %d", seed, got, want)
			}
		}
	}
}

// TestForget drops what nobody needs, and nothing else.
func TestForget(t *testing.T) {
	b := receipt.Book[int]{}
	done, held, pending, work := receipt.Boot{Boot: "done"}, receipt.Boot{Boot: "held"}, receipt.Boot{Boot: "pending"}, receipt.Boot{Boot: "work"}
	for _, boot := range []receipt.Boot{done, held, pending, work} {
		b.Stored(boot, 3)
	}
	b.Hold(held)
	b.Take(pending, 4, 0)
	b.Forget(func(boot receipt.Boot) bool { return boot == work })
	for boot, want := range map[receipt.Boot]bool{done: false, held: true, pending: true, work: true} {
		if got := b.Known(boot); got != want {
			t.Errorf("%s is known: %v, need %v", boot.Boot, got, want)
		}
	}
}
