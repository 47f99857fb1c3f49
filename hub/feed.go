package hub

import (
	"sync"

	"bellrow/proto"
)

// Feed gives one reader the latest value of something that changes. Changes
// that come while the reader is busy are coalesced: a slow reader sees fewer
// values, never stale ones, and nobody waits for it.
type Feed[T any] struct {
	poked chan struct{}
	get   func() T
	stop  func(*Feed[T])

	mu    sync.Mutex
	ended bool
}

// ViewFeed is a player's view, RowFeed the leader's row, StoredFeed how far a
// node's readings are committed.
type (
	ViewFeed   = Feed[proto.View]
	RowFeed    = Feed[Row]
	StoredFeed = Feed[uint64]
)

func newFeed[T any](get func() T, stop func(*Feed[T])) *Feed[T] {
	f := &Feed[T]{poked: make(chan struct{}, 1), get: get, stop: stop}
	f.poke() // the first value is news
	return f
}

// C receives when there is news. It is closed when there can be no more: the
// chair was removed, or another laptop took it over.
func (f *Feed[T]) C() <-chan struct{} { return f.poked }

// Get returns the latest value. It may be called at any time.
func (f *Feed[T]) Get() T { return f.get() }

// Close ends the feed; a second Close is harmless.
func (f *Feed[T]) Close() {
	f.end()
	f.stop(f)
}

func (f *Feed[T]) poke() {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.ended {
		return
	}
	select {
	case f.poked <- struct{}{}:
	default:
	}
}

func (f *Feed[T]) end() {
	f.mu.Lock()
	defer f.mu.Unlock()
	if !f.ended {
		f.ended = true
		close(f.poked)
	}
}
