// Package receipt knows which readings of which node have been taken in, so
// that each counts once however often it is sent, and how far they are
// committed, which is what may be acknowledged. It spares asking the store,
// whose unique key has the last word. Whoever keeps a Book guards it: nothing
// in it is safe for concurrent use.
package receipt

// Boot is one start of one node. Its readings are numbered from 1.
type Boot struct{ Node, Boot string }

// Book holds what was taken in and is not forgotten. T is what one waits with
// for the commit of a reading. The zero value is empty.
type Book[T any] struct {
	boots map[Boot]*entry[T]
}

// entry is the record of one boot.
type entry[T any] struct {
	prefix  uint64          // all of 1..prefix were taken in
	beyond  map[uint64]bool // and these
	pending map[uint64]T    // taken in, but not committed
	stored  uint64          // the committed prefix
	known   bool            // the store was asked
	held    int
}

func (b *Book[T]) entry(boot Boot) *entry[T] {
	e := b.boots[boot]
	if e == nil {
		if b.boots == nil {
			b.boots = map[Boot]*entry[T]{}
		}
		e = &entry[T]{beyond: map[uint64]bool{}, pending: map[uint64]T{}}
		b.boots[boot] = e
	}
	return e
}

// Known reports whether the store was asked about a boot; Stored answers it.
func (b *Book[T]) Known(boot Boot) bool { return b.entry(boot).known }

// Stored notes what the store says: all of 1..n are in it.
func (b *Book[T]) Stored(boot Boot, n uint64) {
	e := b.entry(boot)
	e.known = true
	if n > e.prefix {
		for k := range e.beyond {
			if k <= n {
				delete(e.beyond, k)
			}
		}
		e.prefix = n
		e.grow()
	}
	e.stored = max(e.stored, n)
}

// Has reports whether a reading was taken in, and what to wait with: the zero value
// where it is committed already.
func (b *Book[T]) Has(boot Boot, sequence uint64) (wait T, has bool) {
	e := b.entry(boot)
	return e.pending[sequence], sequence <= e.prefix || e.beyond[sequence]
}

// Take takes a reading in.
func (b *Book[T]) Take(boot Boot, sequence uint64, wait T) {
	e := b.entry(boot)
	e.pending[sequence] = wait
	if sequence > e.prefix {
		e.beyond[sequence] = true
		e.grow()
	}
}

// grow lengthens the prefix by what has closed up to it.
func (e *entry[T]) grow() {
	for e.beyond[e.prefix+1] {
		delete(e.beyond, e.prefix+1)
		e.prefix++
	}
}

// Commit notes that a reading is stored.
func (b *Book[T]) Commit(boot Boot, sequence uint64) { delete(b.entry(boot).pending, sequence) }

// Committed is the highest sequence up to which all of a boot is stored.
func (b *Book[T]) Committed(boot Boot) uint64 {
	e := b.entry(boot)
	c := e.prefix
	for n := range e.pending {
		c = min(c, n-1)
	}
	e.stored = max(e.stored, c)
	return e.stored
}

// Hold keeps a boot's record until it is released as often.
func (b *Book[T]) Hold(boot Boot) { b.entry(boot).held++ }

// Release undoes one Hold.
func (b *Book[T]) Release(boot Boot) { b.entry(boot).held-- }

// Forget drops the records of boots that nobody holds, of which all is stored,
// and that are not at work, so that a hub which runs for months keeps one for
// each chair.
func (b *Book[T]) Forget(atWork func(Boot) bool) {
	for boot, e := range b.boots {
		if e.held == 0 && len(e.pending) == 0 && !atWork(boot) {
			delete(b.boots, boot)
		}
	}
}
