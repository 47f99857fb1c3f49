package uplink

import (
	"crypto/sha256"
	"encoding/base32"
	"errors"
	"fmt"
	"sync"

	"bellrow/proto"
)

// queue keeps the readings of one boot until they are acknowledged. It is
// safe for concurrent use.
type queue struct {
	mu      sync.Mutex
	boot    string
	hub     string // that takes this boot, once one has welcomed it
	next    uint64 // sequence of the next reading
	waiting []proto.Reading
	empty   chan struct{} // closed while nothing waits

	spool   *spool // nil keeps them in memory only
	spooled uint64 // the highest sequence that the spool holds
}

// newQueue returns a queue of the readings of an earlier start, or with none
// of a new one, which are kept in s.
func newQueue(boot string, s *spool, old []proto.Reading) *queue {
	q := &queue{boot: boot, spool: s, next: 1, waiting: old, empty: make(chan struct{})}
	if len(old) == 0 {
		close(q.empty)
	} else {
		q.next = old[len(old)-1].Sequence + 1
	}
	return q
}

// put numbers r and keeps it. It fails, without using a number, for a reading
// that no hub would take and when the queue is full: a gap in the numbers
// would hold up all that follows. An error that wraps errUnsaved means that r
// is kept, but in memory only for now.
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
	return q.save()
}

// save brings the spool up to date. What an earlier try could not save goes
// first, so that the file has no gap either. Callers hold mu.
func (q *queue) save() error {
	if err := q.spool.append(q.beyond(q.spooled)); err != nil {
		return err
	}
	q.spooled = q.next - 1
	return nil
}

// acknowledge forgets all readings up to stored.
func (q *queue) acknowledge(stored uint64) error {
	q.mu.Lock()
	defer q.mu.Unlock()
	left := q.beyond(stored)
	if len(left) == len(q.waiting) {
		return nil
	}
	q.waiting = append([]proto.Reading(nil), left...)
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
	rs := q.beyond(sent)
	return append([]proto.Reading(nil), rs[:min(len(rs), most)]...)
}

// beyond returns what waits with sequences beyond n. Callers hold mu.
func (q *queue) beyond(n uint64) []proto.Reading {
	for i, r := range q.waiting {
		if r.Sequence > n {
			return q.waiting[i:]
		}
	}
	return nil
}

// fits reports whether a hub that has stored a boot's readings up to some
// number can take what waits. It cannot if others came before those, which
// another hub has acknowledged, or this one before it was put back to an
// earlier state, or which a damaged spool has lost.
func (q *queue) fits(hub string, stored uint64) bool {
	q.mu.Lock()
	defer q.mu.Unlock()
	first := q.next
	if len(q.waiting) > 0 {
		first = q.waiting[0].Sequence
	}
	if q.hub != "" && q.hub != hub || first > stored+1 {
		return false
	}
	q.hub = hub
	return true
}

// renumber gives what waits numbers from 1 on under another boot. That boot
// follows from the present one and the first number alone: if the node dies in
// between, what is read back from the old spool comes to the same numbers, and
// nothing is stored twice.
func (q *queue) renumber() error {
	q.mu.Lock()
	defer q.mu.Unlock()
	first := q.next - uint64(len(q.waiting))
	sum := sha256.Sum256(fmt.Appendf(nil, "%s %d", q.boot, first))
	q.boot, q.hub = base32.StdEncoding.EncodeToString(sum[:15]), ""
	for i := range q.waiting {
		q.waiting[i].Sequence = uint64(i) + 1
	}
	q.next, q.spooled = uint64(len(q.waiting))+1, 0
	old := q.spool
	q.spool = old.successor(q.boot)
	if err := q.save(); err != nil {
		return errors.Join(err, old.close()) // which stays: they are in it
	}
	return old.remove()
}

// forgetRounds makes what waits answer no round: the numbers of one hub's rounds
// stand for anything at another.
func (q *queue) forgetRounds() {
	q.mu.Lock()
	defer q.mu.Unlock()
	for i := range q.waiting {
		q.waiting[i].Round = 0
	}
}

// identity returns the boot under which the readings go.
func (q *queue) identity() string {
	q.mu.Lock()
	defer q.mu.Unlock()
	return q.boot
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
