package session

import (
	"context"
	"errors"
	"fmt"

	"bellrow/hub"
	"bellrow/hub/feed"
	"bellrow/hub/journal"
	"bellrow/hub/receipt"
	"bellrow/hub/tuneup"
	"bellrow/proto"
)

// Deliver takes in one reading and returns once it is committed; a nil error
// is the permission to acknowledge it. A repeat of a known sequence is
// harmless and waits for the same commit. An error that wraps hub.ErrFull or
// hub.ErrReadOnly means that the reading is on the row and kept in memory, but
// not stored yet: do not acknowledge it; FollowStored tells when it is.
func (s *Session) Deliver(ctx context.Context, chair hub.ChairID, node, boot string, r proto.Reading) error {
	if r.Sequence == 0 {
		return errors.New("session: reading with sequence 0, need 1 or more")
	}
	b := receipt.Boot{Node: node, Boot: boot}
	entry, known, err := s.receive(chair, b, r)
	if !known {
		stored, lookup := s.store.Stored(ctx, node, boot)
		if lookup != nil {
			return fmt.Errorf("session: looking up what node %s has stored: %w", node, lookup)
		}
		s.mu.Lock()
		s.book.Stored(b, stored)
		s.mu.Unlock()
		entry, _, err = s.receive(chair, b, r)
	}
	if err != nil || entry == nil {
		return err
	}
	// The commit must not die with the connection that brought the reading.
	return s.journal.Flush(context.WithoutCancel(ctx), entry)
}

// receive lets the state take a reading, once, and returns what to wait for;
// nil when it is stored already. known is false, and nothing happened, when the
// store has to be asked first what it has of this boot.
func (s *Session) receive(chair hub.ChairID, b receipt.Boot, r proto.Reading) (entry *journal.Entry, known bool, err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if !s.book.Known(b) {
		return nil, false, nil
	}
	if wait, has := s.book.Has(b, r.Sequence); has {
		return wait, true, nil
	}
	_, entry, err = s.step(tuneup.Reading{Chair: chair, Node: b.Node, Boot: b.Boot, Wire: r}, func() { s.committed(b, r.Sequence) })
	if err == nil {
		s.book.Take(b, r.Sequence, entry)
	}
	return entry, true, err
}

// committed notes that a reading is stored and tells those who acknowledge.
func (s *Session) committed(b receipt.Boot, sequence uint64) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.book.Commit(b, sequence)
	s.follow.pokeStored(b)
}

// Stored returns the highest sequence up to which all of a boot is committed.
func (s *Session) Stored(node, boot string) uint64 {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.book.Committed(receipt.Boot{Node: node, Boot: boot})
}

// FollowStored tells how far a boot's readings are committed.
func (s *Session) FollowStored(node, boot string) *feed.Feed[uint64] {
	s.mu.Lock()
	defer s.mu.Unlock()
	b := receipt.Boot{Node: node, Boot: boot}
	f := feed.New(func() uint64 { return s.Stored(node, boot) }, func(f *feed.Feed[uint64]) {
		s.mu.Lock()
		defer s.mu.Unlock()
		if s.follow.dropStored(b, f) {
			s.book.Release(b)
		}
	})
	s.book.Hold(b)
	s.follow.addStored(b, f)
	return f
}

// forgetBoots drops what is known of boots that ended. Callers hold mu.
func (s *Session) forgetBoots() {
	atWork := map[receipt.Boot]bool{}
	for _, c := range s.state.Chairs() {
		node, boot := s.state.Node(c)
		atWork[receipt.Boot{Node: node, Boot: boot}] = true
	}
	s.book.Forget(func(b receipt.Boot) bool { return atWork[b] })
}
