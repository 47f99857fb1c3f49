package session_test

import (
	"context"
	"errors"
	"log/slog"
	"os"
	"strings"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/hub/feed"
	"bellrow/hub/intonation"
	"bellrow/hub/mem"
	"bellrow/hub/piece"
	"bellrow/hub/session"
	"bellrow/hub/show"
	"bellrow/proto"
	"bellrow/proto/instrument"
)

// news takes what a feed has to tell: whether there is news, and whether there can be no more.
func news[T any](f *feed.Feed[T]) (told, over bool) {
	select {
	case _, open := <-f.C():
		return open, !open
	default:
		return false, false
	}
}

// TestWhoFollowsIsToldOfDifferences: after whatever happens a player's feed has news exactly if that player's view is
// another, whoever else follows the same chair, and the row's feed has news whenever the row is another.
func TestWhoFollowsIsToldOfDifferences(t *testing.T) {
	b := newBench(t)
	tuba, horn, trumpet := b.trio()
	ps := []*player{tuba, horn, trumpet}
	var feeds [][2]*feed.Feed[proto.View]
	for _, p := range ps {
		feeds = append(feeds, [2]*feed.Feed[proto.View]{b.hub.Follow(p.chair), b.hub.Follow(p.chair)})
	}
	rows := b.hub.FollowRow()
	if told, _ := news(rows); !told {
		t.Error("the first row is no news")
	}
	var seen []proto.View
	for i, p := range ps {
		for _, f := range feeds[i] {
			if told, _ := news(f); !told || !equal(f.Get(), p.view()) {
				t.Errorf("the first view of %s is no news", p.name)
			}
		}
		seen = append(seen, p.view())
	}
	untimed := func() show.Row {
		r := b.row()
		if r.Round != nil {
			r.Round.UsedSeconds = 0
		}
		return r
	}
	row := untimed()
	changed := 0
	look := func(what string, open int) {
		t.Helper()
		for i, p := range ps {
			now := p.view()
			differs := !equal(now, seen[i])
			if differs {
				changed++
			}
			for k, f := range feeds[i] {
				told, over := news(f)
				if closed := k == 1 && open < 2; told != (differs && !closed) || over != closed {
					t.Errorf("%s: feed %d of %s told %t, over %t; its view differs %t", what, k, p.name, told, over, differs)
				}
			}
			if f := feeds[i][0]; !equal(f.Get(), now) {
				t.Errorf("%s: %s follows %+v and sees %+v", what, p.name, f.Get(), now)
			}
			seen[i] = now
		}
		now := untimed()
		told, _ := news(rows)
		version := now.Version
		if now.Version = row.Version; !equal(now, row) && (!told || version == row.Version) {
			t.Errorf("%s: the row is another, and nobody is told", what)
		}
		row = untimed()
	}
	for _, open := range []int{2, 1} {
		if open == 1 {
			for i := range ps {
				feeds[i][1].Close()
			}
		}
		b.call("Bb4")
		look("a call", open)
		tuba.play(2)
		look("a note", open)
		b.hub.State(horn.chair, proto.State{State: "sounding", Level: -20})
		look("a sound", open)
		b.hub.State(horn.chair, proto.State{State: "quiet", Level: -60})
		look("silence", open)
		horn.play(30)
		look("a note that is sharp", open)
		b.do(hub.Command{Do: hub.DoAbsent, Chair: trumpet.chair})
		look("one goes home", open)
		b.do(hub.Command{Do: hub.DoPresent, Chair: trumpet.chair})
		look("and comes back", open)
		b.do(hub.Command{Do: hub.DoEnd})
		look("the end", open)
	}
	if changed < 12 {
		t.Errorf("%d views have changed", changed)
	}
	rows.Close()
	b.call("F4")
	if told, _ := news(rows); told {
		t.Error("a feed that was closed is told of a call")
	}
}

// TestAFeedEndsWithItsChair: a player's feed ends when the chair is taken out, when another laptop takes it over and when
// another section is opened; those of other chairs go on.
func TestAFeedEndsWithItsChair(t *testing.T) {
	for what, end := range map[string]func(b *bench, p *player){
		"taken out": func(b *bench, p *player) { b.do(hub.Command{Do: hub.DoRemove, Chair: p.chair}) },
		"erased": func(b *bench, p *player) {
			if err := b.hub.DeletePlayer(t.Context(), p.chair); err != nil {
				t.Error(err)
			}
		},
		"taken over": func(b *bench, p *player) {
			if _, err := b.hub.Join(t.Context(), hub.Peer{Node: "spare", Boot: "b", Chair: p.name, Instrument: p.instrument}); err != nil {
				t.Error(err)
			}
		},
		"another section": func(b *bench, p *player) { b.do(hub.Command{Do: hub.DoOpen, Name: "Pier"}) },
	} {
		b := newBench(t)
		tuba, horn, _ := b.trio()
		f, other := b.hub.Follow(horn.chair), b.hub.Follow(tuba.chair)
		news(f)
		news(other)
		end(b, horn)
		for range 2 { // what was news before may still be told
			if _, over := news(f); over {
				break
			}
		}
		if _, over := news(f); !over {
			t.Errorf("%s: the feed goes on", what)
		}
		_, over := news(other)
		if _, again := news(other); (over || again) != (what == "another section") {
			t.Errorf("%s: the feed of another chair is over: %t", what, over || again)
		}
		f.Close()
		f.Close()
	}
	b := newBench(t)
	if _, over := news(b.hub.Follow(99)); over {
		t.Error("the first value of a chair that is none is no news")
	}
}

// TestARowIsItsReadersOwn: whoever changes a row changes nobody else's.
func TestARowIsItsReadersOwn(t *testing.T) {
	b := newBench(t)
	b.trio()
	b.call("Bb4")
	row := b.row()
	row.Chairs[0].Label, row.Round.UsedSeconds = "mine", -1
	if again := b.row(); again.Chairs[0].Label == "mine" || again.Round.UsedSeconds < 0 {
		t.Errorf("another reads %+v", again.Chairs[0])
	}
}

// refusing is a store of which one method fails, and which remembers the commits of nothing.
type refusing struct {
	hub.Store
	at    string
	key   string // of Value
	empty int
}

var errWire = errors.New("a wire is loose")

func (r *refusing) fails(at string) error {
	if r.at == at {
		return errWire
	}
	return nil
}

func (r *refusing) Commit(ctx context.Context, changes []hub.Change) error {
	if len(changes) == 0 {
		r.empty++
	}
	return errors.Join(r.fails("commit"), r.Store.Commit(ctx, changes))
}

func (r *refusing) Sections(ctx context.Context) ([]hub.Section, error) {
	s, err := r.Store.Sections(ctx)
	return s, errors.Join(err, r.fails("sections"))
}

func (r *refusing) Node(ctx context.Context, node string) (hub.NodeRecord, error) {
	if err := r.fails("node"); err != nil {
		return hub.NodeRecord{}, err
	}
	return r.Store.Node(ctx, node)
}

func (r *refusing) Rounds(ctx context.Context, section int64, since time.Time) ([]hub.Round, error) {
	x, err := r.Store.Rounds(ctx, section, since)
	return x, errors.Join(err, r.fails("rounds"))
}

func (r *refusing) Stored(ctx context.Context, node, boot string) (uint64, error) {
	x, err := r.Store.Stored(ctx, node, boot)
	return x, errors.Join(err, r.fails("has stored"))
}

func (r *refusing) Answers(ctx context.Context, section int64, since time.Time) ([]hub.Reading, error) {
	x, err := r.Store.Answers(ctx, section, since)
	return x, errors.Join(err, r.fails("readings"))
}

func (r *refusing) Moves(ctx context.Context, section int64, since time.Time) ([]hub.MoveRecord, error) {
	x, err := r.Store.Moves(ctx, section, since)
	return x, errors.Join(err, r.fails("moves"))
}

func (r *refusing) Settings(ctx context.Context, section int64, since time.Time) ([]hub.SettingRecord, error) {
	x, err := r.Store.Settings(ctx, section, since)
	return x, errors.Join(err, r.fails("settings"))
}

func (r *refusing) Value(ctx context.Context, key string) (string, error) {
	if r.at == "value" && strings.HasPrefix(key, r.key) {
		return "", errWire
	}
	return r.Store.Value(ctx, key)
}

// TestAFailingStoreIsNamed: whatever a store cannot read when the hub starts, or opens another section, is said, and
// nothing begins on half of it; so is what it cannot look up when a node joins.
func TestAFailingStoreIsNamed(t *testing.T) {
	full := mem.New()
	b := &bench{t: t, store: full, now: time.Date(2026, 3, 2, 19, 0, 0, 0, time.UTC)}
	b.start()
	b.do(hub.Command{Do: hub.DoOpen, Name: "Pier"})
	for _, tt := range []struct{ at, key, says string }{
		{"sections", "", "sections"}, {"rounds", "", "rounds"}, {"readings", "", "readings"}, {"moves", "", "moves"}, {"settings", "", "settings"},
		{"value", hub.ValueHub, "identity"}, {"value", hub.ValueJoin, "identity"}, {"value", hub.ValueBegun, hub.ValueBegun}, {"value", hub.ValueWatch, hub.ValueWatch},
		{"value", hub.ValuePiece, hub.ValuePiece}, {"value", hub.ValuePieceState, hub.ValuePieceState}, {"value", hub.ValueNextID, hub.ValueNextID},
	} {
		store := &refusing{Store: full, at: tt.at, key: tt.key}
		if _, err := session.New(t.Context(), session.Config{Store: store}); !errors.Is(err, errWire) || !strings.Contains(err.Error(), tt.says) {
			t.Errorf("%s %s: the hub begins (%v)", tt.at, tt.key, err)
		}
		store.at = ""
		h, err := session.New(t.Context(), session.Config{Store: store, Section: "Pier"})
		if err != nil {
			t.Fatal(err)
		}
		if store.at = tt.at; tt.says == "identity" {
			continue // is read once
		}
		if err := h.Command(t.Context(), hub.Command{Do: hub.DoOpen, Name: session.DefaultSection}); !errors.Is(err, errWire) || h.Section().Name != "Pier" {
			t.Errorf("%s %s: %s is opened (%v)", tt.at, tt.key, h.Section().Name, err)
		}
	}
	if _, err := session.New(t.Context(), session.Config{Store: &refusing{Store: mem.New(), at: "commit"}}); !errors.Is(err, errWire) {
		t.Errorf("a hub that cannot keep its name begins: %v", err)
	}
	if _, err := session.New(t.Context(), session.Config{Store: &refusing{Store: full, at: "commit"}, Section: "Elsewhere"}); !errors.Is(err, errWire) || !strings.Contains(err.Error(), "creating section") {
		t.Errorf("a section that cannot be kept is opened: %v", err)
	}
	for _, at := range []string{"node", "has stored"} {
		store := &refusing{Store: full}
		h, err := session.New(t.Context(), session.Config{Store: store})
		if err != nil {
			t.Fatal(err)
		}
		store.at = at
		if _, err := h.Join(t.Context(), hub.Peer{Node: "n", Boot: "b", Chair: "Zoe", Instrument: "trumpet_bb"}); !errors.Is(err, errWire) || !strings.Contains(err.Error(), "looking up") || !strings.Contains(err.Error(), at) {
			t.Errorf("%s: %v", at, err)
		}
		if n := len(h.Section().Chairs); n != 0 {
			t.Errorf("%s: %d chairs are there", at, n)
		}
	}
}

// TestNothingIsNoCommit: what changes nothing on record is not written.
func TestNothingIsNoCommit(t *testing.T) {
	store := &refusing{Store: mem.New()}
	b := &bench{t: t, store: store, now: time.Date(2026, 3, 2, 19, 0, 0, 0, time.UTC)}
	b.start()
	tuba, horn, trumpet := b.trio()
	b.call("Bb4")
	for _, p := range []*player{tuba, horn, trumpet} {
		b.hub.State(p.chair, proto.State{State: "sounding"})
		p.play(0)
	}
	if store.empty > 0 {
		t.Errorf("%d commits of nothing", store.empty)
	}
}

// TestAHubKeepsItsName: a hub has an id and a code to join by, other than any other's, and keeps both.
func TestAHubKeepsItsName(t *testing.T) {
	b, other := newBench(t), newBench(t)
	id, code := b.hub.ID(), b.hub.JoinCode()
	if len(id) != 12 || id == other.hub.ID() || code == "" || code == other.hub.JoinCode() {
		t.Errorf("hubs %q (%s) and %q (%s)", id, code, other.hub.ID(), other.hub.JoinCode())
	}
	if b.restart(); b.hub.ID() != id || b.hub.JoinCode() != code {
		t.Errorf("after a restart %q (%s), was %q (%s)", b.hub.ID(), b.hub.JoinCode(), id, code)
	}
}

// TestANewSectionIsUsual: a section that nobody has set up has the usual bands and tunes on B flat, F and A.
func TestANewSectionIsUsual(t *testing.T) {
	b := newBench(t)
	s := b.hub.Section()
	var notes []string
	for _, n := range s.TuningNotes {
		notes = append(notes, n.ClassName())
	}
	if s.Good != intonation.DefaultGood || s.Near != intonation.DefaultWatch || s.Reference.A4 != 440 || strings.Join(notes, " ") != "B♭ F A" {
		t.Errorf("%+v, notes %v", s, notes)
	}
}

// TestTheSameSectionStays: opening the section that is open, in whatever case, leaves all as it is.
func TestTheSameSectionStays(t *testing.T) {
	b := newBench(t)
	tuba, _, _ := b.trio()
	b.call("Bb4")
	tuba.play(3)
	f := b.hub.Follow(tuba.chair)
	news(f)
	row := b.row()
	for _, name := range []string{session.DefaultSection, strings.ToUpper(session.DefaultSection)} {
		b.do(hub.Command{Do: hub.DoOpen, Name: name})
		if now := b.row(); now.Version != row.Version || !equal(now, row) {
			t.Errorf("opening %q again changes the row", name)
		}
		if told, over := news(f); told || over {
			t.Errorf("opening %q again tells a player", name)
		}
	}
}

// TestASettingIsStoredOnceItIsTaken: where a player says a slide stands is on record when the hub has taken it; what cannot
// be is refused, and is not.
func TestASettingIsStoredOnceItIsTaken(t *testing.T) {
	b := newBench(t)
	tuba, _, _ := b.trio()
	stored := func() int {
		all, err := b.store.Settings(t.Context(), b.hub.Section().ID, b.now.Add(-time.Hour))
		if err != nil {
			t.Fatal(err)
		}
		return len(all)
	}
	was := stored()
	for mm, ok := range map[float64]bool{-1: false, 9999: false, 5: true} {
		if err := b.hub.Setting(t.Context(), tuba.chair, proto.Setting{Slide: instrument.Main, MM: mm}); (err == nil) != ok {
			t.Errorf("%g mm: %v", mm, err)
		} else if ok {
			was++
		}
		if stored() != was {
			t.Errorf("after %g mm %d settings are stored, want %d", mm, stored(), was)
		}
	}
	if err := b.hub.Setting(t.Context(), 99, proto.Setting{Slide: instrument.Main, MM: 5}); !errors.Is(err, hub.ErrNotFound) {
		t.Errorf("a chair that is none: %v", err)
	}
}

// TestANoseDoesNotJoin: a peer without an instrument that is known gets no chair.
func TestANoseDoesNotJoin(t *testing.T) {
	b := newBench(t)
	if j, err := b.hub.Join(t.Context(), hub.Peer{Node: "n", Boot: "b", Chair: "Zoe", Instrument: "nose"}); err == nil || j != (hub.Joined{}) {
		t.Errorf("seated at %+v (%v)", j, err)
	}
}

// TestForgettingSparesTheTuneUp: what is older than a moment goes, but never what belongs to the tune-up that is going on.
func TestForgettingSparesTheTuneUp(t *testing.T) {
	b := newBench(t)
	tuba, horn, trumpet := b.trio()
	b.call("Bb4")
	tuba.play(1)
	old := b.now.Add(time.Second)
	b.now = b.now.Add(48 * time.Hour)
	b.restart(tuba, horn, trumpet)
	b.call("Bb4")
	begun := b.now
	tuba.play(2)
	kept := func() (before, since int) {
		all, err := b.store.Readings(t.Context(), b.hub.Section().ID, time.Time{})
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range all {
			if r.At.Before(begun) {
				before++
			} else {
				since++
			}
		}
		return before, since
	}
	for _, step := range []struct {
		before      time.Time
		older, this int
	}{{old.Add(-time.Hour), 1, 1}, {old, 0, 1}, {b.now.Add(time.Hour), 0, 1}} {
		if err := b.hub.Forget(t.Context(), step.before); err != nil {
			t.Fatal(err)
		}
		if older, this := kept(); older != step.older || this != step.this {
			t.Errorf("all before %v forgotten: %d of before and %d of this tune-up are kept, want %d and %d", step.before, older, this, step.older, step.this)
		}
	}
}

// TestAPlanIsMadeOnce: the plan of a piece is worked out anew only when what it depends on is another.
func TestAPlanIsMadeOnce(t *testing.T) {
	b := newBench(t)
	b.quartet()
	b.loadPiece(quay)
	plan := func() *piece.PlayerPlan {
		p, err := b.hub.PiecePlan()
		if err != nil {
			t.Fatal(err)
		}
		return &p.Players[0]
	}
	first := plan()
	if plan() != first {
		t.Error("the same is worked out twice")
	}
	s := b.hub.Section()
	s.Good = 8
	b.do(hub.Command{Do: hub.DoEdit, Section: &s})
	second := plan()
	if second == first || plan() != second {
		t.Error("another band has the plan of the first, or is worked out twice")
	}
}

// TestAPieceThatCannotBeReadIsNoReasonNotToStart: a piece on record that cannot be read is said in the log, and the hub
// goes on without.
func TestAPieceThatCannotBeReadIsNoReasonNotToStart(t *testing.T) {
	for _, packed := range []string{"", "of course not"} {
		var log strings.Builder
		b := newBench(t)
		b.trio()
		if err := b.store.SetValue(t.Context(), hub.OfSection(hub.ValuePiece, b.hub.Section().ID), packed); err != nil {
			t.Fatal(err)
		}
		b.log = slog.New(slog.NewTextHandler(&log, nil))
		b.start()
		if _, ok := b.hub.Piece(); ok || strings.Contains(log.String(), "piece cannot be read") != (packed != "") {
			t.Errorf("%q: a piece %t, the log says %q", packed, ok, &log)
		}
	}
	b := newBench(t)
	b.quartet()
	if f, err := os.Open(quay); err != nil {
		t.Fatal(err)
	} else if err := b.hub.LoadPiece(t.Context(), f); err != nil {
		t.Fatal(err)
	}
	var log strings.Builder
	b.log = slog.New(slog.NewTextHandler(&log, nil))
	if b.start(); log.Len() > 0 {
		t.Errorf("a piece that can be read: %s", &log)
	}
}

// TestWhatIsStoredIsNotTakenTwice: a node that goes on after a restart of the hub, without having joined anew, is asked
// for nothing that is stored, and what it has more is taken.
func TestWhatIsStoredIsNotTakenTwice(t *testing.T) {
	b := newBench(t)
	tuba, _, _ := b.trio()
	b.call("Bb4")
	deliver := func(sequence uint64) {
		t.Helper()
		r := proto.Reading{Sequence: sequence, Hz: 116, CI95: 0.5, Level: -20, Floor: -60, Settled: true, End: 1}
		if err := b.hub.Deliver(t.Context(), tuba.chair, tuba.node, tuba.boot, r); err != nil {
			t.Errorf("reading %d: %v", sequence, err)
		}
	}
	kept := func() (n int) {
		all, err := b.store.Readings(t.Context(), b.hub.Section().ID, time.Time{})
		if err != nil {
			t.Fatal(err)
		}
		return len(all)
	}
	for n := range uint64(3) {
		deliver(n + 1)
	}
	for _, joins := range []bool{false, true} {
		b.start()
		was := kept()
		if joins {
			j, err := b.hub.Join(t.Context(), hub.Peer{Node: tuba.node, Boot: tuba.boot, Chair: tuba.name, Instrument: tuba.instrument})
			if err != nil || int(j.Stored) != was || j.Chair != tuba.chair || b.hub.ChairFor(hub.Peer{Node: tuba.node, Chair: tuba.name}, hub.NodeRecord{}) != tuba.chair {
				t.Errorf("%d are stored, and %+v says %d (%v)", was, j, j.Stored, err)
			}
		}
		deliver(2)
		deliver(uint64(was))
		if now := kept(); now != was {
			t.Errorf("joined %t: repeats make %d readings of %d", joins, now, was)
		}
		deliver(uint64(was) + 1)
		if now := kept(); now != was+1 || b.hub.Stored(tuba.node, tuba.boot) != uint64(now) {
			t.Errorf("joined %t: one more makes %d readings of %d, stored up to %d", joins, now, was, b.hub.Stored(tuba.node, tuba.boot))
		}
	}
}

// TestNumbersGoOn: the numbers that are given begin where those on record end, however large, and in a section that is
// opened while nothing can be stored none is given twice.
func TestNumbersGoOn(t *testing.T) {
	store := &flaky{Store: mem.New()}
	b := &bench{t: t, store: store, now: time.Date(2026, 3, 2, 19, 0, 0, 0, time.UTC)}
	b.start()
	b.do(hub.Command{Do: hub.DoOpen, Name: "Pier"})
	b.do(hub.Command{Do: hub.DoOpen, Name: session.DefaultSection})
	if err := store.SetValue(t.Context(), hub.ValueNextID, "5000000010"); err != nil {
		t.Fatal(err)
	}
	b.start()
	tuba := b.join("Tuba", "tuba_bbb")
	if tuba.chair != 5000000010 {
		t.Errorf("the first number is %d", tuba.chair)
	}
	store.fail(hub.ErrFull)
	given := map[int64]bool{int64(tuba.chair): true}
	for range 1100 { // more than are noted at once
		b.call("Bb4")
		id := int64(b.row().Round.ID)
		if given[id] {
			t.Fatalf("%d is given twice", id)
		}
		given[id] = true
	}
	other := "Pier"
	if b.hub.Section().Name == other {
		other = session.DefaultSection
	}
	b.do(hub.Command{Do: hub.DoOpen, Name: other})
	horn := b.join("Horn", "horn_f")
	if given[int64(horn.chair)] {
		t.Errorf("%d is given twice", horn.chair)
	}
}

// TestASessionNeedsItsStore: without one there is none; a section without a name is not opened.
func TestASessionNeedsItsStore(t *testing.T) {
	if _, err := session.New(t.Context(), session.Config{}); err == nil {
		t.Error("a session of nothing")
	}
	b := newBench(t)
	if err := b.hub.Command(t.Context(), hub.Command{Do: hub.DoOpen}); err == nil || !strings.Contains(err.Error(), "open without a name") {
		t.Errorf("%v", err)
	}
}

// TestTheHubsClock: it counts from its start.
func TestTheHubsClock(t *testing.T) {
	b := newBench(t)
	b.now = b.now.Add(5 * time.Second)
	if got := b.hub.Seconds(); got != 5 {
		t.Errorf("five seconds after its start it shows %g", got)
	}
}

// TestWhoJoinsSaysWho: a node without a name, or without a start of its own, does not join.
func TestWhoJoinsSaysWho(t *testing.T) {
	b := newBench(t)
	for _, p := range []hub.Peer{{Node: "n"}, {Boot: "b"}, {}} {
		p.Chair, p.Instrument = "Zoe", "trumpet_bb"
		if j, err := b.hub.Join(t.Context(), p); err == nil || len(b.hub.Section().Chairs) > 0 {
			t.Errorf("%+v joins as %+v", p, j)
		}
	}
}

// TestWhatIsNotStoredIsLogged: that a command could not be stored is in the log and on the row, and its cause.
func TestWhatIsNotStoredIsLogged(t *testing.T) {
	var log strings.Builder
	store := &flaky{Store: mem.New()}
	b := &bench{t: t, store: store, now: time.Date(2026, 3, 2, 19, 0, 0, 0, time.UTC), log: slog.New(slog.NewTextHandler(&log, nil))}
	b.start()
	b.trio()
	if log.Len() > 0 {
		t.Errorf("nothing has failed, and the log says %s", &log)
	}
	store.fail(hub.ErrFull)
	b.call("Bb4")
	if row := b.row(); !strings.Contains(log.String(), "not stored") || len(row.Trouble) != 1 || row.SayKind != "trouble" {
		t.Errorf("the log says %q, the row %q", &log, b.row().Say)
	}
}
