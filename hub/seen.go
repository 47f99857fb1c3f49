package hub

// seen knows which sequences of one boot the hub has taken in, whether or not
// they are stored yet. It spares asking the store, whose unique key has the
// last word; what nobody holds any more is forgotten.
type seen struct {
	prefix uint64 // all of 1..prefix
	beyond map[uint64]bool
	loaded bool // the store was asked
	held   int  // feeds that are open, deliveries under way
	// pending are taken in but not stored; stored is the committed prefix.
	pending map[uint64]*write
	stored  uint64
	feeds   map[*StoredFeed]struct{}
}

func newSeen() *seen {
	return &seen{beyond: map[uint64]bool{}, pending: map[uint64]*write{}, feeds: map[*StoredFeed]struct{}{}}
}

func (s *seen) has(n uint64) bool { return n <= s.prefix || s.beyond[n] }

func (s *seen) add(n uint64) {
	if s.has(n) {
		return
	}
	s.beyond[n] = true
	for s.beyond[s.prefix+1] {
		delete(s.beyond, s.prefix+1)
		s.prefix++
	}
}

// raise notes that all of 1..n are stored.
func (s *seen) raise(n uint64) {
	if n > s.prefix {
		for k := range s.beyond {
			if k <= n {
				delete(s.beyond, k)
			}
		}
		s.prefix = n
		for s.beyond[s.prefix+1] {
			delete(s.beyond, s.prefix+1)
			s.prefix++
		}
	}
	s.stored = max(s.stored, n)
}

// committed returns the highest sequence up to which all is stored.
func (s *seen) committed() uint64 {
	c := s.prefix
	for n := range s.pending {
		if n <= c {
			c = n - 1
		}
	}
	s.stored = max(s.stored, c)
	return s.stored
}

// seenBy returns the record of a boot, making it if needed. Callers that let
// go of the lock before they are done with it hold it.
func (h *Hub) seenBy(node, boot string) *seen {
	k := bootKey{node, boot}
	s := h.seen[k]
	if s == nil {
		s = newSeen()
		h.seen[k] = s
	}
	return s
}

// forgetSeen drops the records of boots that ended, so that a hub which runs
// for months keeps one for each chair at work.
func (h *Hub) forgetSeen() {
	seated := make(map[bootKey]bool, len(h.seats))
	for _, s := range h.seats {
		seated[bootKey{s.node, s.boot}] = true
	}
	for k, s := range h.seen {
		if s.held == 0 && len(s.pending) == 0 && !seated[k] {
			delete(h.seen, k)
		}
	}
}
