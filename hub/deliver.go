package hub

import (
	"context"
	"errors"
	"fmt"
	"slices"

	"bellrow/proto"
	"bellrow/proto/instrument"
)

// Deliver takes in one reading and returns once it is committed; a nil error
// is the permission to acknowledge it. A repeat of a known sequence is
// harmless and waits for the same commit. An error that wraps ErrFull or
// ErrReadOnly means that the reading is on the row and kept in memory, but not
// stored yet: do not acknowledge it; FollowStored tells when it is.
func (h *Hub) Deliver(ctx context.Context, chair ChairID, node, boot string, r proto.Reading) error {
	if r.Sequence == 0 {
		return errors.New("hub: reading with sequence 0, need 1 or more")
	}
	release, err := h.loadSeen(ctx, node, boot)
	if err != nil {
		return err
	}
	defer release()
	w, err := h.accept(chair, node, boot, r)
	if err != nil || w == nil {
		return err
	}
	// The commit must not die with the connection that brought the reading.
	return h.journal.flush(context.WithoutCancel(ctx), w)
}

// loadSeen asks the store once for what a boot has stored, and holds the
// record until release is called.
func (h *Hub) loadSeen(ctx context.Context, node, boot string) (release func(), err error) {
	h.mu.Lock()
	sn := h.seenBy(node, boot)
	sn.held++
	loaded := sn.loaded
	h.mu.Unlock()
	release = func() {
		h.mu.Lock()
		defer h.mu.Unlock()
		sn.held--
	}
	if loaded {
		return release, nil
	}
	stored, err := h.store.Stored(ctx, node, boot)
	if err != nil {
		release()
		return nil, fmt.Errorf("hub: looking up what node %s has stored: %w", node, err)
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	sn.raise(stored)
	sn.loaded = true
	return release, nil
}

// accept takes the reading in, once, and returns the write to wait for; nil
// when it is stored already.
func (h *Hub) accept(chair ChairID, node, boot string, wire proto.Reading) (*write, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	s := h.seats[chair]
	if s == nil || h.chair(chair) == nil {
		return nil, fmt.Errorf("hub: reading for chair %d: %w", chair, ErrNotFound)
	}
	sn := h.seenBy(node, boot)
	if sn.has(wire.Sequence) {
		return sn.pending[wire.Sequence], nil
	}
	sn.add(wire.Sequence)
	r := &Reading{ID: h.newID(), Chair: chair, Node: node, Boot: boot, At: h.now(), Wire: wire}
	w := &write{after: func() { h.committed(node, boot, wire.Sequence) }}
	sn.pending[wire.Sequence] = w
	followUp := h.consider(s, r)
	stored := r.Clone()
	w.reading = &stored
	h.journal.put(w)
	if r.Round == 0 {
		return w, nil // nobody asked: stored, and that is all
	}
	h.readings = append(h.readings, r)
	s.take(r, h.running())
	followUp()
	if r.Why == whyGathering {
		h.touchChair(s) // nobody else sees a difference yet
		return w, nil
	}
	h.progress()
	h.touch()
	return w, nil
}

// committed notes that a reading is stored and tells those who acknowledge.
func (h *Hub) committed(node, boot string, sequence uint64) {
	h.mu.Lock()
	defer h.mu.Unlock()
	sn := h.seenBy(node, boot)
	delete(sn.pending, sequence)
	for f := range sn.feeds {
		f.poke()
	}
}

// Stored returns the highest sequence up to which all of a boot is committed.
func (h *Hub) Stored(node, boot string) uint64 {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.seenBy(node, boot).committed()
}

// FollowStored tells how far a boot's readings are committed.
func (h *Hub) FollowStored(node, boot string) *StoredFeed {
	h.mu.Lock()
	defer h.mu.Unlock()
	sn := h.seenBy(node, boot)
	f := newFeed(func() uint64 { return h.Stored(node, boot) }, func(f *StoredFeed) {
		h.mu.Lock()
		defer h.mu.Unlock()
		if _, open := sn.feeds[f]; open {
			delete(sn.feeds, f)
			sn.held--
		}
	})
	sn.feeds[f] = struct{}{}
	sn.held++
	return f
}

// Codes of Reading.Why for readings that nobody asked for.
const (
	whyNotAsked  = "not-asked" // nothing was called, or it was not this chair's turn
	whyLate      = "late"      // it answers an earlier round
	whyReplaced  = "replaced"  // another laptop holds the chair by now
	whyGathering = "gathering" // waits for the other chairs of a together round
)

// consider decides what a reading means, fills it in, and returns what has to
// be stored after it.
func (h *Hub) consider(s *seat, r *Reading) (followUp func()) {
	run := h.running()
	switch {
	case s.node != r.Node:
		r.Why = whyReplaced
	case h.watching && r.Wire.Round == 0:
		r.Why = WhyWatch
	case run == nil || r.Wire.Round == 0 || RoundID(r.Wire.Round) == run.ID && !slices.Contains(run.Queue, s.id):
		r.Why = whyNotAsked
	case RoundID(r.Wire.Round) != run.ID:
		r.Why = whyLate
	case h.toMove(s) != nil && r.At.Sub(s.inRound.At) < slideTakes:
		r.Why = whyNotAsked // the rest of the note before
	default:
		// A player whose connection broke off while it was their turn may
		// answer when others are playing by now: the note was asked for.
		r.Round, r.Note, r.Target = run.ID, run.Call.Tones[s.id], h.target(run, s.id)
		r.Cents = r.offset()
		switch {
		case run.allAtOnce():
			return h.gather(r)
		case h.overheard(r):
			r.Why = whyOverheard
		default:
			return h.judge(s, r)
		}
	}
	return func() {}
}

// State notes what a chair's listener hears.
func (h *Hub) State(chair ChairID, st proto.State) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if s := h.seats[chair]; s != nil && s.sound != st {
		quiet := s.sound.State == st.State && s.sound.Trouble == st.Trouble
		cold := s.warming()
		s.sound = st
		switch {
		case cold && !s.warming():
			h.progress()
			h.touch()
		case chair == h.rings:
			h.hush()
		case !quiet: // a level alone is not shown
			h.touchRow()
		}
	}
}

// Setting notes where a player says a slide stands. It is how a player says
// that a move was made.
func (h *Hub) Setting(ctx context.Context, chair ChairID, set proto.Setting) error {
	w, err := h.playerSetting(chair, set)
	if err != nil {
		return err
	}
	return h.journal.flush(context.WithoutCancel(ctx), w)
}

func (h *Hub) playerSetting(chair ChairID, set proto.Setting) (*write, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	c := h.chair(chair)
	if c == nil {
		return nil, fmt.Errorf("hub: setting for chair %d: %w", chair, ErrNotFound)
	}
	w, err := h.setSlide(c, set, sourcePlayer)
	if err == nil {
		h.touch()
	}
	return w, err
}

// setSlide puts a slide where somebody says it stands.
func (h *Hub) setSlide(c *Chair, set proto.Setting, source string) (*write, error) {
	in, err := instrument.Find(c.Instrument)
	if err != nil {
		return nil, err
	}
	sl, ok := in.WithTravel(c.Travel).Slide(set.Slide)
	if !ok {
		return nil, fmt.Errorf("hub: slide %q on %s, need one of its own: %w", set.Slide, in.ID, ErrNotFound)
	}
	if set.TravelMM > 0 {
		if c.Travel == nil {
			c.Travel = instrument.Settings{}
		}
		c.Travel[set.Slide] = set.TravelMM
		sl.TravelMM = set.TravelMM
	}
	if !(set.MM >= 0 && set.MM <= sl.TravelMM) {
		return nil, fmt.Errorf("hub: %s of %s at %g mm, need 0 to %g", sl.Name, c.Label, set.MM, sl.TravelMM)
	}
	h.moveDone(c, set)
	w := h.setting(c, SettingRecord{At: h.now(), Slide: set.Slide, MM: set.MM, Source: source})
	h.saveChair(c)
	return w, nil
}

// setting notes where a slide stands from now on, and what that should do to
// the chair's notes.
func (h *Hub) setting(c *Chair, rec SettingRecord) *write {
	rec.Chair = c.ID
	if in, err := instrument.Find(c.Instrument); err == nil {
		rec.From = in.MM(c.Settings, rec.Slide)
	}
	h.settings = append(h.settings, rec)
	h.remember(c, rec)
	if c.Settings == nil {
		c.Settings = instrument.Settings{}
	}
	c.Settings[rec.Slide] = rec.MM
	return h.journal.put(&write{do: func(ctx context.Context, s Store) error { return s.AddSetting(ctx, rec) }})
}
