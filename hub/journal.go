package hub

import (
	"context"
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
	trouble error // why the last attempt stopped; nil when all is stored
	changed func(error)
}

// write is one thing to store: a reading, or anything else as a function.
// A later write with the same key takes the place of an earlier one.
type write struct {
	key     string
	reading *Reading
	do      func(context.Context, Store) error
	after   func() // called once stored, without locks
	done    bool
}

// put queues w without waiting.
func (j *journal) put(w *write) *write {
	j.mu.Lock()
	defer j.mu.Unlock()
	if w.key != "" {
		for i, q := range j.queue {
			if q.key == w.key {
				j.queue[i] = w
				return w
			}
		}
	}
	j.queue = append(j.queue, w)
	return w
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
			return nil
		}
		batch := j.queue
		j.queue = nil
		j.mu.Unlock()
		if len(batch) == 0 {
			j.report(nil)
			return nil
		}
		left, err := j.commit(ctx, batch)
		j.mu.Lock()
		j.queue = append(left, j.queue...)
		j.mu.Unlock()
		if err != nil {
			j.report(err)
			return err
		}
	}
}

// commit stores what it can, in order, and returns what is left.
func (j *journal) commit(ctx context.Context, batch []*write) ([]*write, error) {
	for len(batch) > 0 {
		n := 0
		for n < len(batch) && batch[n].reading != nil {
			n++
		}
		var err error
		if n > 0 {
			rs := make([]Reading, n)
			for i, w := range batch[:n] {
				rs[i] = *w.reading
			}
			_, err = j.store.AddReadings(ctx, rs)
		} else {
			n = 1
			err = batch[0].do(ctx, j.store)
		}
		if err != nil {
			return batch, err
		}
		for _, w := range batch[:n] {
			j.mu.Lock()
			w.done = true
			j.mu.Unlock()
			if w.after != nil {
				w.after()
			}
		}
		batch = batch[n:]
	}
	return nil, nil
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
