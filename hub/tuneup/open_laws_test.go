package tuneup

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/hub/attribute"
	"bellrow/hub/piece"
	"bellrow/hub/slide"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
	"bellrow/proto/track"
)

// TestEarlierDaysDoNotMindTheOrderOfChairs: a section is the same in whatever order its chairs are listed, and each
// chair's earlier days tell by how much its note lies off by nature.
func TestEarlierDaysDoNotMindTheOrderOfChairs(t *testing.T) {
	r := past(6, func(d int) pitch.Cents { return pitch.Cents(2 * d) }, func(c int) pitch.Cents { return pitch.Cents(3 * c) }, 1)
	trumpet, _ := instrument.Find("trumpet_bb")
	const low = pitch.Note(62) // the trumpet's written E4, on the first two valves
	for i := range r.Readings {
		r.Readings[i].Note = low
	}
	far := slide.Clear(trumpet, low, instrument.Path{}, 0)
	if math.Abs(float64(far)) < 1 {
		t.Fatalf("%v is in tune by nature, and shows nothing", low)
	}
	is := r.earlier(Beginning{At: evening})
	for turn := range r.Section.Chairs {
		o := r
		o.Section.Chairs = slices.Concat(r.Section.Chairs[turn:], r.Section.Chairs[:turn])
		for id, e := range o.earlier(Beginning{At: evening}) {
			if got, want := fmt.Sprintf("%+v", e), fmt.Sprintf("%+v", is[id]); got != want {
				t.Fatalf("chair %d, listed otherwise: %s, want %s", id, got, want)
			}
			for _, d := range e.days {
				if id == 1 && math.Abs(float64(d.Theory+far)) > 1e-9 {
					t.Errorf("chair 1 is taken to lie %+.2f cents off by nature, want %+.2f", float64(d.Theory), -float64(far))
				}
			}
		}
	}
}

// TestAMuteIsLearnedOnAnyNote: what a mute does is learned however many ways there are to play the note.
func TestAMuteIsLearnedOnAnyNote(t *testing.T) {
	trumpet, _ := instrument.Find("trumpet_bb")
	ways := map[int]bool{}
	for n := trumpet.Low; n <= trumpet.High; n++ {
		k := len(trumpet.Paths(n))
		if k == 0 || ways[k] {
			continue
		}
		ways[k] = true
		r := past(6, func(int) pitch.Cents { return 0 }, func(int) pitch.Cents { return 0 }, 0)
		for i := range r.Readings {
			r.Readings[i].Note = n
		}
		if m := r.earlier(Beginning{At: evening})[1].mutes[slide.Cup]; !m.Sure() || math.Abs(float64(m.Cents)-9) > 1 {
			t.Errorf("%v, %d ways: the cup mute does %+v, want 9 cents", n, k, m)
		}
	}
	if !ways[1] || len(ways) < 2 {
		t.Errorf("notes have %v ways", ways)
	}
}

// seatedAt is a state with players in one row, each with tracks and beside an empty place, and a round of the tuning
// note: together where the order is from low to high.
func seatedAt(t *testing.T, order hub.Order, in ...instrument.ID) (*State, *hub.Round) {
	t.Helper()
	s, _ := New(Records{Section: hub.Section{ID: 1, Name: "Quay", Reference: pitch.Reference{A4: 440}, Good: 5, Near: 15, Order: order, TuningNotes: []pitch.Note{70}}}, evening)
	step := func(e Event) {
		if _, err := s.Step(evening, e); err != nil {
			t.Fatal(err)
		}
	}
	for i, id := range in {
		step(Joined{Peer: hub.Peer{Node: fmt.Sprint("n", i), Boot: "b", Chair: fmt.Sprint("P", i), Instrument: id, Tracks: true}})
	}
	section := s.Section()
	for i := range section.Chairs {
		section.Chairs[i].Row, section.Chairs[i].Place = 0, 2*i
	}
	step(Command{Do: hub.DoEdit, Section: &section})
	step(Command{Do: hub.DoCall, Call: &hub.Call{Note: 70, Together: order == hub.OrderLowToHigh}})
	return s, s.running()
}

// TestGroupsAreOfThreeAtLeast: fewer than three, or laptops too few to tell whom they hear, make no groups, nor does a
// chord that was held again. A group that is passed over takes nobody else along.
func TestGroupsAreOfThreeAtLeast(t *testing.T) {
	s, run := seatedAt(t, hub.OrderLowToHigh, slices.Repeat([]instrument.ID{"trumpet_bb"}, 8)...)
	seats := slices.Clone(run.Queue)
	slices.Sort(seats)
	left := seats[:6]
	run.Queue, run.Groups = slices.Clone(left[:4]), [][]hub.ChairID{{left[0], left[2]}}
	if s.passOver(run); !slices.Equal(run.Queue, []hub.ChairID{left[1], left[3]}) {
		t.Errorf("the last group passed over leaves %v of %v", run.Queue, left[:4])
	}
	run.Groups = nil
	for n := range 5 {
		run.Queue = left[:n]
		if got := len(s.smallGroups(run)) > 0; got != (n >= 3) {
			t.Errorf("of %d left groups are made: %v", n, got)
		}
	}
	run.Queue = left
	if run.Held = 1; s.smallGroups(run) != nil {
		t.Error("a chord that was held once more is heard in groups")
	}
	run.Held = 0
	for _, id := range seats[attribute.FewLaptops:] {
		s.seats[id].tracks = false
	}
	run.Queue = seats[:attribute.FewLaptops]
	if s.smallGroups(run) != nil {
		t.Errorf("%d laptops are heard in groups", attribute.FewLaptops)
	}
}

// TestWarmthStalesTheOrder: as an instrument becomes warmer the order of turns is looked at again, every half minute of
// sound and not sooner.
func TestWarmthStalesTheOrder(t *testing.T) {
	s, _ := seatedAt(t, hub.OrderLowToHigh, "trumpet_bb")
	id, was := s.chairs[0].ID, 0
	for _, played := range []int{1, 14, 16, 29, 30, 31, 44, 46, 59, 60, 119, 120, 121} {
		s.believed.stale = false
		s.Step(evening, Sound{Chair: id, State: proto.State{State: "sounding", Played: float64(played)}})
		if want := played/30 != was/30; s.believed.stale != want {
			t.Errorf("from %d to %d s the order is stale %v", was, played, s.believed.stale)
		}
		was = played
	}
}

// TestWhoPinchedIsTold: in a round by worth who has pinched a note hears so with the next, and nobody else does. The
// chances that chairs are outside the band add up to how many of them are expected to be, and a note in tune by somebody
// steady makes that chance less.
func TestWhoPinchedIsTold(t *testing.T) {
	for _, pinches := range []bool{false, true} {
		s, _ := seatedAt(t, hub.OrderByWorth, "trumpet_bb", "trumpet_bb", "horn_f")
		now, seq, tells := evening, uint64(0), 0
		for range 9 {
			st := s.Standing(now)
			if st.Round == nil || st.Round.Asked == 0 {
				break
			}
			id := st.Round.Asked
			c := st.Chairs[slices.IndexFunc(st.Chairs, func(c Chair) bool { return c.ID == id })]
			seq++
			now = now.Add(10 * time.Second)
			w := proto.Reading{Sequence: seq, Round: int64(st.Round.ID), Hz: c.Target.Shift(3), CI95: 0.5, Spread: 1, Level: -20, Floor: -60, Settled: true, Played: 900, Start: 100, End: 102, Onset: 99.5}
			if pinches && c.InRound == nil && c.Holds == nil {
				w.Hz, w.Early, w.Drift = c.Target.Shift(9), 12, -4
			}
			node, _ := s.Node(id)
			if _, err := s.Step(now, Reading{Chair: id, Node: node, Boot: "b", Wire: w}); err != nil {
				t.Fatal(err)
			}
			st = s.Standing(now)
			sum := 0.0
			for _, c := range st.Chairs {
				sum += c.Outside
				if (c.Outside > 0) != s.believed.knows(c.ID) || c.Outside > 1 {
					t.Errorf("%s is outside by a chance of %g", c.Label, c.Outside)
				}
				if r := c.InRound; r != nil && r.Answer != nil && r.Counted && r.Answer.Facts.Pinched {
					tells++
				}
			}
			if st.Round != nil && st.Round.Phase != Done && math.Abs(sum-st.Round.Outside) > 1e-9 {
				t.Errorf("chances of %g, %g chairs expected", sum, st.Round.Outside)
			}
		}
		if (tells > 0) != pinches {
			t.Errorf("pinched %v: told %d times", pinches, tells)
		}
	}
}

// TestAMoveOnANoteThatIsNone: a move after a note that the instrument has not teaches nothing.
func TestAMoveOnANoteThatIsNone(t *testing.T) {
	r := past(6, func(int) pitch.Cents { return 0 }, func(int) pitch.Cents { return 0 }, 1)
	if n := len(r.earlier(Beginning{At: evening})[1].made); n != 1 {
		t.Fatalf("%d moves teach", n)
	}
	for i := range r.Readings {
		r.Readings[i].Note = 1
	}
	if n := len(r.earlier(Beginning{At: evening})[1].made); n != 0 {
		t.Errorf("%d moves teach on a note that is none", n)
	}
}

// TestTwoMakeAChord: what two have played may be taken for a chord, and what one has played may not.
func TestTwoMakeAChord(t *testing.T) {
	for n := 1; n <= 3; n++ {
		s, _ := seatedAt(t, hub.OrderLowToHigh, "trumpet_bb", "trumpet_bb", "trumpet_bb")
		if _, err := s.Step(evening, Command{Do: hub.DoCall, Call: &hub.Call{Kind: hub.CallListen}}); err != nil {
			t.Fatal(err)
		}
		run := s.running()
		for i, c := range s.chairs[:n] {
			node, _ := s.Node(c.ID)
			s.Step(evening, Reading{Chair: c.ID, Node: node, Boot: "b", Wire: proto.Reading{Sequence: 1, Round: int64(run.ID), Hz: pitch.Reference{}.Frequency(pitch.Note(58 + 4*i)), CI95: 0.5, Spread: 1, Level: -20, Floor: -60, Settled: true, Played: 900, Start: 100, End: 102, Onset: 99.5}})
		}
		at := evening.Add(10 * time.Second)
		if out, _ := s.Step(at, Tick{}); out.Fit != nil {
			var res attribute.Result
			for i, c := range out.Fit.Chairs {
				v := attribute.ChairResult{ID: c.ID, Verdict: attribute.Silent}
				if i < n {
					v.Verdict, v.Hz, v.CI95 = attribute.Sounding, pitch.Reference{}.Frequency(pitch.Note(58+4*i)), 0.5
				}
				res.Chairs = append(res.Chairs, v)
			}
			s.Step(at, Fitted{Round: run.ID, Result: res})
		}
		if _, err := s.Step(at, Command{Do: hub.DoChoose, Name: "Bb major"}); (err == nil) != (n > 1) {
			t.Errorf("%d were heard, and a chord is refused: %v", n, err)
		}
	}
}

// TestARefusalHasItsFigures: a name that is too long is refused with its length and the longest that goes.
func TestARefusalHasItsFigures(t *testing.T) {
	for _, n := range []int{proto.MaxName, proto.MaxName + 1, 3 * proto.MaxName} {
		err := checkName(strings.Repeat("é", n))
		if n <= proto.MaxName {
			if err != nil {
				t.Error(err)
			}
		} else if err == nil || !strings.Contains(err.Error(), fmt.Sprint(n)) || !strings.Contains(err.Error(), fmt.Sprint(proto.MaxName)) {
			t.Errorf("%d characters: %v", n, err)
		}
	}
}

// TestWhoWasOverheardAndIsNotAwaited stands there as overheard, and whoever could not be told as unsettled.
func TestWhoWasOverheardAndIsNotAwaited(t *testing.T) {
	s, run := seatedAt(t, hub.OrderLowToHigh, "trumpet_bb", "trumpet_bb")
	run.Queue = nil
	for why, want := range map[hub.Reason]ChairState{hub.WhyOverheard: Overheard, hub.WhyUnclear: Unsettled} {
		st := s.seats[s.chairs[0].ID]
		st.inRound = &hub.Reading{Chair: st.id(), Round: run.ID, Why: why}
		if got := s.Standing(evening).Chairs[0].State; got != want {
			t.Errorf("%s: state %v, want %v", why, got, want)
		}
	}
}

// TestOwnMovesTeachWhereNoDayDid: without earlier days a player's moves of this tune-up tell what a millimetre does, with
// them those days do.
func TestOwnMovesTeachWhereNoDayDid(t *testing.T) {
	s, _ := seatedAt(t, hub.OrderLowToHigh, "trumpet_bb")
	st := s.seats[s.chairs[0].ID]
	in := st.instrument()
	note := func(hz pitch.Hertz) slide.Reading {
		return slide.Reading{Hz: hz, CI95: 0.5, Spread: 1, Level: -20, Settled: true, Played: 900}
	}
	target := pitch.Reference{}.Frequency(70)
	mm := 10.0
	st.memory.Answer(slide.Input{Instrument: in, Note: 70, Target: target, Reading: note(target.Shift(30)), Settings: instrument.Settings{instrument.Main: mm}, Purpose: slide.Tuning, Good: 5, Played: 900})
	e := slide.Expect(in, in.Paths(70)[0], nil, instrument.Main, mm, mm+8, slide.Learned{})
	st.memory.Moved(in, nil, instrument.Main, mm, mm+8)
	st.memory.Answer(slide.Input{Instrument: in, Note: 70, Target: target, Reading: note(target.Shift(30 + e)), Settings: instrument.Settings{instrument.Main: mm + 8}, Purpose: slide.Tuning, Good: 5, Played: 900})
	if own := st.memory.Learned(); own.Moves == 0 || s.learned(st) != own {
		t.Errorf("own moves tell %+v, taken is %+v", own, s.learned(st))
	}
	went := slide.Made{Expected: e, Before: note(target.Shift(30)), After: note(target.Shift(30 + 0.8*e))}
	s.past = map[hub.ChairID]earlier{st.id(): {made: []slide.Made{went, went}}}
	if got, days := s.learned(st), slide.Learn(went, went); days.Moves != 2 || got != days || got == st.memory.Learned() {
		t.Errorf("earlier days tell %+v, taken is %+v", days, got)
	}
}

// knows reports whether a chair was heard.
func (b *believed) knows(id hub.ChairID) bool { _, heard := b.chance[id]; return heard }

// TestAGroupOfNobodyIsPassedOver: a group of which nobody is here any more is not waited for, one of whom somebody is, is.
func TestAGroupOfNobodyIsPassedOver(t *testing.T) {
	s, run := seatedAt(t, hub.OrderLowToHigh, slices.Repeat([]instrument.ID{"trumpet_bb"}, 4)...)
	q := slices.Clone(run.Queue)
	for _, id := range q[:2] {
		c := *s.seats[id].chair
		c.Absent = true
		s.seats[id].chair = &c
	}
	run.Groups = [][]hub.ChairID{{q[0], q[1]}, {q[1], q[2]}, {q[3]}}
	if s.nextGroup(run); len(run.Groups) != 2 || run.InTurn {
		t.Errorf("left are %v, in turn %v", run.Groups, run.InTurn)
	}
	run.Groups = [][]hub.ChairID{{q[0], q[1]}}
	if s.nextGroup(run); len(run.Groups) != 0 || !run.InTurn {
		t.Errorf("nobody is here, and left are %v, in turn %v", run.Groups, run.InTurn)
	}
}

// TestFarAndSofterIsOverheard: the pitch that another was just read at, softer, is overheard where it is farther off than
// any tuning error, and else the player's own.
func TestFarAndSofterIsOverheard(t *testing.T) {
	s, run := seatedAt(t, hub.OrderLowToHigh, "trumpet_bb", "trumpet_bb")
	s.askedAt = evening.Add(-time.Minute)
	for _, off := range []pitch.Cents{-130, -119, -61, -59, 0, 59, 61, 100, 119, 130} {
		for _, softer := range []pitch.Level{0, 2.9, 3, 9} {
			hz := pitch.Reference{}.Frequency(70).Shift(off)
			note := func(chair int, level pitch.Level) *hub.Reading {
				return &hub.Reading{Chair: s.chairs[chair].ID, Round: run.ID, At: evening, Cents: off, Wire: proto.Reading{Hz: hz, Level: level, Settled: true, Start: 10, Onset: 10, End: 12}}
			}
			s.readings = []*hub.Reading{note(0, -20)}
			if got, want := s.overheard(note(1, -20-softer)), (off > 60 || off < -60) && softer >= 3; got != want {
				t.Errorf("%+.0f cents off and %g dB softer: overheard %v", float64(off), float64(softer), got)
			}
		}
	}
}

// TestTracksOfAllHurryTheWindow: once as much as is looked at has come of everybody, the hub wakes after the time in which
// the last may come.
func TestTracksOfAllHurryTheWindow(t *testing.T) {
	s, _ := seatedAt(t, hub.OrderLowToHigh, "trumpet_bb", "horn_f")
	now := evening
	for k := range enoughChunks {
		now = now.Add(20 * time.Millisecond) // a burst, so that the window is still open for long
		for i, c := range s.chairs {
			out, _ := s.Step(now, Track{Chair: c.ID, Chunk: track.Chunk{Reference: 58, Rate: 48000}})
			last := k == enoughChunks-1 && i == len(s.chairs)-1
			if soon := out.Wake.Equal(now.Add(linger)); soon != last {
				t.Errorf("stretch %d of chair %d: the hub wakes after %v", k, i, out.Wake.Sub(now))
			}
		}
	}
}

// TestUndoneSettingLeavesOthers: the leader's word that a slide was moved, taken back, opens that move again, and leaves
// what another has moved since.
func TestUndoneSettingLeavesOthers(t *testing.T) {
	s, _ := seatedAt(t, hub.OrderLowToHigh, "trumpet_bb", "trumpet_bb")
	a, b := s.chairs[0].ID, s.chairs[1].ID
	for i, id := range []hub.ChairID{a, b} {
		s.moves = append(s.moves, &hub.MoveRecord{ID: int64(900 + i), Chair: id, Slide: instrument.Main, FromMM: 12, ToMM: 18, At: evening})
	}
	s.derive()
	for _, e := range []Event{Command{Do: hub.DoSetting, Chair: a, Slide: instrument.Main, MM: 18}, Setting{Chair: b, Set: proto.Setting{Slide: instrument.Main, MM: 18}}} {
		if _, err := s.Step(evening.Add(time.Second), e); err != nil {
			t.Fatal(err)
		}
	}
	done := func() (out [2]bool) {
		for _, m := range s.moves {
			out[m.ID-900] = !m.Done.IsZero()
		}
		return out
	}
	if done() != [2]bool{true, true} {
		t.Fatalf("made are %v", done())
	}
	if _, err := s.Step(evening.Add(2*time.Second), Command{Do: hub.DoUndo}); err != nil || done() != [2]bool{false, true} {
		t.Errorf("undone (%v), and made are %v", err, done())
	}
}

// TestNoPitchInAPathIsNone: a path holds a pitch wherever the wire tells one, to either side as far as it can tell any.
func TestNoPitchInAPathIsNone(t *testing.T) {
	for x, pitched := range map[int]bool{-proto.NoPitch: false, 1 - proto.NoPitch: true, 0: true, proto.NoPitch - 1: true, proto.NoPitch: false} {
		if p := pathOf(&proto.Path{Hz: 233, Step: 0.05, Tenths: []int{x}}); p[0].Hz.Valid() != pitched {
			t.Errorf("%d tenths: %+v", x, p)
		}
	}
}

// TestOthersMutesAreTheirs: what a chair's mute does is told by its own notes, and by those alone that were understood.
func TestOthersMutesAreTheirs(t *testing.T) {
	r := past(6, func(int) pitch.Cents { return 0 }, func(int) pitch.Cents { return 0 }, 0)
	want := r.earlier(Beginning{At: evening})[1].mutes[slide.Cup]
	for _, x := range slices.Clone(r.Readings) {
		x.ID, x.Cents = x.ID+5000, 40
		if x.Mute() != slide.Open {
			x.Chair = 2 // whose cup is another
			r.Readings = append(r.Readings, x)
			x.Chair, x.Why = 1, "noise"
			r.Readings = append(r.Readings, x)
		}
	}
	if got := r.earlier(Beginning{At: evening})[1].mutes[slide.Cup]; got != want {
		t.Errorf("the cup does %+v, want %+v", got, want)
	}
}

// TestThePieceIsThereOnceOpened: a piece is there from when it is opened.
func TestThePieceIsThereOnceOpened(t *testing.T) {
	s, _ := seatedAt(t, hub.OrderLowToHigh, "trumpet_bb")
	if p, _, ok := s.Piece(); ok || p != nil {
		t.Errorf("none was opened: %v %v", p, ok)
	}
	s.piece = &piece.Piece{}
	if p, _, ok := s.Piece(); !ok || p != s.piece {
		t.Errorf("one is open: %v %v", p, ok)
	}
}

// TestBesideAnotherAtAnyOctave: of two who play at once, a note that is far from its own is taken for the other's where
// it lies within farCents of theirs in any octave, above and below alike, and no farther.
func TestBesideAnotherAtAnyOctave(t *testing.T) {
	s, run := seatedAt(t, hub.OrderTwoAtOnce, "trumpet_bb", "tuba_bbb")
	one, two := s.chairs[0].ID, s.chairs[1].ID
	s.group = []hub.ChairID{one, two}
	run.Call.Tones[one], run.Call.Tones[two] = 70, 40 // half an octave apart
	for octave := -2; octave <= 2; octave++ {
		for off := pitch.Cents(-100); off <= 100; off += 11 {
			hz := s.section.Reference.Frequency(40).Shift(pitch.Cents(1200*octave) + off)
			r := &hub.Reading{Chair: one, Cents: pitch.Between(s.section.Reference.Frequency(70), hz), Wire: proto.Reading{Hz: hz}}
			if math.Abs(float64(r.Cents)) <= farCents {
				continue
			}
			if got, want := s.besideAnother(r), math.Abs(float64(off)) <= farCents; got != want {
				t.Errorf("%+d octaves and %+g cents from the other's note: taken for theirs %t", octave, float64(off), got)
			}
		}
	}
}

// TestARevisionTakesThePlaceOfOneReading: a reading that is revised is replaced wherever it stands, and no other is.
func TestARevisionTakesThePlaceOfOneReading(t *testing.T) {
	s, _ := seatedAt(t, hub.OrderLowToHigh, "trumpet_bb")
	st := s.seats[s.chairs[0].ID]
	first, last := &hub.Reading{ID: 1, Chair: s.chairs[0].ID}, &hub.Reading{ID: 2, Chair: s.chairs[0].ID}
	s.readings = []*hub.Reading{first, last}
	st.counted, st.inRound = []*hub.Reading{first, last}, last
	a := s.revise(first)
	if st.inRound != last || s.readings[1] != last || st.counted[1] != last {
		t.Error("a revision of the first took the place of the last")
	}
	if a == first || s.readings[0] != a || st.counted[0] != a {
		t.Error("the first is not replaced")
	}
	if b := s.revise(last); b == last || st.inRound != b || s.readings[1] != b || st.counted[1] != b {
		t.Error("the last is not replaced everywhere")
	}
}
