package uplink

import (
	"fmt"
	"sync"

	"bellrow/proto"
)

// queue keeps the readings of one boot until they are acknowledged. It is
// safe for concurrent use.
type queue struct {
	spool *spool // nil keeps them in memory only

	mu      sync.Mutex
	next    uint64 // sequence of the next reading
	waiting []proto.Reading
	empty   chan struct{} // closed while nothing waits
}

func newQueue(s *spool, old []proto.Reading) *queue {
	q := &queue{spool: s, next: 1, waiting: old, empty: make(chan struct{})}
	if len(old) == 0 {
		close(q.empty)
	} else {
		q.next = old[len(old)-1].Sequence + 1
	}
	return q
}

// put numbers r and keeps it. It fails, without using a number, for a reading
// that no hub would take and when the queue is full: a gap in the numbers
// would hold up all that follows.
func (q *queue) put(r proto.Reading) error {
	q.mu.Lock()
	defer q.mu.Unlock()
	r.Sequence = q.next
	if err := (proto.Message{Type: proto.TypeReading, Reading: &r}).Validate(); err != nil {
		return err
	}
	if len(q.waiting) >= maxReadings {
		return fmt.Errorf("uplink: %d readings wait for the hub, no room for more", len(q.waiting))
	}
	q.next++
	if len(q.waiting) == 0 {
		q.empty = make(chan struct{})
	}
	q.waiting = append(q.waiting, r)
	return q.spool.append(r) // kept in memory even if the disk fails
}

// acknowledge forgets all readings up to stored.
func (q *queue) acknowledge(stored uint64) error {
	q.mu.Lock()
	defer q.mu.Unlock()
	n := 0
	for n < len(q.waiting) && q.waiting[n].Sequence <= stored {
		n++
	}
	if n == 0 {
		return nil
	}
	q.waiting = append([]proto.Reading(nil), q.waiting[n:]...)
	if len(q.waiting) > 0 {
		return nil
	}
	close(q.empty)
	return q.spool.clear()
}

// after returns up to most readings with sequences beyond sent.
func (q *queue) after(sent uint64, most int) []proto.Reading {
	q.mu.Lock()
	defer q.mu.Unlock()
	for i, r := range q.waiting {
		if r.Sequence > sent {
			end := min(len(q.waiting), i+most)
			return append([]proto.Reading(nil), q.waiting[i:end]...)
		}
	}
	return nil
}

func (q *queue) len() int {
	q.mu.Lock()
	defer q.mu.Unlock()
	return len(q.waiting)
}

// drained returns a channel that is closed when nothing waits at present.
func (q *queue) drained() <-chan struct{} {
	q.mu.Lock()
	defer q.mu.Unlock()
	return q.empty
}
