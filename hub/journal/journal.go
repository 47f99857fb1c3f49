// Package journal commits what the hub has decided, in the order in which it
// decided. What one step changed is committed as one, so that a crash between
// two commits leaves the state after some step. Nothing in it needs a
// goroutine: whoever waits for a commit carries the queue to the store, and
// everything that gathered meanwhile goes along. What the store refuses for now
// stays queued and is tried again.
package journal

import (
	"context"
	"errors"
	"sync"

	"bellrow/hub"
)

// Store is where changes go; *sqlite.Store and *mem.Store are two.
type Store interface {
	// Commit writes changes in order, all of them or none.
	Commit(ctx context.Context, changes []hub.Change) error
}

// Journal is the queue to a store. Its methods may be called concurrently.
type Journal struct {
	store Store

	committing sync.Mutex // held by whoever carries the queue to the store

	mu      sync.Mutex
	queue   []*Entry
	trouble error       // why the last attempt stopped; nil when all is stored
	changed func(error) // told when trouble begins, changes or ends
	refused func(error) // told of each change that the store will never take
}

// Entry is what one step changed.
type Entry struct {
	changes []hub.Change
	after   func()
	done    bool
	err     error // why some of it was refused for good
}

// New returns an empty journal. changed is told when storing begins to fail
// (and why), fails otherwise, or works again (nil); refused of changes that
// the store will never take. Both are called without locks.
func New(s Store, changed, refused func(error)) *Journal {
	return &Journal{store: s, changed: changed, refused: refused}
}

// Put queues changes without waiting. after, if not nil, is called without
// locks once they are stored.
func (j *Journal) Put(changes []hub.Change, after func()) *Entry {
	j.mu.Lock()
	defer j.mu.Unlock()
	e := &Entry{changes: changes, after: after}
	j.queue = append(j.queue, e)
	return e
}

// Waiting returns how many entries are not stored yet.
func (j *Journal) Waiting() int {
	j.mu.Lock()
	defer j.mu.Unlock()
	return len(j.queue)
}

// Flush returns once e is stored, or with the reason why it is not. With a nil
// e it tries everything that is queued.
func (j *Journal) Flush(ctx context.Context, e *Entry) error {
	j.committing.Lock()
	defer j.committing.Unlock()
	for {
		j.mu.Lock()
		if e != nil && e.done {
			j.mu.Unlock()
			return e.err
		}
		batch := j.queue
		j.queue = nil
		j.mu.Unlock()
		if len(batch) == 0 {
			return nil
		}
		left, err := j.commit(ctx, batch)
		j.mu.Lock()
		j.queue = append(left, j.queue...)
		j.mu.Unlock()
		j.report(err)
		if err != nil {
			return err
		}
	}
}

// commit stores what it can, in order, and returns what is left: all at once,
// or where that fails one step after the other, so that a change which the
// store will never take does not hold up the others.
func (j *Journal) commit(ctx context.Context, batch []*Entry) ([]*Entry, error) {
	if len(batch) > 1 {
		var all []hub.Change
		for _, e := range batch {
			all = append(all, e.changes...)
		}
		if j.store.Commit(ctx, all) == nil {
			j.stored(batch...)
			return nil, nil
		}
	}
	for i, e := range batch {
		err := j.store.Commit(ctx, e.changes)
		if hopeless(err) {
			err = j.salvage(ctx, e)
		}
		if err != nil {
			return batch[i:], err
		}
		j.stored(e)
	}
	return nil, nil
}

// salvage stores the changes of a step one by one, without those that the store
// will never take.
func (j *Journal) salvage(ctx context.Context, e *Entry) error {
	for ; len(e.changes) > 0; e.changes = e.changes[1:] {
		err := j.store.Commit(ctx, e.changes[:1])
		switch {
		case hopeless(err):
			e.err = err
			if j.refused != nil {
				j.refused(err)
			}
		case err != nil:
			return err
		}
	}
	return nil
}

// hopeless reports whether trying again cannot help.
func hopeless(err error) bool {
	return errors.Is(err, hub.ErrRefused) || errors.Is(err, hub.ErrNotFound)
}

// stored closes entries: all of each that the store takes is in it.
func (j *Journal) stored(es ...*Entry) {
	j.mu.Lock()
	for _, e := range es {
		e.done = true
	}
	j.mu.Unlock()
	for _, e := range es {
		if e.after != nil && e.err == nil {
			e.after()
		}
	}
}

func (j *Journal) report(err error) {
	j.mu.Lock()
	same := (err == nil) == (j.trouble == nil) && (err == nil || err.Error() == j.trouble.Error())
	j.trouble = err
	j.mu.Unlock()
	if !same && j.changed != nil {
		j.changed(err)
	}
}
