// Package storetest holds the one suite that every hub.Store passes.
package storetest

import (
	"errors"
	"fmt"
	"math"
	"reflect"
	"slices"
	"sync"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/hub/intonation"
	"bellrow/hub/slide"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// Store is a hub.Store whose records can also be written one by one, each
// committed when the call returns.
type Store interface {
	hub.Store
	hub.Writer
}

// Run tests the contract of hub.Store. open returns an empty store; the suite
// closes it.
func Run(t *testing.T, open func(t *testing.T) Store) {
	for _, c := range []struct {
		name string
		test func(*testing.T, *fixture)
	}{
		{"an empty store has nothing", testEmpty},
		{"a section comes back whole", testSection},
		{"the section last saved comes first", testSectionOrder},
		{"one chair is replaced or added", testSaveChair},
		{"a chair no longer listed keeps its history", testUnlisted},
		{"a record with an ID keeps it", testGivenIDs},
		{"a node finds its chair again", testNodes},
		{"a round comes back whole and is replaced", testRounds},
		{"a reading comes back whole", testReading},
		{"figures are those of the readings that have some", testFigures},
		{"answers are those of the readings that a round asked for", testAnswers},
		{"a repeated reading is left as it is", testRepeat},
		{"a repeat within one batch is left as it is", testRepeatInBatch},
		{"what the hub made of a reading is replaced", testSaveReading},
		{"stored is the prefix without gaps", testStored},
		{"stored survives deletion", testStoredAfterDeletion},
		{"since includes the moment itself", testSince},
		{"another section's records stay apart", testApart},
		{"moves are replaced", testMoves},
		{"settings come back in order", testSettings},
		{"a deleted player leaves nothing", testDelete},
		{"forgetting keeps what is newer", testForget},
		{"values are replaced", testValues},
		{"changes are written in order", testCommit},
		{"of changes all are written or none", testAllOrNone},
		{"returned records share no memory", testNoSharing},
		{"many writers at once lose nothing", testConcurrent},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := open(t)
			defer func() {
				if err := s.Close(); err != nil {
					t.Errorf("close: %v", err)
				}
			}()
			c.test(t, &fixture{t: t, Store: s})
		})
	}
}

// t0 is some moment with nanoseconds, in no special zone.
var t0 = time.Date(2026, 3, 2, 19, 0, 0, 123456789, time.UTC)

type fixture struct {
	Store
	t *testing.T
}

// must gives the value of a call that cannot fail here; a panic ends the test.
func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

func ok(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func same(t *testing.T, got, want any) {
	t.Helper()
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got  %+v\nwant %+v", got, want)
	}
}

// section saves a section with so many chairs.
func (f *fixture) section(name string, chairs int) hub.Section {
	f.t.Helper()
	s := hub.Section{
		Name: name, Reference: pitch.Reference{A4: 442}, Good: 5, Near: 10,
		TuningNotes: []pitch.Note{70, 65}, Order: hub.OrderSeating, FixedPitch: true, HideNames: true, TemperatureC: 18.5,
	}
	for i := range chairs {
		s.Chairs = append(s.Chairs, hub.Chair{
			Name: fmt.Sprintf("Player \"%d\"; é♭", i), Label: fmt.Sprintf("Horn %d", i+1), Part: "2nd", Instrument: "horn_f",
			Row: i / 4, Place: i % 4, Absent: i%2 == 1,
			Settings: instrument.Settings{instrument.Main: 12.5, instrument.FMain: 0}, Travel: instrument.Settings{instrument.Main: 40},
		})
	}
	return must(f.SaveSection(f.t.Context(), s))
}

func reading(c hub.ChairID, node string, seq uint64, at time.Time) hub.Reading {
	return hub.Reading{
		Chair: c, Round: 0, Node: node, Boot: "b1", At: at,
		Wire: proto.Reading{
			Sequence: seq, Round: 7, Start: 1.5, End: 2.5, Onset: 1.25, Hz: 233.0819, CI95: 0.125, Spread: 1.5, Drift: -0.25,
			Level: -20.5, Floor: -61, Early: 2.5, Played: 321, Settled: true, Reason: "vibrato",
			Vibrato: &proto.Vibrato{RateHz: 5.5, Extent: 12}, Second: &proto.Second{Offset: 7, LevelDB: -8}, Clipped: true,
		},
		Note: 58, Target: 233.1, Cents: -0.25, Counted: true, Why: "why", Verdict: "set",
		Answer: &hub.Answer{ID: 3, Advice: slide.Advice{
			Kind: slide.Move, Code: "move", Steps: []slide.Step{{Slide: instrument.Main, Name: "main slide", FromMM: 12, ToMM: 18, TravelMM: 40, Expected: -8.5}},
			Offset: 8.25, Heard: 58, Try: &instrument.Path{Partial: 4, Valves: "1-3"},
			Facts: slide.Facts{Instrument: "horn_f", Called: 58, Transposition: -7, Pitched: true, CI95: 1.5, Notes: 2, Telling: []pitch.Note{58, 65}},
		}, Chord: &intonation.Place{
			Tone: "third", Note: pitch.Spelled{Name: pitch.Name{Letter: 'B', Alter: -1}, Octave: 3}, Cents: 11, Ways: []instrument.Path{{Partial: 6, Side: "F"}},
			Resort: &intonation.Resort{Code: intonation.ResortPath, Path: instrument.Path{Partial: 5}, Steps: []slide.Step{{Slide: instrument.FMain, ToMM: 4}}},
		}, Words: slide.Words{Headline: "Pull the main slide 6 mm."}},
		Heard: &hub.Heard{Hz: 233.2, CI95: 0.5, Words: "from three microphones"},
	}
}

func (f *fixture) add(rs ...hub.Reading) []hub.Reading {
	f.t.Helper()
	return must(f.AddReadings(f.t.Context(), rs))
}

func testEmpty(t *testing.T, f *fixture) {
	ctx := t.Context()
	if got := must(f.Sections(ctx)); len(got) != 0 {
		t.Errorf("sections of an empty store: %v", got)
	}
	if _, err := f.Node(ctx, "n"); !errors.Is(err, hub.ErrNotFound) {
		t.Errorf("node: error %v, want ErrNotFound", err)
	}
	if _, err := f.Value(ctx, "v"); !errors.Is(err, hub.ErrNotFound) {
		t.Errorf("value: error %v, want ErrNotFound", err)
	}
	if n := must(f.Stored(ctx, "n", "b")); n != 0 {
		t.Errorf("stored %d, want 0", n)
	}
	if got := f.add(); len(got) != 0 {
		t.Errorf("an empty batch gave %v", got)
	}
	if err := f.SaveReading(ctx, hub.Reading{ID: 5}); !errors.Is(err, hub.ErrNotFound) {
		t.Errorf("save reading: error %v, want ErrNotFound", err)
	}
}

func testSection(t *testing.T, f *fixture) {
	s := f.section("Brass", 6)
	seen := map[hub.ChairID]bool{}
	for _, c := range s.Chairs {
		if c.ID == 0 || seen[c.ID] {
			t.Errorf("chair %s has ID %d, need its own", c.Label, c.ID)
		}
		seen[c.ID] = true
	}
	if s.ID == 0 {
		t.Error("section has no ID")
	}
	same(t, must(f.Sections(t.Context())), []hub.Section{s})
}

func testSectionOrder(t *testing.T, f *fixture) {
	a, b := f.section("A", 1), f.section("B", 1)
	a.Name = "A again"
	must(f.SaveSection(t.Context(), a))
	same(t, must(f.Sections(t.Context())), []hub.Section{a, b})
}

func testSaveChair(t *testing.T, f *fixture) {
	ctx := t.Context()
	s := f.section("Brass", 3)
	s.Chairs[1].Label, s.Chairs[1].Settings = "Horn 9", instrument.Settings{instrument.Main: 3}
	ok(t, f.SaveChair(ctx, s.ID, s.Chairs[1]))
	s.Chairs = append(s.Chairs, hub.Chair{ID: 4001, Label: "Tuba 1", Instrument: "tuba_bbb"})
	ok(t, f.SaveChair(ctx, s.ID, s.Chairs[3]))
	same(t, must(f.Sections(ctx)), []hub.Section{s})
	f.add(reading(4001, "n", 1, t0))
	if n := len(must(f.Readings(ctx, s.ID, t0))); n != 1 {
		t.Errorf("%d readings of the new chair, want 1", n)
	}
	if err := f.SaveChair(ctx, 99, hub.Chair{ID: 4002}); !errors.Is(err, hub.ErrNotFound) {
		t.Errorf("a chair of no section: error %v, want ErrNotFound", err)
	}
}

func testUnlisted(t *testing.T, f *fixture) {
	s := f.section("Brass", 2)
	gone := s.Chairs[1].ID
	f.add(reading(gone, "n", 1, t0))
	s.Chairs = s.Chairs[:1]
	must(f.SaveSection(t.Context(), s))
	if got := must(f.Sections(t.Context()))[0]; len(got.Chairs) != 1 {
		t.Errorf("%d chairs, want 1", len(got.Chairs))
	}
	if got := must(f.Readings(t.Context(), s.ID, time.Time{})); len(got) != 1 || got[0].Chair != gone {
		t.Errorf("history of the unlisted chair: %v", got)
	}
}

func testGivenIDs(t *testing.T, f *fixture) {
	s := f.section("Brass", 1)
	s.Chairs = append(s.Chairs, hub.Chair{ID: 5001, Label: "Tuba 1", Instrument: "tuba_bbb"})
	s = must(f.SaveSection(t.Context(), s))
	if s.Chairs[1].ID != 5001 {
		t.Errorf("chair ID %d, want 5001", s.Chairs[1].ID)
	}
	r := must(f.SaveRound(t.Context(), hub.Round{ID: 6001, Section: s.ID, Started: t0}))
	m := must(f.SaveMove(t.Context(), hub.MoveRecord{ID: 7001, Chair: 5001, At: t0}))
	rd := reading(5001, "n", 1, t0)
	rd.ID = 8001
	if got := f.add(rd)[0].ID; r.ID != 6001 || m.ID != 7001 || got != 8001 {
		t.Errorf("IDs %d, %d, %d, want 6001, 7001, 8001", r.ID, m.ID, got)
	}
}

func testNodes(t *testing.T, f *fixture) {
	s := f.section("Brass", 2)
	n := hub.NodeRecord{Node: "n1", Section: s.ID, Chair: s.Chairs[0].ID, TokenHash: []byte{0, 255, 1}, Enrolled: t0}
	ok(t, f.Enrol(t.Context(), n))
	same(t, must(f.Node(t.Context(), "n1")), n)
	n.Chair, n.TokenHash = s.Chairs[1].ID, []byte{7}
	ok(t, f.Enrol(t.Context(), n))
	same(t, must(f.Node(t.Context(), "n1")), n)
}

func testRounds(t *testing.T, f *fixture) {
	s := f.section("Brass", 2)
	a, b := s.Chairs[0].ID, s.Chairs[1].ID
	r := hub.Round{
		Section: s.ID, Started: t0, Queue: []hub.ChairID{b, a}, After: map[hub.ChairID]int64{a: 9}, MovesAnyway: true, InTurn: true,
		Call: hub.Call{Kind: hub.CallChord, Note: 58, Chord: "B♭ major", Tones: map[hub.ChairID]pitch.Note{a: 58, b: 62}, Together: true, Anchor: "bass", Tuning: "just"},
	}
	r = must(f.SaveRound(t.Context(), r))
	same(t, must(f.Rounds(t.Context(), s.ID, t0)), []hub.Round{r})
	r.Ended, r.Queue, r.Closed, r.Void = t0.Add(time.Minute), nil, true, true
	must(f.SaveRound(t.Context(), r))
	later := must(f.SaveRound(t.Context(), hub.Round{Section: s.ID, Started: t0.Add(time.Hour), Call: hub.Call{Kind: hub.CallNote, Note: 60}}))
	same(t, must(f.Rounds(t.Context(), s.ID, t0)), []hub.Round{r, later})
}

func testReading(t *testing.T, f *fixture) {
	s := f.section("Brass", 1)
	r := f.add(reading(s.Chairs[0].ID, "n", 1, t0))[0]
	if r.ID == 0 {
		t.Error("reading has no ID")
	}
	bare := hub.Reading{Chair: s.Chairs[0].ID, Node: "n", Boot: "b1", At: t0.Add(time.Second), Wire: proto.Reading{Sequence: 2}}
	bare = f.add(bare)[0]
	same(t, must(f.Readings(t.Context(), s.ID, time.Time{})), []hub.Reading{r, bare})
}

func testFigures(t *testing.T, f *fixture) {
	s, winds := f.section("Brass", 2), f.section("Winds", 1)
	judged := reading(s.Chairs[0].ID, "n", 1, t0.Add(time.Hour))
	watched := reading(s.Chairs[1].ID, "n", 2, t0)
	watched.Counted, watched.Verdict, watched.Why, watched.Wire.Second = false, "", hub.WhyWatch, nil
	restless, unasked := watched, watched
	restless.Wire.Sequence, restless.Wire.Settled = 3, false
	unasked.Wire.Sequence, unasked.Why = 4, "early"
	counted := judged
	counted.Wire.Sequence, counted.Verdict = 5, ""
	f.add(judged, watched, restless, unasked, counted, reading(winds.Chairs[0].ID, "m", 1, t0))
	want := []hub.Figures{
		{Chair: s.Chairs[1].ID, At: t0, Watch: true, Note: 58, Cents: -0.25, Hz: 233.0819, Level: -20.5, Early: 2.5, Drift: -0.25, Middle: 0.75, Played: 321, Second: math.Inf(-1)},
		{Chair: s.Chairs[0].ID, At: t0.Add(time.Hour), Note: 58, Cents: -0.25, Hz: 233.0819, Level: -20.5, Early: 2.5, Drift: -0.25, Middle: 0.75, Played: 321, Second: -8},
	}
	same(t, must(f.Figures(t.Context(), s.ID, time.Time{})), want)
	same(t, must(f.Figures(t.Context(), s.ID, t0.Add(1))), want[1:])
	muted, odd := judged, judged
	muted.Wire.Sequence, muted.Wire.Mute, muted.Counted, muted.Verdict, muted.Why = 6, "cup", false, "doubt", hub.WhyMuted
	odd.Wire.Sequence, odd.Wire.Mute = 7, "of a later version"
	f.add(muted, odd)
	with := want[1]
	with.Mute = slide.Cup
	other := want[1]
	other.Mute = slide.OtherOne
	same(t, must(f.Figures(t.Context(), s.ID, t0.Add(1))), []hub.Figures{want[1], with, other})
	unasked = must(f.Readings(t.Context(), s.ID, time.Time{}))[2]
	unasked.Why = hub.WhyWatch // what the hub makes of a reading changes its figures
	ok(t, f.SaveReading(t.Context(), unasked))
	if n := len(must(f.Figures(t.Context(), s.ID, time.Time{}))); n != 5 {
		t.Errorf("%d figures after a reading was taken for one of a watch, want 5", n)
	}
}

func testAnswers(t *testing.T, f *fixture) {
	s, other := f.section("Brass", 2), f.section("Winds", 1)
	asked := reading(s.Chairs[0].ID, "n", 1, t0.Add(time.Hour))
	asked.Round = 3
	before, elsewhere := asked, reading(other.Chairs[0].ID, "m", 1, t0)
	before.Wire.Sequence, before.At, elsewhere.Round = 2, t0, 3
	got := f.add(asked, before, reading(s.Chairs[1].ID, "n", 3, t0), elsewhere)
	same(t, must(f.Answers(t.Context(), s.ID, time.Time{})), []hub.Reading{got[1], got[0]})
	same(t, must(f.Answers(t.Context(), s.ID, t0.Add(1))), got[:1])
}

func testRepeat(t *testing.T, f *fixture) {
	s := f.section("Brass", 1)
	first := f.add(reading(s.Chairs[0].ID, "n", 1, t0))[0]
	again := reading(s.Chairs[0].ID, "n", 1, t0.Add(time.Hour))
	again.Cents = 99
	got := f.add(again, reading(s.Chairs[0].ID, "n", 2, t0))
	same(t, got[0], first)
	if got[1].ID == first.ID || got[1].ID == 0 {
		t.Errorf("the next reading has ID %d", got[1].ID)
	}
	if n := len(must(f.Readings(t.Context(), s.ID, time.Time{}))); n != 2 {
		t.Errorf("%d readings stored, want 2", n)
	}
	other := reading(s.Chairs[0].ID, "n", 1, t0)
	other.Boot = "b2" // another start of the node numbers from 1 again
	if got := f.add(other)[0]; got.ID == first.ID {
		t.Error("a reading of another boot was taken for a repeat")
	}
}

func testRepeatInBatch(t *testing.T, f *fixture) {
	s := f.section("Brass", 1)
	r := reading(s.Chairs[0].ID, "n", 1, t0)
	got := f.add(r, r, r)
	if got[0].ID == 0 || got[1].ID != got[0].ID || got[2].ID != got[0].ID {
		t.Errorf("IDs %d, %d, %d, want one", got[0].ID, got[1].ID, got[2].ID)
	}
}

func testSaveReading(t *testing.T, f *fixture) {
	s := f.section("Brass", 1)
	r := f.add(reading(s.Chairs[0].ID, "n", 1, t0))[0]
	change := r
	change.Round, change.Note, change.Target, change.Cents = 4, 60, 261, 3
	change.Counted, change.Why, change.Verdict, change.Answer, change.Heard = false, "two", "doubt", nil, nil
	want := change
	change.Node, change.Boot, change.At, change.Wire = "x", "y", t0.Add(time.Hour), proto.Reading{Sequence: 12}
	ok(t, f.SaveReading(t.Context(), change))
	same(t, must(f.Readings(t.Context(), s.ID, time.Time{})), []hub.Reading{want})
}

func testStored(t *testing.T, f *fixture) {
	s := f.section("Brass", 1)
	c := s.Chairs[0].ID
	for _, step := range []struct {
		seq  uint64
		want uint64
	}{{2, 0}, {1, 2}, {5, 2}, {4, 2}, {3, 5}, {6, 6}} {
		f.add(reading(c, "n", step.seq, t0))
		if got := must(f.Stored(t.Context(), "n", "b1")); got != step.want {
			t.Errorf("after sequence %d: stored %d, want %d", step.seq, got, step.want)
		}
	}
	if got := must(f.Stored(t.Context(), "n", "b2")); got != 0 {
		t.Errorf("another boot: stored %d, want 0", got)
	}
}

func testStoredAfterDeletion(t *testing.T, f *fixture) {
	s := f.section("Brass", 2)
	a, b := s.Chairs[0].ID, s.Chairs[1].ID
	f.add(reading(a, "n", 1, t0), reading(a, "n", 2, t0), reading(b, "m", 1, t0))
	ok(t, f.DeletePlayer(t.Context(), a))
	ok(t, f.Forget(t.Context(), t0.Add(time.Minute)))
	for node, want := range map[string]uint64{"n": 2, "m": 1} {
		if got := must(f.Stored(t.Context(), node, "b1")); got != want {
			t.Errorf("node %s: stored %d after deletion, want %d: the node would wait for ever", node, got, want)
		}
	}
	f.add(reading(b, "n", 3, t0.Add(time.Hour)))
	if got := must(f.Stored(t.Context(), "n", "b1")); got != 3 {
		t.Errorf("stored %d after the next reading, want 3", got)
	}
	f.add(reading(b, "n", 2, t0.Add(time.Hour)))
	if got := must(f.Readings(t.Context(), s.ID, time.Time{})); len(got) != 1 {
		t.Errorf("%d readings, want 1: what was deleted came back with a repeat", len(got))
	}
}

func testSince(t *testing.T, f *fixture) {
	s := f.section("Brass", 1)
	c := s.Chairs[0].ID
	for i := range 3 {
		at := t0.Add(time.Duration(i))
		f.add(reading(c, "n", uint64(3-i), at))
		must(f.SaveRound(t.Context(), hub.Round{Section: s.ID, Started: at}))
		must(f.SaveMove(t.Context(), hub.MoveRecord{Chair: c, At: at}))
		ok(t, f.AddSetting(t.Context(), hub.SettingRecord{Chair: c, At: at, Slide: instrument.Main}))
	}
	since := t0.Add(1)
	a, b := must(f.Readings(t.Context(), s.ID, since)), must(f.Rounds(t.Context(), s.ID, since))
	m, set := must(f.Moves(t.Context(), s.ID, since)), must(f.Settings(t.Context(), s.ID, since))
	if len(a) != 2 || len(b) != 2 || len(m) != 2 || len(set) != 2 {
		t.Errorf("%d readings, %d rounds, %d moves, %d settings since the second of three, want 2 of each", len(a), len(b), len(m), len(set))
	}
	if !a[0].At.Equal(since) || a[1].At.Before(a[0].At) {
		t.Errorf("readings at %v and %v, want oldest first", a[0].At, a[1].At)
	}
}

func testApart(t *testing.T, f *fixture) {
	a, b := f.section("A", 1), f.section("B", 1)
	f.add(reading(a.Chairs[0].ID, "n", 1, t0))
	must(f.SaveRound(t.Context(), hub.Round{Section: a.ID, Started: t0}))
	must(f.SaveMove(t.Context(), hub.MoveRecord{Chair: a.Chairs[0].ID, At: t0}))
	ok(t, f.AddSetting(t.Context(), hub.SettingRecord{Chair: a.Chairs[0].ID, At: t0}))
	n := len(must(f.Readings(t.Context(), b.ID, time.Time{}))) + len(must(f.Rounds(t.Context(), b.ID, time.Time{}))) +
		len(must(f.Moves(t.Context(), b.ID, time.Time{}))) + len(must(f.Settings(t.Context(), b.ID, time.Time{})))
	if n != 0 {
		t.Errorf("%d records of another section", n)
	}
}

func testMoves(t *testing.T, f *fixture) {
	s := f.section("Brass", 1)
	m := hub.MoveRecord{Chair: s.Chairs[0].ID, Round: 2, Reading: 3, At: t0, Slide: instrument.Third, FromMM: 1.5, ToMM: 7, Expected: -9.5}
	m = must(f.SaveMove(t.Context(), m))
	if m.ID == 0 {
		t.Error("move has no ID")
	}
	for _, assumed := range []bool{true, false} {
		m.Done, m.Assumed, m.Withdrawn, m.Measured, m.FollowThrough = t0.Add(time.Second), assumed, !assumed, -3, "held"
		must(f.SaveMove(t.Context(), m))
		same(t, must(f.Moves(t.Context(), s.ID, t0)), []hub.MoveRecord{m})
	}
	m.ID, m.At = 0, t0.Add(time.Minute) // a new one with all its figures
	m = must(f.SaveMove(t.Context(), m))
	same(t, must(f.Moves(t.Context(), s.ID, m.At)), []hub.MoveRecord{m})
}

func testSettings(t *testing.T, f *fixture) {
	s := f.section("Brass", 1)
	var want []hub.SettingRecord
	for i, src := range []string{"start", "player", "move", "leader"} {
		r := hub.SettingRecord{Chair: s.Chairs[0].ID, At: t0.Add(time.Duration(i) * time.Second), Slide: instrument.Main, From: 2.25, MM: float64(i) + 0.5, Source: src}
		ok(t, f.AddSetting(t.Context(), r))
		want = append(want, r)
	}
	same(t, must(f.Settings(t.Context(), s.ID, t0)), want)
}

func testDelete(t *testing.T, f *fixture) {
	ctx := t.Context()
	s := f.section("Brass", 2)
	gone, stays := s.Chairs[0].ID, s.Chairs[1].ID
	for i, c := range []hub.ChairID{gone, stays} {
		f.add(reading(c, fmt.Sprint("n", i), 1, t0))
		must(f.SaveMove(ctx, hub.MoveRecord{Chair: c, At: t0}))
		ok(t, f.AddSetting(ctx, hub.SettingRecord{Chair: c, At: t0}))
		ok(t, f.Enrol(ctx, hub.NodeRecord{Node: fmt.Sprint("n", i), Section: s.ID, Chair: c, Enrolled: t0}))
	}
	must(f.SaveRound(ctx, hub.Round{Section: s.ID, Started: t0, Queue: []hub.ChairID{gone, stays}, After: map[hub.ChairID]int64{gone: 1},
		Call: hub.Call{Tones: map[hub.ChairID]pitch.Note{gone: 58, stays: 60}}}))
	ok(t, f.DeletePlayer(ctx, gone))
	if got := must(f.Sections(ctx))[0].Chairs; len(got) != 1 || got[0].ID != stays {
		t.Errorf("chairs left: %v", got)
	}
	if a, m, set := must(f.Readings(ctx, s.ID, time.Time{})), must(f.Moves(ctx, s.ID, time.Time{})), must(f.Settings(ctx, s.ID, time.Time{})); len(a) != 1 || len(m) != 1 || len(set) != 1 {
		t.Errorf("%d readings, %d moves, %d settings left, want those of the other chair", len(a), len(m), len(set))
	}
	if _, err := f.Node(ctx, "n0"); !errors.Is(err, hub.ErrNotFound) {
		t.Errorf("the deleted player's node: error %v, want ErrNotFound", err)
	}
	r := must(f.Rounds(ctx, s.ID, time.Time{}))[0]
	if _, in := r.Call.Tones[gone]; in || slices.Contains(r.Queue, gone) || len(r.After) != 0 {
		t.Errorf("the round still knows the deleted player: %+v", r)
	}
	ok(t, f.DeletePlayer(ctx, gone)) // again: harmless
}

func testForget(t *testing.T, f *fixture) {
	ctx := t.Context()
	s := f.section("Brass", 1)
	c := s.Chairs[0].ID
	for i := range 4 {
		at := t0.Add(time.Duration(i) * time.Hour)
		f.add(reading(c, "n", uint64(i+1), at))
		must(f.SaveRound(ctx, hub.Round{Section: s.ID, Started: at}))
		must(f.SaveMove(ctx, hub.MoveRecord{Chair: c, At: at}))
		ok(t, f.AddSetting(ctx, hub.SettingRecord{Chair: c, At: at}))
	}
	ok(t, f.Forget(ctx, t0.Add(2*time.Hour)))
	for name, n := range map[string]int{
		"readings": len(must(f.Readings(ctx, s.ID, time.Time{}))), "rounds": len(must(f.Rounds(ctx, s.ID, time.Time{}))),
		"moves": len(must(f.Moves(ctx, s.ID, time.Time{}))), "settings": len(must(f.Settings(ctx, s.ID, time.Time{}))),
	} {
		if n != 2 {
			t.Errorf("%d %s left, want 2", n, name)
		}
	}
	if len(must(f.Sections(ctx))) != 1 {
		t.Error("the section was forgotten too")
	}
}

func testValues(t *testing.T, f *fixture) {
	for _, v := range []string{"one", "", "two'; --"} {
		ok(t, f.SetValue(t.Context(), "k", v))
		same(t, must(f.Value(t.Context(), "k")), v)
	}
}

func testNoSharing(t *testing.T, f *fixture) {
	s := f.section("Brass", 1)
	before := must(f.Sections(t.Context()))
	s.Chairs[0].Settings[instrument.Main] = 99
	s.Chairs[0].Label = "changed"
	must(f.Sections(t.Context()))[0].TuningNotes[0] = 1
	same(t, must(f.Sections(t.Context())), before)

	r := f.add(reading(s.Chairs[0].ID, "n", 1, t0))[0]
	r.Answer.Steps[0].ToMM, r.Answer.Chord.Resort.Steps[0].ToMM, r.Wire.Vibrato.RateHz = 99, 99, 0
	if got := must(f.Readings(t.Context(), s.ID, t0))[0]; got.Answer.Steps[0].ToMM == 99 || got.Answer.Chord.Resort.Steps[0].ToMM == 99 || got.Wire.Vibrato.RateHz == 0 {
		t.Error("a reading changed from outside")
	}
}

func testConcurrent(t *testing.T, f *fixture) {
	const writers, each = 8, 25
	s := f.section("Brass", writers)
	ctx := t.Context()
	var wg sync.WaitGroup
	errs := make(chan error, writers)
	for w := range writers {
		wg.Go(func() {
			for i := range each {
				c := s.Chairs[w].ID
				_, err := f.AddReadings(ctx, []hub.Reading{reading(c, fmt.Sprint("n", w), uint64(i+1), t0)})
				if err == nil {
					_, err = f.SaveMove(ctx, hub.MoveRecord{Chair: c, At: t0})
				}
				if err == nil {
					_, err = f.Stored(ctx, fmt.Sprint("n", w), "b1")
				}
				if err != nil {
					errs <- err
					return
				}
			}
		})
	}
	wg.Wait()
	close(errs)
	for err := range errs {
		t.Error(err)
	}
	if n := len(must(f.Readings(ctx, s.ID, time.Time{}))); n != writers*each {
		t.Errorf("%d readings, want %d", n, writers*each)
	}
}

func testCommit(t *testing.T, f *fixture) {
	ctx := t.Context()
	s := hub.Section{ID: 4, Name: "Quay", Good: 5, Near: 10, TuningNotes: []pitch.Note{70}, Chairs: []hub.Chair{{ID: 20, Label: "Horn 1", Instrument: "horn_f"}}}
	second := hub.Chair{ID: 21, Label: "Horn 2", Instrument: "horn_f"}
	r := reading(20, "n", 1, t0)
	r.ID, r.Round = 31, 30
	told := r.Clone()
	told.Counted, told.Verdict = true, "near"
	round := hub.Round{ID: 30, Section: 4, Started: t0, Call: hub.Call{Kind: hub.CallNote, Note: 70}}
	move := hub.MoveRecord{ID: 32, Chair: 20, Round: 30, Reading: 31, At: t0, Slide: instrument.Main, ToMM: 4}
	setting := hub.SettingRecord{Chair: 21, At: t0, Slide: instrument.Main, MM: 4, Source: hub.SourceLeader}
	node := hub.NodeRecord{Node: "n", Section: 4, Chair: 20, TokenHash: []byte{1}, Enrolled: t0}
	ok(t, f.Commit(ctx, []hub.Change{
		hub.SectionChange{Is: &s}, hub.ChairChange{Section: 4, Is: &second}, hub.RoundChange{Is: &round}, hub.ReadingChange{Is: &r},
		hub.ReadingChange{Is: &r}, hub.ReadingChange{Was: &r, Is: &told}, hub.MoveChange{Is: &move}, hub.SettingAdded{Is: setting},
		hub.NodeChange{Is: node}, hub.ValueChange{Key: "k", Is: "v"},
	}))
	if got := must(f.Sections(ctx)); len(got) != 1 || len(got[0].Chairs) != 2 || got[0].Chairs[1].ID != 21 {
		t.Errorf("sections %+v, need one of two chairs", got)
	}
	if got := must(f.Answers(ctx, 4, t0)); len(got) != 1 || got[0].ID != 31 || got[0].Verdict != "near" {
		t.Errorf("readings %+v, need the one as it was judged", got)
	}
	if got := must(f.Rounds(ctx, 4, t0)); len(got) != 1 || got[0].ID != 30 {
		t.Errorf("rounds %+v", got)
	}
	if got := must(f.Moves(ctx, 4, t0)); len(got) != 1 || got[0] != move {
		t.Errorf("moves %+v, need %+v", got, move)
	}
	if got := must(f.Settings(ctx, 4, t0)); len(got) != 1 || got[0] != setting {
		t.Errorf("settings %+v, need %+v", got, setting)
	}
	same(t, must(f.Node(ctx, "n")), node)
	same(t, must(f.Value(ctx, "k")), "v")
}

func testAllOrNone(t *testing.T, f *fixture) {
	ctx := t.Context()
	stray := reading(7777, "n", 1, t0)
	stray.ID = 99
	for name, bad := range map[string]hub.Change{
		"a chair of no section":            hub.ChairChange{Section: 77, Is: &hub.Chair{ID: 5}},
		"what was made of an unknown note": hub.ReadingChange{Was: &stray, Is: &stray},
	} {
		if err := f.Commit(ctx, []hub.Change{hub.ValueChange{Key: "half", Is: "v"}, bad}); !errors.Is(err, hub.ErrNotFound) {
			t.Errorf("%s: error %v, need ErrNotFound", name, err)
		}
		if v, err := f.Value(ctx, "half"); !errors.Is(err, hub.ErrNotFound) {
			t.Errorf("%s: what went before it is stored: %q (%v)", name, v, err)
		}
	}
}
