package tuneup_test

import (
	"context"
	"math"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/hub/intonation"
	"bellrow/hub/mem"
	"bellrow/hub/piece"
	"bellrow/hub/show"
	"bellrow/hub/tuneup"
	"bellrow/proto/pitch"
)

// rig is a state with a store that takes its changes, as a session runs it.
type rig struct {
	t      testing.TB
	state  *tuneup.State
	now    time.Time
	steps  [][]hub.Change        // each committed as one
	gone   map[int][]hub.ChairID // players erased after so many commits
	fit    *tuneup.Fit           // to be solved
	wake   time.Time
	record string // of the state after the last step
}

var start = time.Date(2026, 3, 2, 19, 0, 0, 0, time.UTC)

func newRig(t testing.TB) *rig {
	r := &rig{t: t, now: start, gone: map[int][]hub.ChairID{}}
	sec := hub.Section{
		ID: 1, Name: "Quay", Reference: pitch.Reference{A4: pitch.StandardA4}, Good: intonation.DefaultGood, Near: intonation.DefaultWatch,
		Order: hub.OrderLowToHigh, TuningNotes: []pitch.Note{70, 65, 69},
	}
	r.steps = append(r.steps, []hub.Change{hub.SectionChange{Is: &sec}})
	r.state = r.load(len(r.steps))
	return r
}

// load takes up what is stored after so many commits.
func (r *rig) load(commits int) *tuneup.State {
	r.t.Helper()
	ctx := context.Background()
	store := mem.New()
	for i, changes := range r.steps[:commits] {
		if err := store.Commit(ctx, changes); err != nil {
			r.t.Fatal(err)
		}
		for _, id := range r.gone[i+1] {
			if err := store.DeletePlayer(ctx, id); err != nil {
				r.t.Fatal(err)
			}
		}
	}
	sections, err := store.Sections(ctx)
	if err != nil {
		r.t.Fatal(err)
	}
	rec := tuneup.Records{Section: sections[0]}
	since := r.now.Add(-tuneup.Longest)
	rec.Rounds, _ = store.Rounds(ctx, 1, since) // a store in memory never fails
	rec.Readings, _ = store.Answers(ctx, 1, since)
	rec.Moves, _ = store.Moves(ctx, 1, since)
	rec.Settings, _ = store.Settings(ctx, 1, since)
	rec.Begun, _ = store.Value(ctx, hub.OfSection(hub.ValueBegun, 1))
	rec.Watched, _ = store.Value(ctx, hub.OfSection(hub.ValueWatch, 1))
	next, _ := store.Value(ctx, hub.ValueNextID)
	rec.NextID, _ = strconv.ParseInt(next, 10, 64)
	if packed, err := store.Value(ctx, hub.OfSection(hub.ValuePiece, 1)); err == nil && packed != "" {
		state, _ := store.Value(ctx, hub.OfSection(hub.ValuePieceState, 1))
		if rec.Piece, err = piece.Unpack(packed, state); err != nil {
			r.t.Fatal(err)
		}
	}
	s, out := tuneup.New(rec, r.now)
	if commits == len(r.steps) {
		r.take(out)
	}
	return s
}

func (r *rig) take(out tuneup.Outcome) {
	if len(out.Changes) > 0 {
		r.steps = append(r.steps, out.Changes)
	}
	if out.Fit != nil {
		r.fit = out.Fit
	}
	r.wake = out.Wake
}

// step takes an event and checks what must hold after every one.
func (r *rig) step(e tuneup.Event) (tuneup.Outcome, error) {
	r.t.Helper()
	if r.record == "" {
		r.record = r.state.Record()
	}
	before, moment := r.record, r.state.Moment()
	out, err := r.state.Step(r.now, e)
	r.take(out)
	r.record = r.state.Record()
	if err != nil && (len(out.Changes) > 0 || r.record != before || !reflect.DeepEqual(r.state.Moment(), moment)) {
		r.t.Fatalf("%T %+v failed (%v) and changed something: %s", e, e, err, differs(r.record, before))
	}
	if len(out.Changes) == 0 && r.record != before {
		r.t.Fatalf("%T %+v changed the record and told nobody: %s", e, e, differs(r.record, before))
	}
	if e, erased := e.(tuneup.Erased); erased {
		r.gone[len(r.steps)] = append(r.gone[len(r.steps)], e.Chair)
	}
	r.sound()
	return out, err
}

// sound checks what holds at any time.
func (r *rig) sound() {
	r.t.Helper()
	st := r.state.Standing(r.now)
	if again := r.state.Standing(r.now); !reflect.DeepEqual(st, again) {
		r.t.Fatal("looking twice shows two things")
	}
	var asked []*tuneup.Chair
	for i := range st.Chairs {
		c := &st.Chairs[i]
		if c.State == tuneup.Asked {
			asked = append(asked, c)
		}
		if c.Holds != nil && c.Holds.Verdict == intonation.Set && !(c.Holds.Counted && (c.Holds.Wire.Settled || c.Holds.Heard != nil)) {
			r.t.Fatalf("%s is set without a reading that says so: %+v", c.Label, c.Holds)
		}
		show.NewView(st, c)
	}
	if run := st.Round; run != nil {
		if !run.AllAtOnce() && !canBeToldApart(run, asked) {
			r.t.Fatalf("%d chairs are asked in a turn", len(asked))
		}
		for i, id := range run.Queue {
			if _, part := run.Call.Tones[id]; !part || slices.Contains(run.Queue[:i], id) {
				r.t.Fatalf("queue %v with tones %v", run.Queue, run.Call.Tones)
			}
		}
	}
	row := show.NewRow(st, 1, nil)
	for i := range st.Chairs { // the leader sees what is still to be moved as long as the player does
		c := &st.Chairs[i]
		if v := show.NewView(st, c); c.Open != nil && v.Answer != nil && len(v.Answer.Moves) > 0 && len(row.Chairs[i].Moves) == 0 {
			r.t.Fatalf("%s is to move %+v, and the row does not say so: %+v", c.Label, v.Answer.Moves, row.Chairs[i])
		}
	}
	set := 0
	for i, c := range row.Chairs {
		if c.Verdict == string(intonation.Set) && c.State != "absent" {
			set++
		}
		if v := show.NewView(st, &st.Chairs[i]); v.Answer != nil && v.Answer.Code == "once-more" && v.Answer.Next != "" && st.Chairs[i].State == tuneup.Heard {
			r.t.Fatalf("%s is told %q, and nobody will ask for it", c.Label, v.Answer.Next)
		}
	}
	if set != row.Section.Set {
		r.t.Fatalf("the row counts %d chairs set and shows %d", row.Section.Set, set)
	}
	show.NewSummary(st)
}

// replays checks that a restart after so many commits finds the state that was
// reached then.
func (r *rig) replays(commits int, record string) {
	r.t.Helper()
	again := r.load(commits)
	if got := again.Record(); got != record {
		r.t.Fatalf("after %d commits a restart finds %s", commits, differs(got, record))
	}
}

// differs shows where two records part, with some lines around.
func differs(got, want string) string {
	g, w := strings.Split(got, "\n"), strings.Split(want, "\n")
	k := 0
	for k < len(g) && k < len(w) && g[k] == w[k] {
		k++
	}
	around := func(lines []string) string { return strings.Join(lines[max(0, k-12):min(len(lines), k+6)], "\n") }
	return around(g) + "\nneed\n" + around(w)
}

// canBeToldApart reports whether those who are asked at once are heard each by
// their own laptop: two at most, octaves apart, and not side by side.
func canBeToldApart(run *tuneup.Round, asked []*tuneup.Chair) bool {
	if len(asked) < 2 {
		return true
	}
	a, b := asked[0], asked[1]
	return len(asked) == 2 && run.ByWorth && math.Abs(float64(a.Note-b.Note)) >= 10 &&
		(a.Row != b.Row || math.Abs(float64(a.Place-b.Place)) > 1)
}
