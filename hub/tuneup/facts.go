package tuneup

import (
	"reflect"
	"slices"
	"strconv"
	"time"

	"bellrow/hub"
	"bellrow/hub/piece"
)

// facts are what is on record: all that a restart finds again. A record is
// never changed once a step is over, only replaced by another, so that a copy
// of the lists is a picture of the moment, and the changes of a step are what
// differs between two such pictures.
type facts struct {
	section  *hub.Section // without its chairs
	chairs   []*hub.Chair // in the section's own order
	rounds   []*hub.Round // of this tune-up, oldest first; the last one runs
	readings []*hub.Reading
	moves    []*hub.MoveRecord
	settings []hub.SettingRecord
	begun    Beginning
	watching time.Time    // since when the rehearsal is watched, zero for not
	piece    *piece.Piece // nil when none is open
	ids      ids
}

// ids numbers chairs, rounds, readings and moves. The hub numbers them itself
// so that a round goes on while the store cannot write; a reserve of numbers is
// noted in the store ahead of their use, so that a restart never repeats one.
type ids struct{ next, limit int64 }

// reserve is how many numbers one note in the store covers.
const reserve = 1000

func (f *facts) newID() int64 {
	if f.ids.next >= f.ids.limit {
		f.ids.limit = f.ids.next + reserve
	}
	f.ids.next++
	return f.ids.next - 1
}

// picture is a copy of the lists; the records are shared.
func (f *facts) picture() facts {
	p := *f
	p.chairs, p.rounds = slices.Clone(f.chairs), slices.Clone(f.rounds)
	p.readings, p.moves, p.settings = slices.Clone(f.readings), slices.Clone(f.moves), slices.Clone(f.settings)
	return p
}

// whole is the section with its chairs.
func (f *facts) whole() *hub.Section {
	s := *f.section
	s.Chairs = make([]hub.Chair, len(f.chairs))
	for i, c := range f.chairs {
		s.Chairs[i] = *c
	}
	return &s
}

// running is the round that the row shows, nil when none was called or the
// leader ended it.
func (f *facts) running() *hub.Round {
	if len(f.rounds) == 0 || f.rounds[len(f.rounds)-1].Closed {
		return nil
	}
	return f.rounds[len(f.rounds)-1]
}

// round finds a round of this tune-up, nil if there is none of that number.
func (f *facts) round(id hub.RoundID) *hub.Round {
	for _, r := range slices.Backward(f.rounds) {
		if r.ID == id {
			return r
		}
	}
	return nil
}

// settle puts the record of before in the place of a copy that came out the
// same, so that it is no change.
func (f *facts) settle(was *facts) {
	for i, r := range f.rounds {
		if i < len(was.rounds) && was.rounds[i] != r && reflect.DeepEqual(*was.rounds[i], *r) {
			f.rounds[i] = was.rounds[i]
		}
	}
}

// changes are what differs from an earlier picture, in the order in which a
// store can take it: what others refer to first. more is what no list shows.
// What was dropped from the lists (a new tune-up, a player erased) is no change
// of the records.
func (f *facts) changes(was *facts, more []hub.Change) []hub.Change {
	var out []hub.Change
	if f.ids.limit != was.ids.limit {
		out = append(out, hub.ValueChange{Key: hub.ValueNextID, Is: strconv.FormatInt(f.ids.limit, 10)})
	}
	out = append(append(out, f.seatingChanges(was)...), more...)
	for _, r := range added(f.readings, was.readings, func(r *hub.Reading) int64 { return r.ID }) {
		if r.was == nil && r.is.ID < was.ids.next {
			r.was = r.is // back in the list, and on record all the while
		}
		out = append(out, hub.ReadingChange{Was: r.was, Is: r.is})
	}
	for _, m := range added(f.moves, was.moves, func(m *hub.MoveRecord) int64 { return m.ID }) {
		out = append(out, hub.MoveChange{Was: m.was, Is: m.is})
	}
	for _, r := range added(f.rounds, was.rounds, func(r *hub.Round) int64 { return int64(r.ID) }) {
		out = append(out, hub.RoundChange{Was: r.was, Is: r.is})
	}
	return append(out, f.valueChanges(was)...)
}

// seatingChanges are those of the section and its chairs.
func (f *facts) seatingChanges(was *facts) []hub.Change {
	same := len(f.chairs) >= len(was.chairs)
	for i := range was.chairs {
		same = same && f.chairs[i].ID == was.chairs[i].ID
	}
	if !same || f.section != was.section {
		return []hub.Change{hub.SectionChange{Was: was.whole(), Is: f.whole()}}
	}
	var out []hub.Change
	for i, c := range f.chairs {
		switch {
		case i >= len(was.chairs):
			out = append(out, hub.ChairChange{Section: f.section.ID, Is: c})
		case c != was.chairs[i]:
			out = append(out, hub.ChairChange{Section: f.section.ID, Was: was.chairs[i], Is: c})
		}
	}
	return out
}

func (f *facts) valueChanges(was *facts) []hub.Change {
	var out []hub.Change
	set := func(key, value string) {
		out = append(out, hub.ValueChange{Key: hub.OfSection(key, f.section.ID), Is: value})
	}
	if f.begun != was.begun {
		set(hub.ValueBegun, f.begun.String())
	}
	if !f.watching.Equal(was.watching) {
		set(hub.ValueWatch, watchValue(f.watching))
	}
	if f.piece != was.piece {
		packed, state := "", "{}"
		if f.piece != nil {
			packed = f.piece.Packed()
			state, _ = f.piece.State() // numbers always encode
		}
		if !f.piece.SameScore(was.piece) {
			set(hub.ValuePiece, packed)
		}
		set(hub.ValuePieceState, state)
	}
	return out
}

// watchValue is the store's value for a watch since a moment, the zero time for
// none.
func watchValue(since time.Time) string {
	if since.IsZero() {
		return ""
	}
	return since.UTC().Format(time.RFC3339)
}

// watched reads the store's value. Of a watch that a version before said only to
// be on, the beginning is not known: it counts from the tune-up's.
func watched(value string, begun time.Time) time.Time {
	if value == "" {
		return time.Time{}
	}
	if at, err := time.Parse(time.RFC3339, value); err == nil {
		return at
	}
	if begun.IsZero() {
		return time.Unix(0, 0)
	}
	return begun
}

// pair is a record before and after, was nil for a new one.
type pair[T any] struct{ was, is *T }

// added finds the records that are new or took the place of another.
func added[T any](is, was []*T, id func(*T) int64) []pair[T] {
	k := 0 // most lists begin alike
	for k < len(is) && k < len(was) && is[k] == was[k] {
		k++
	}
	before := make(map[int64]*T, len(was)-k)
	for _, v := range was[k:] {
		before[id(v)] = v
	}
	var out []pair[T]
	for _, v := range is[k:] {
		if old := before[id(v)]; old != v {
			out = append(out, pair[T]{old, v})
		}
	}
	return out
}
