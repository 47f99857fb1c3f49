// Package mem keeps a hub's records in memory, for tests and for a hub that
// is to leave nothing behind.
package mem

import (
	"cmp"
	"context"
	"slices"
	"sync"
	"time"

	"bellrow/hub"
)

// Store is a hub.Store without a disk. The zero value is empty and ready.
type Store struct {
	mu       sync.Mutex
	lastID   int64
	sections []hub.Section // most recently used last
	owner    map[hub.ChairID]int64
	nodes    map[string]hub.NodeRecord
	rounds   []hub.Round
	readings []hub.Reading
	unique   map[key]int64
	floor    map[boot]uint64 // the stored prefix of boots that had readings deleted
	moves    []hub.MoveRecord
	settings []hub.SettingRecord
	values   map[string]string
}

type boot struct{ node, boot string }

type key struct {
	boot
	sequence uint64
}

func keyOf(r hub.Reading) key { return key{boot{r.Node, r.Boot}, r.Wire.Sequence} }

// New returns an empty store.
func New() *Store { return &Store{} }

// id returns the given ID, or the next free one for 0.
func (s *Store) id(given int64) int64 {
	if given == 0 {
		given = s.lastID + 1
	}
	s.lastID = max(s.lastID, given)
	return given
}

// Sections implements hub.Store.
func (s *Store) Sections(context.Context) ([]hub.Section, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	var out []hub.Section
	for _, sec := range slices.Backward(s.sections) {
		out = append(out, sec.Clone())
	}
	return out, nil
}

// SaveSection implements hub.Writer.
func (s *Store) SaveSection(_ context.Context, sec hub.Section) (hub.Section, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	sec = sec.Clone()
	sec.ID = s.id(sec.ID)
	if s.owner == nil {
		s.owner = map[hub.ChairID]int64{}
	}
	for i := range sec.Chairs {
		sec.Chairs[i].ID = hub.ChairID(s.id(int64(sec.Chairs[i].ID)))
		s.owner[sec.Chairs[i].ID] = sec.ID
	}
	s.sections = slices.DeleteFunc(s.sections, func(o hub.Section) bool { return o.ID == sec.ID })
	s.sections = append(s.sections, sec)
	return sec.Clone(), nil
}

// SaveChair implements hub.Writer.
func (s *Store) SaveChair(_ context.Context, section int64, c hub.Chair) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	for i := range s.sections {
		if sec := &s.sections[i]; sec.ID == section {
			s.owner[hub.ChairID(s.id(int64(c.ID)))] = section
			put(&sec.Chairs, c.Clone(), func(o hub.Chair) bool { return o.ID == c.ID })
			return nil
		}
	}
	return hub.ErrNotFound
}

// Enrol implements hub.Writer.
func (s *Store) Enrol(_ context.Context, n hub.NodeRecord) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.nodes == nil {
		s.nodes = map[string]hub.NodeRecord{}
	}
	n.TokenHash = slices.Clone(n.TokenHash)
	s.nodes[n.Node] = n
	return nil
}

// Node implements hub.Store.
func (s *Store) Node(_ context.Context, node string) (hub.NodeRecord, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	n, ok := s.nodes[node]
	if !ok {
		return hub.NodeRecord{}, hub.ErrNotFound
	}
	n.TokenHash = slices.Clone(n.TokenHash)
	return n, nil
}

// SaveRound implements hub.Writer.
func (s *Store) SaveRound(_ context.Context, r hub.Round) (hub.Round, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	r = r.Clone()
	r.ID = hub.RoundID(s.id(int64(r.ID)))
	put(&s.rounds, r, func(o hub.Round) bool { return o.ID == r.ID })
	return r.Clone(), nil
}

// put replaces the record that same finds, or adds it.
func put[T any](list *[]T, v T, same func(T) bool) {
	if i := slices.IndexFunc(*list, same); i >= 0 {
		(*list)[i] = v
		return
	}
	*list = append(*list, v)
}

// Rounds implements hub.Store.
func (s *Store) Rounds(_ context.Context, section int64, since time.Time) ([]hub.Round, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	var out []hub.Round
	for _, r := range s.rounds {
		if r.Section == section && !r.Started.Before(since) {
			out = append(out, r.Clone())
		}
	}
	slices.SortStableFunc(out, func(a, b hub.Round) int {
		return cmp.Or(a.Started.Compare(b.Started), cmp.Compare(a.ID, b.ID))
	})
	return out, nil
}

// AddReadings implements hub.Writer.
func (s *Store) AddReadings(_ context.Context, rs []hub.Reading) ([]hub.Reading, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.unique == nil {
		s.unique = map[key]int64{}
	}
	out := make([]hub.Reading, len(rs))
	for i, r := range rs {
		k := keyOf(r)
		if id, ok := s.unique[k]; ok {
			out[i] = s.readings[s.reading(id)].Clone()
			continue
		}
		if k.sequence <= s.floor[k.boot] {
			out[i] = r // stored once and deleted since
			continue
		}
		r = r.Clone()
		r.ID = s.id(r.ID)
		s.unique[k] = r.ID
		s.readings = append(s.readings, r)
		out[i] = r.Clone()
	}
	return out, nil
}

func (s *Store) reading(id int64) int {
	return slices.IndexFunc(s.readings, func(r hub.Reading) bool { return r.ID == id })
}

// SaveReading implements hub.Writer.
func (s *Store) SaveReading(_ context.Context, r hub.Reading) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	i := s.reading(r.ID)
	if i < 0 {
		return hub.ErrNotFound
	}
	r = r.Clone()
	was := s.readings[i]
	r.Node, r.Boot, r.At, r.Wire = was.Node, was.Boot, was.At, was.Wire
	s.readings[i] = r
	return nil
}

// Stored implements hub.Store.
func (s *Store) Stored(_ context.Context, node, bootID string) (uint64, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.prefix(boot{node, bootID}), nil
}

func (s *Store) prefix(b boot) uint64 {
	n := s.floor[b]
	for {
		if _, ok := s.unique[key{b, n + 1}]; !ok {
			return n
		}
		n++
	}
}

// Readings implements hub.Store.
func (s *Store) Readings(_ context.Context, section int64, since time.Time) ([]hub.Reading, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	var out []hub.Reading
	for _, r := range s.readings {
		if s.owner[r.Chair] == section && !r.At.Before(since) {
			out = append(out, r.Clone())
		}
	}
	slices.SortStableFunc(out, func(a, b hub.Reading) int {
		return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.ID, b.ID))
	})
	return out, nil
}

// Answers implements hub.Store.
func (s *Store) Answers(ctx context.Context, section int64, since time.Time) ([]hub.Reading, error) {
	readings, err := s.Readings(ctx, section, since)
	return slices.DeleteFunc(readings, func(r hub.Reading) bool { return r.Round == 0 }), err
}

// Figures implements hub.Store.
func (s *Store) Figures(ctx context.Context, section int64, since time.Time) ([]hub.Figures, error) {
	readings, err := s.Readings(ctx, section, since)
	var out []hub.Figures
	for _, r := range readings {
		if f, ok := r.Figures(); ok {
			out = append(out, f)
		}
	}
	return out, err
}

// SaveMove implements hub.Writer.
func (s *Store) SaveMove(_ context.Context, m hub.MoveRecord) (hub.MoveRecord, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	m.ID = s.id(m.ID)
	put(&s.moves, m, func(o hub.MoveRecord) bool { return o.ID == m.ID })
	return m, nil
}

// Moves implements hub.Store.
func (s *Store) Moves(_ context.Context, section int64, since time.Time) ([]hub.MoveRecord, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	var out []hub.MoveRecord
	for _, m := range s.moves {
		if s.owner[m.Chair] == section && !m.At.Before(since) {
			out = append(out, m)
		}
	}
	slices.SortStableFunc(out, func(a, b hub.MoveRecord) int {
		return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.ID, b.ID))
	})
	return out, nil
}

// AddSetting implements hub.Writer.
func (s *Store) AddSetting(_ context.Context, r hub.SettingRecord) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.settings = append(s.settings, r)
	return nil
}

// Settings implements hub.Store.
func (s *Store) Settings(_ context.Context, section int64, since time.Time) ([]hub.SettingRecord, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	var out []hub.SettingRecord
	for _, r := range s.settings {
		if s.owner[r.Chair] == section && !r.At.Before(since) {
			out = append(out, r)
		}
	}
	slices.SortStableFunc(out, func(a, b hub.SettingRecord) int { return a.At.Compare(b.At) })
	return out, nil
}

// DeletePlayer implements hub.Store.
func (s *Store) DeletePlayer(_ context.Context, chair hub.ChairID) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	for i := range s.sections {
		s.sections[i].Chairs = slices.DeleteFunc(s.sections[i].Chairs, func(c hub.Chair) bool { return c.ID == chair })
	}
	for node, n := range s.nodes {
		if n.Chair == chair {
			delete(s.nodes, node)
		}
	}
	s.dropReadings(func(r hub.Reading) bool { return r.Chair == chair })
	s.moves = slices.DeleteFunc(s.moves, func(m hub.MoveRecord) bool { return m.Chair == chair })
	s.settings = slices.DeleteFunc(s.settings, func(r hub.SettingRecord) bool { return r.Chair == chair })
	for i := range s.rounds {
		s.rounds[i].Strike(chair)
	}
	delete(s.owner, chair)
	return nil
}

// dropReadings deletes readings, but remembers how far their boots were
// stored, so that nodes do not wait for ever.
func (s *Store) dropReadings(drop func(hub.Reading) bool) {
	if s.floor == nil {
		s.floor = map[boot]uint64{}
	}
	for _, r := range s.readings {
		if b := keyOf(r).boot; drop(r) {
			s.floor[b] = s.prefix(b) // nothing is deleted yet
		}
	}
	s.readings = slices.DeleteFunc(s.readings, func(r hub.Reading) bool {
		if drop(r) {
			delete(s.unique, keyOf(r))
			return true
		}
		return false
	})
}

// Forget implements hub.Store.
func (s *Store) Forget(_ context.Context, before time.Time) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.dropReadings(func(r hub.Reading) bool { return r.At.Before(before) })
	s.moves = slices.DeleteFunc(s.moves, func(m hub.MoveRecord) bool { return m.At.Before(before) })
	s.rounds = slices.DeleteFunc(s.rounds, func(r hub.Round) bool { return r.Started.Before(before) })
	s.settings = slices.DeleteFunc(s.settings, func(r hub.SettingRecord) bool { return r.At.Before(before) })
	return nil
}

// Value implements hub.Store.
func (s *Store) Value(_ context.Context, k string) (string, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	v, ok := s.values[k]
	if !ok {
		return "", hub.ErrNotFound
	}
	return v, nil
}

// SetValue implements hub.Store.
func (s *Store) SetValue(_ context.Context, k, v string) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.values == nil {
		s.values = map[string]string{}
	}
	s.values[k] = v
	return nil
}

// Close implements hub.Store.
func (s *Store) Close() error { return nil }
