package hub

import (
	"context"
	"errors"
	"sync"
)

// journal writes to the store in the order in which the hub decided. Nothing
// in it needs a goroutine: whoever waits for a write carries the queue to the
// store, and everything that gathered meanwhile goes along in one batch. What
// the store refuses stays queued and is tried again.
type journal struct {
	store Store

	committing sync.Mutex // held by whoever carries the queue to the store

	mu      sync.Mutex
	queue   []*write
	keyed   map[string]int // where in queue a key is
	trouble error          // why the last attempt stopped; nil when all is stored
	changed func(error)    // told when trouble begins, changes or ends
	refused func(error)    // told of each record that the store will never take
}

// write is one thing to store: a reading, or anything else as a function.
// A later write with the same key takes the place of an earlier one.
type write struct {
	key     string
	reading *Reading
	do      func(context.Context, Store) error
	after   func() // called once stored, without locks
	done    bool   // stored, or refused for good
	refused error
}

// put queues w without waiting.
func (j *journal) put(w *write) *write {
	j.mu.Lock()
	defer j.mu.Unlock()
	if i, queued := j.keyed[w.key]; queued && w.key != "" {
		j.queue[i] = w
		return w
	}
	j.queue = append(j.queue, w)
	j.note(len(j.queue) - 1)
	return w
}

// note remembers where the key of a queued write is.
func (j *journal) note(i int) {
	if key := j.queue[i].key; key != "" {
		if j.keyed == nil {
			j.keyed = map[string]int{}
		}
		j.keyed[key] = i
	}
}

// flush returns once w is stored, or with the reason why it is not.
// With a nil w it tries everything that is queued.
func (j *journal) flush(ctx context.Context, w *write) error {
	j.committing.Lock()
	defer j.committing.Unlock()
	for {
		j.mu.Lock()
		if w != nil && w.done {
			j.mu.Unlock()
			return w.refused
		}
		batch := j.queue
		j.queue, j.keyed = nil, nil
		j.mu.Unlock()
		if len(batch) == 0 {
			return nil
		}
		left, err := j.commit(ctx, batch)
		j.mu.Lock()
		j.queue, j.keyed = append(left, j.queue...), nil
		for i := range j.queue {
			j.note(i) // of two with one key the later
		}
		j.mu.Unlock()
		if err != nil {
			j.report(err)
			return err
		}
		j.report(nil)
	}
}

// commit stores what it can, in order, and returns what is left: all at once
// where the store can, and one by one where that fails, so that one record
// which the store will never take does not hold up the others.
func (j *journal) commit(ctx context.Context, batch []*write) ([]*write, error) {
	if b, ok := j.store.(Batcher); ok && len(batch) > 1 {
		err := b.Batch(ctx, func(s Store) error {
			for _, w := range batch {
				if err := w.to(ctx, s); err != nil {
					return err
				}
			}
			return nil
		})
		if err == nil {
			j.stored(batch...)
			return nil, nil
		}
	}
	for i, w := range batch {
		err := w.to(ctx, j.store)
		if err != nil && !hopeless(err) {
			return batch[i:], err
		}
		w.refused = err
		j.stored(w)
	}
	return nil, nil
}

// hopeless reports whether trying again cannot help.
func hopeless(err error) bool { return errors.Is(err, ErrRefused) || errors.Is(err, ErrNotFound) }

// to writes w to a store.
func (w *write) to(ctx context.Context, s Store) error {
	if w.reading == nil {
		return w.do(ctx, s)
	}
	_, err := s.AddReadings(ctx, []Reading{*w.reading})
	return err
}

// stored closes writes: each is in the store, or refused for good.
func (j *journal) stored(ws ...*write) {
	j.mu.Lock()
	for _, w := range ws {
		w.done = true
	}
	j.mu.Unlock()
	for _, w := range ws {
		if w.refused != nil && j.refused != nil {
			j.refused(w.refused)
		}
		if w.after != nil && w.refused == nil {
			w.after()
		}
	}
}

func (j *journal) report(err error) {
	j.mu.Lock()
	same := (err == nil) == (j.trouble == nil) && (err == nil || err.Error() == j.trouble.Error())
	j.trouble = err
	j.mu.Unlock()
	if !same && j.changed != nil {
		j.changed(err)
	}
}

// waiting returns how many writes are not stored yet.
func (j *journal) waiting() int {
	j.mu.Lock()
	defer j.mu.Unlock()
	return len(j.queue)
}
