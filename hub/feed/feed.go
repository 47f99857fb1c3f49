// Package feed hands the latest value of something that changes to whoever follows
// it, without waiting for anybody.
package feed

import "sync"

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

// New makes a feed of what get returns. The first value is news. stop is called
// by Close.
func New[T any](get func() T, stop func(*Feed[T])) *Feed[T] {
	f := &Feed[T]{poked: make(chan struct{}, 1), get: get, stop: stop}
	f.Poke() // the first value is news
	return f
}

// C receives when there is news. It is closed when there can be no more: the
// chair was removed, or another laptop took it over.
func (f *Feed[T]) C() <-chan struct{} { return f.poked }

// Get returns the latest value. It may be called at any time.
func (f *Feed[T]) Get() T { return f.get() }

// Close ends the feed; a second Close is harmless.
func (f *Feed[T]) Close() {
	f.End()
	f.stop(f)
}

// Poke tells the reader that there is news.
func (f *Feed[T]) Poke() {
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

// End tells the reader that there will be no more.
func (f *Feed[T]) End() {
	f.mu.Lock()
	defer f.mu.Unlock()
	if !f.ended {
		f.ended = true
		close(f.poked)
	}
}
