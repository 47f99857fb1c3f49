package session

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"bellrow/hub"
	"bellrow/hub/intonation"
	"bellrow/hub/piece"
	"bellrow/hub/tuneup"
	"bellrow/proto"
	"bellrow/proto/pitch"
)

// openIdentity reads the hub's own id and keys, or makes them.
func (s *Session) openIdentity(ctx context.Context) error {
	for _, v := range []struct {
		key  string
		into *string
		make func() string
	}{
		{hub.ValueHub, &s.id, func() string { return strings.ToLower(rand.Text()[:12]) }},
		{hub.ValueJoin, &s.join, proto.NewJoinCode},
	} {
		value, err := s.value(ctx, v.key)
		if err == nil && value == "" {
			value = v.make()
			err = s.store.Commit(ctx, []hub.Change{hub.ValueChange{Key: v.key, Is: value}})
		}
		if err != nil {
			return fmt.Errorf("session: opening the hub's identity: %w", err)
		}
		*v.into = value
	}
	return nil
}

// value reads one of the store's small values, "" when it was never set.
func (s *Session) value(ctx context.Context, key string) (string, error) {
	v, err := s.store.Value(ctx, key)
	if err != nil && !errors.Is(err, hub.ErrNotFound) {
		return "", fmt.Errorf("session: loading %s: %w", key, err)
	}
	return v, nil
}

// newSection returns a section with the usual settings.
func newSection(id int64, name string, order hub.Order) hub.Section {
	return hub.Section{
		ID: id, Name: name, Reference: pitch.Reference{A4: pitch.StandardA4},
		Good: intonation.DefaultGood, Near: intonation.DefaultWatch, Order: order,
		TuningNotes: []pitch.Note{pitch.A4 + 1, pitch.A4 - 4, pitch.A4}, // B flat, F, A
	}
}

// named finds the section of that name, or the last used one for "", or makes it.
func (s *Session) named(ctx context.Context, name string) (hub.Section, error) {
	sections, err := s.store.Sections(ctx)
	if err != nil {
		return hub.Section{}, fmt.Errorf("session: listing the sections: %w", err)
	}
	last := int64(0)
	for _, sec := range sections {
		if name == "" || strings.EqualFold(sec.Name, name) {
			return sec, nil
		}
		last = max(last, sec.ID)
	}
	if name == "" {
		name = DefaultSection
	}
	sec := newSection(last+1, name, s.order)
	if err := s.store.Commit(ctx, []hub.Change{hub.SectionChange{Is: &sec}}); err != nil {
		return sec, fmt.Errorf("session: creating section %q: %w", name, err)
	}
	return sec, nil
}

// load reads a section from the store. It must be called without the lock.
func (s *Session) load(ctx context.Context, sec hub.Section) (tuneup.Records, error) {
	rec := tuneup.Records{Section: sec}
	since := s.now().Add(-tuneup.Longest)
	var err error
	if rec.Rounds, err = s.store.Rounds(ctx, sec.ID, since); err != nil {
		return rec, fmt.Errorf("session: loading the rounds: %w", err)
	}
	if rec.Readings, err = s.store.Answers(ctx, sec.ID, since); err != nil {
		return rec, fmt.Errorf("session: loading the readings: %w", err)
	}
	if rec.Moves, err = s.store.Moves(ctx, sec.ID, since); err != nil {
		return rec, fmt.Errorf("session: loading the moves: %w", err)
	}
	if rec.Settings, err = s.store.Settings(ctx, sec.ID, since); err != nil {
		return rec, fmt.Errorf("session: loading the settings: %w", err)
	}
	values := map[string]string{}
	for _, key := range []string{hub.ValueBegun, hub.ValueWatch, hub.ValuePiece, hub.ValuePieceState} {
		if values[key], err = s.value(ctx, hub.OfSection(key, sec.ID)); err != nil {
			return rec, err
		}
	}
	next, err := s.value(ctx, hub.ValueNextID)
	if err != nil {
		return rec, err
	}
	rec.NextID, _ = strconv.ParseInt(next, 10, 64)
	rec.Begun, rec.Watched = values[hub.ValueBegun], values[hub.ValueWatch]
	rec.Piece = s.unpack(values[hub.ValuePiece], values[hub.ValuePieceState])
	return rec, nil
}

// unpack reads the piece that was open, nil when there was none. One that
// cannot be read is no reason not to start.
func (s *Session) unpack(packed, state string) *piece.Piece {
	if packed == "" {
		return nil
	}
	p, err := piece.Unpack(packed, state)
	if err != nil {
		s.log.Error("session: the stored piece cannot be read", "err", err)
	}
	return p
}

// open goes on with a loaded section. Callers hold the lock, or no one else
// knows s yet.
func (s *Session) open(rec tuneup.Records) {
	state, out := tuneup.New(rec, s.now())
	s.state = state
	s.take(out, nil)
}

// openSaved opens another saved section.
func (s *Session) openSaved(ctx context.Context, name string) error {
	if name == "" {
		return errors.New("session: open without a name, need one")
	}
	s.flush(ctx)
	sec, err := s.named(ctx, name)
	if err != nil || sec.ID == s.Section().ID {
		return err
	}
	rec, err := s.load(ctx, sec)
	if err != nil {
		return err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	rec.NextID = max(rec.NextID, s.state.NextID())
	s.follow.endAllViews()
	s.fit = nil
	s.open(rec)
	s.take(tuneup.Outcome{Changes: []hub.Change{hub.SectionChange{Is: &rec.Section}}, Wake: s.wake, Seen: tuneup.Everyone}, nil) // used last
	return nil
}
