package sqlite

import (
	"context"
	"errors"
	"path/filepath"
	"reflect"
	"slices"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/proto"
	"bellrow/proto/pitch"
)

// calls are all that a store can be asked for.
var calls = map[string]func(ctx context.Context, s *Store) error{
	"commit":   func(ctx context.Context, s *Store) error { return s.Commit(ctx, quayChanges()) },
	"sections": func(ctx context.Context, s *Store) error { _, err := s.Sections(ctx); return err },
	"section": func(ctx context.Context, s *Store) error {
		_, err := s.SaveSection(ctx, hub.Section{ID: 1, Name: "Quay", Chairs: []hub.Chair{{ID: 2, Label: "Horn 1"}}})
		return err
	},
	"reading": func(ctx context.Context, s *Store) error {
		return s.SaveReading(ctx, hub.Reading{ID: 5, Chair: 2, Node: "n", Boot: "b", At: at})
	},
	"node":     func(ctx context.Context, s *Store) error { _, err := s.Node(ctx, "n"); return err },
	"rounds":   func(ctx context.Context, s *Store) error { _, err := s.Rounds(ctx, 1, time.Time{}); return err },
	"stored":   func(ctx context.Context, s *Store) error { _, err := s.Stored(ctx, "n", "b"); return err },
	"readings": func(ctx context.Context, s *Store) error { _, err := s.Readings(ctx, 1, time.Time{}); return err },
	"answers":  func(ctx context.Context, s *Store) error { _, err := s.Answers(ctx, 1, time.Time{}); return err },
	"figures":  func(ctx context.Context, s *Store) error { _, err := s.Figures(ctx, 1, time.Time{}); return err },
	"moves":    func(ctx context.Context, s *Store) error { _, err := s.Moves(ctx, 1, time.Time{}); return err },
	"settings": func(ctx context.Context, s *Store) error { _, err := s.Settings(ctx, 1, time.Time{}); return err },
	"delete":   func(ctx context.Context, s *Store) error { return s.DeletePlayer(ctx, 2) },
	"forget":   func(ctx context.Context, s *Store) error { return s.Forget(ctx, at.Add(time.Hour)) },
	"value":    func(ctx context.Context, s *Store) error { _, err := s.Value(ctx, "k"); return err },
	"setValue": func(ctx context.Context, s *Store) error { return s.SetValue(ctx, "k", "other") },
	"expire": func(ctx context.Context, s *Store) error {
		_, err := s.Expire(ctx, at.Add(90*24*time.Hour), time.Hour)
		return err
	},
}

var at = time.Date(2026, 11, 2, 19, 0, 0, 0, time.UTC)

// quayChanges make a section of two with a round, a note, a move and a slide that was set.
func quayChanges() []hub.Change {
	sec := hub.Section{ID: 1, Name: "Quay", Reference: pitch.Reference{A4: 441}, Good: 5, Near: 10}
	one, two := hub.Chair{ID: 2, Label: "Horn 1", Name: "Ada", Instrument: "horn_f"}, hub.Chair{ID: 3, Label: "Tuba", Name: "Bo", Instrument: "tuba_cc"}
	round := hub.Round{ID: 4, Section: 1, Started: at, Call: hub.Call{Kind: hub.CallNote, Note: 70, Tones: map[hub.ChairID]pitch.Note{2: 65, 3: 46}}, Queue: []hub.ChairID{2, 3}}
	return []hub.Change{
		hub.SectionChange{Is: &sec}, hub.ChairChange{Is: &one, Section: 1}, hub.ChairChange{Is: &two, Section: 1},
		hub.NodeChange{Is: hub.NodeRecord{Node: "n", Section: 1, Chair: 2, TokenHash: []byte{1}, Enrolled: at}},
		hub.RoundChange{Is: &round},
		hub.ReadingChange{Is: &hub.Reading{ID: 5, Chair: 2, Round: 4, Node: "n", Boot: "b", At: at, Wire: proto.Reading{Sequence: 1, Hz: 349, Settled: true}, Counted: true, Verdict: "out", Note: 65, Cents: 7}},
		hub.MoveChange{Is: &hub.MoveRecord{ID: 6, Chair: 2, Round: 4, Reading: 5, At: at, Slide: "main", FromMM: 12, ToMM: 18, Expected: -9}},
		hub.SettingAdded{Is: hub.SettingRecord{Chair: 2, At: at, Slide: "main", From: 12, MM: 18, Source: hub.SourcePlayer}},
		hub.ValueChange{Key: "k", Is: "v"},
	}
}

// kept is all that a store has.
func kept(t *testing.T, s *Store) []any {
	t.Helper()
	var out []any
	add := func(x any, err error) {
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, x)
	}
	ctx, zero := t.Context(), time.Time{}
	sections, err := s.Sections(ctx)
	add(sections, err)
	rounds, err := s.Rounds(ctx, 1, zero)
	add(rounds, err)
	readings, err := s.Readings(ctx, 1, zero)
	add(readings, err)
	moves, err := s.Moves(ctx, 1, zero)
	add(moves, err)
	settings, err := s.Settings(ctx, 1, zero)
	add(settings, err)
	value, err := s.Value(ctx, "k")
	add(value, err)
	return out
}

// TestWhatDoesNotWorkIsSaid: whatever is asked of a store when the time is up, or after its end,
// fails and changes nothing. Whoever is told nothing would acknowledge what is lost.
func TestWhatDoesNotWorkIsSaid(t *testing.T) {
	path := filepath.Join(t.TempDir(), "hub.db")
	s, err := Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Commit(t.Context(), quayChanges()); err != nil {
		t.Fatal(err)
	}
	was := kept(t, s)
	ended, end := context.WithCancel(t.Context())
	end()
	for name, call := range calls {
		if err := call(ended, s); !errors.Is(err, context.Canceled) {
			t.Errorf("%s when the time is up: %v", name, err)
		}
	}
	if now := kept(t, s); !reflect.DeepEqual(now, was) {
		t.Errorf("it changed\n%+v\nto\n%+v", was, now)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	for name, call := range calls {
		if call(t.Context(), s) == nil {
			t.Errorf("%s after the end works", name)
		}
	}
	again, err := Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	if now := kept(t, again); !reflect.DeepEqual(now, was) {
		t.Errorf("it changed\n%+v\nto\n%+v", was, now)
	}
}

// TestAPlayerIsStruckFromRounds: whoever is deleted leaves no trace in rounds, in their tones or
// in their queue, and others stay.
func TestAPlayerIsStruckFromRounds(t *testing.T) {
	s := openTemp(t)
	defer s.Close()
	if err := s.Commit(t.Context(), quayChanges()); err != nil {
		t.Fatal(err)
	}
	queued := hub.Round{ID: 7, Section: 1, Started: at, Call: hub.Call{Kind: hub.CallNote, Note: 70}, Queue: []hub.ChairID{3, 2}}
	other := hub.Round{ID: 8, Section: 1, Started: at, Call: hub.Call{Kind: hub.CallNote, Note: 70, Tones: map[hub.ChairID]pitch.Note{3: 46}}, Queue: []hub.ChairID{3}}
	if err := s.Commit(t.Context(), []hub.Change{hub.RoundChange{Is: &queued}, hub.RoundChange{Is: &other}}); err != nil {
		t.Fatal(err)
	}
	if err := s.DeletePlayer(t.Context(), 2); err != nil {
		t.Fatal(err)
	}
	rounds, err := s.Rounds(t.Context(), 1, time.Time{})
	if err != nil || len(rounds) != 3 {
		t.Fatalf("%d rounds, %v", len(rounds), err)
	}
	for _, r := range rounds {
		if _, plays := r.Call.Tones[2]; plays || slices.Contains(r.Queue, 2) || !slices.Equal(r.Queue, []hub.ChairID{3}) {
			t.Errorf("round %d: %+v, queue %v", r.ID, r.Call.Tones, r.Queue)
		}
		if _, plays := r.Call.Tones[3]; plays != (r.ID != 7) {
			t.Errorf("round %d lost the other's tone: %+v", r.ID, r.Call.Tones)
		}
	}
	if now := kept(t, s); len(now[2].([]hub.Reading)) != 0 || len(now[3].([]hub.MoveRecord)) != 0 || len(now[4].([]hub.SettingRecord)) != 0 {
		t.Errorf("left: %+v", now)
	}
	if _, err := s.Node(t.Context(), "n"); !errors.Is(err, hub.ErrNotFound) {
		t.Errorf("the laptop is still known: %v", err)
	}
}
