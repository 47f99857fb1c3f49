package tuneup

import (
	"slices"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/hub/piece"
	"bellrow/hub/slide"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
	"bellrow/proto/track"
)

// TestAWideNoteTells: a note that never settled tells where its player stands as long as its laptop says how well it is
// known, be it to less than a cent.
func TestAWideNoteTells(t *testing.T) {
	for ci, nothing := range map[pitch.Cents]bool{0: true, 0.5: false, 1: false, 30: false} {
		r := &hub.Reading{Why: "wide", Wire: proto.Reading{Hz: 233, Reason: "wide", CI95: ci}}
		if tellsNothing(r) != nothing {
			t.Errorf("known to %v: tells nothing %t", ci, !nothing)
		}
	}
}

// TestAChordThatCannotBeRead: a round on record of a chord that this version cannot read is shown and judged by nobody,
// and the next call goes on.
func TestAChordThatCannotBeRead(t *testing.T) {
	sec := hub.Section{ID: 1, Name: "Quay", Reference: pitch.Reference{A4: 440}, Good: 5, Near: 15, Order: hub.OrderLowToHigh, Chairs: []hub.Chair{{ID: 1, Label: "Trumpet 1", Instrument: "trumpet_bb"}}}
	s, _ := New(Records{
		Section: sec, NextID: 9, Begun: Beginning{At: evening}.String(),
		Rounds: []hub.Round{{ID: 2, Section: 1, Started: evening, Call: hub.Call{Kind: hub.CallChord, Chord: "of the morning", Tones: map[hub.ChairID]pitch.Note{1: 70}}}},
	}, evening)
	if st := s.Standing(evening); st.Round == nil || st.Round.Judgement != nil || st.Round.Phase != Done {
		t.Errorf("it stands at %+v", st.Round)
	}
	if _, err := s.Step(evening, Command{Do: hub.DoCall, Call: &hub.Call{Note: 70}}); err != nil {
		t.Error(err)
	}
}

// TestChairsAreKeptOnce: the chairs of a section are those of the facts, and no second list says otherwise.
func TestChairsAreKeptOnce(t *testing.T) {
	s, _ := seatedAt(t, hub.OrderLowToHigh, "trumpet_bb", "horn_f")
	for _, e := range []Event{Command{Do: hub.DoRemove, Chair: s.chairs[0].ID}, Command{Do: hub.DoUndo}} {
		if _, err := s.Step(evening, e); err != nil {
			t.Fatal(err)
		}
		if s.section.Chairs != nil || len(s.Section().Chairs) != len(s.chairs) {
			t.Errorf("beside %d chairs the section has %v", len(s.chairs), s.section.Chairs)
		}
	}
}

// TestGroupsAreFarApartAndOfManyNotes: of four at the corners of a square nobody is put to who plays the same note, and
// of two pairs, one behind the other, nobody to who sits behind.
func TestGroupsAreFarApartAndOfManyNotes(t *testing.T) {
	for _, c := range []struct {
		deep  int // rows between the two pairs
		tones []pitch.Note
		apart [2]int // of four
	}{{4, []pitch.Note{50, 53, 50, 53}, [2]int{0, 2}}, {4, []pitch.Note{50, 53, 53, 50}, [2]int{0, 3}}, {1, []pitch.Note{50, 51, 52, 53}, [2]int{0, 2}}} {
		s, run := seatedAt(t, hub.OrderLowToHigh, "trumpet_bb", "horn_f", "cornet_bb", "tuba_bbb")
		var ids []hub.ChairID
		for i, ch := range s.seated() {
			ids = append(ids, ch.ID)
			run.Call.Tones[ch.ID] = c.tones[i]
			s.seats[ch.ID].chair.Row, s.seats[ch.ID].chair.Place = c.deep*(i/2), 6*(i%2)
		}
		groups := s.smallGroups(run)
		if len(groups) != 2 || len(groups[0]) != 2 || len(groups[1]) != 2 {
			t.Fatalf("%+v: groups %v", c, groups)
		}
		for _, g := range groups {
			if slices.Contains(g, ids[c.apart[0]]) && slices.Contains(g, ids[c.apart[1]]) {
				t.Errorf("%+v: %v of %v are one group", c, g, ids)
			}
		}
	}
}

// TestWhoRestsIsCounted: of the laptops that send tracks the fit is told how many are not to play, of those here.
func TestWhoRestsIsCounted(t *testing.T) {
	for resting := range 3 {
		s, run := seatedAt(t, hub.OrderLowToHigh, "trumpet_bb", "horn_f", "tuba_bbb", "cornet_bb")
		for _, c := range s.chairs[4-resting:] {
			leave(run, c.ID)
			delete(run.Call.Tones, c.ID)
		}
		if in := s.ensemble(run); in.Resting != resting || len(in.Chairs) != 4-resting {
			t.Errorf("of 4 %d rest: the fit is told of %d beside %d chairs", resting, in.Resting, len(in.Chairs))
		}
		if resting > 0 { // a laptop without tracks hears nothing for the fit, nor does one that is away
			s.seats[s.chairs[3].ID].tracks = false
			if in := s.ensemble(run); in.Resting != resting-1 {
				t.Errorf("%d rest, one without tracks: the fit is told of %d", resting, in.Resting)
			}
			s.seats[s.chairs[3].ID].tracks, s.seats[s.chairs[3].ID].node = true, ""
			if in := s.ensemble(run); in.Resting != resting-1 {
				t.Errorf("%d rest, one away: the fit is told of %d", resting, in.Resting)
			}
		}
	}
}

// TestASecondOfTracksIsANote: a window opens once a laptop has sent a second of tracks, and no sooner.
func TestASecondOfTracksIsANote(t *testing.T) {
	s, _ := seatedAt(t, hub.OrderLowToHigh, "trumpet_bb", "horn_f")
	for k := range 6 {
		if _, err := s.Step(evening, Track{Chair: s.chairs[0].ID, Chunk: track.Chunk{Reference: 58, Rate: 48000}}); err != nil {
			t.Fatal(err)
		}
		if sent := float64(k+1) * chunkSeconds; s.window.open() != (sent >= 1) {
			t.Errorf("after %g s of tracks the window is open: %t", sent, s.window.open())
		}
	}
}

// TestASectionWithoutTuningNotesBends: without a tuning note of its own a section bends B flat.
func TestASectionWithoutTuningNotesBends(t *testing.T) {
	for _, notes := range [][]pitch.Note{nil, {65, 70}} {
		s, _ := seatedAt(t, hub.OrderLowToHigh, "trumpet_bb")
		s.section.TuningNotes = notes
		if _, err := s.Step(evening, Command{Do: hub.DoBend}); err != nil {
			t.Fatal(err)
		}
		want, _ := pitch.ParseNote("Bb4")
		if notes != nil {
			want = notes[0]
		}
		if got := s.running().Call.Note; got != want {
			t.Errorf("of %v they bend %v", notes, got)
		}
	}
}

// TestThreeNotesAtMost: a thorough call asks no instrument for more than three notes, whatever the section tunes on, and
// each in another partial.
func TestThreeNotesAtMost(t *testing.T) {
	most := 0
	for i, in := range append(instrument.Catalogue(), instrument.Catalogue()...) {
		s, _ := seatedAt(t, hub.OrderByWorth, in.ID)
		s.section.TuningNotes = nil
		for n := in.Low; n <= in.High && len(s.section.TuningNotes) < maxTuningNotes; n++ {
			s.section.TuningNotes = append(s.section.TuningNotes, n)
		}
		if i >= len(instrument.Catalogue()) {
			s.section.HornOrder = slide.FSideFirst
		}
		if _, err := s.Step(evening, Command{Do: hub.DoCall, Call: &hub.Call{Note: 70, Thorough: true}}); err != nil {
			t.Fatalf("%s: %v", in.ID, err)
		}
		run := s.running()
		notes, partials := run.Call.Several[s.chairs[0].ID], map[int]bool{}
		for _, n := range notes {
			partials[s.wayOf(run, s.chairs[0].ID, in, n).path.Partial] = true
		}
		if len(notes) > 3 || len(partials) != len(notes) {
			t.Errorf("%s is asked for %v in partials %v", in.ID, notes, partials)
		}
		most = max(most, len(notes))
	}
	if most != 3 {
		t.Errorf("nobody is asked for three, %d at most", most)
	}
}

// sevenSeconds are two ways to go on by seven seconds: with any event, and with a note of a chair so far off its target.
func sevenSeconds(t *testing.T, s *State) (step func(Event), play func(hub.ChairID, pitch.Cents)) {
	now, seq := evening, uint64(0)
	step = func(e Event) {
		t.Helper()
		now = now.Add(7 * time.Second)
		if _, err := s.Step(now, e); err != nil {
			t.Fatal(err)
		}
	}
	play = func(id hub.ChairID, off pitch.Cents) {
		t.Helper()
		seq++
		run := s.running()
		step(Reading{Chair: id, Node: s.seats[id].node, Boot: "b", Wire: proto.Reading{
			Sequence: seq, Round: int64(run.ID), Hz: s.target(run, id).Shift(off), CI95: 0.5, Spread: 1, Level: -20, Floor: -60, Settled: true, Played: 600, Start: 100, Onset: 99.5, End: 101,
		}})
	}
	return step, play
}

// TestMovesAnywayAreGivenOnce: moves that were held back are given by each player's last note alone, and to nobody who has
// left the section.
func TestMovesAnywayAreGivenOnce(t *testing.T) {
	s, _ := seatedAt(t, hub.OrderLowToHigh, slices.Repeat([]instrument.ID{"trumpet_bb"}, 6)...)
	step, play := sevenSeconds(t, s)
	step(Command{Do: hub.DoCall, Call: &hub.Call{Note: 70}})
	twice, gone := s.asked[0], s.running().Queue[5]
	for !withheld(s.running()) && len(s.asked) > 0 {
		play(s.asked[0], 14)
	}
	step(Command{Do: hub.DoAgain, Chair: twice})
	for withheld(s.running()) && len(s.asked) > 0 {
		play(s.asked[0], 15)
	}
	step(Command{Do: hub.DoRemove, Chair: gone})
	if !withheld(s.running()) || len(s.seats) != 5 {
		t.Fatal("not off as one")
	}
	step(Command{Do: hub.DoMoves})
	for _, c := range s.chairs {
		st, open := s.seats[c.ID], 0
		for _, m := range st.moves {
			if isOpen(m) {
				open++
				if m.Reading != st.last().ID {
					t.Errorf("%s is to move by an earlier note", c.Label)
				}
			}
		}
		if heard := st.last() != nil && st.last().Round == s.running().ID; heard != (open == 1) {
			t.Errorf("%s, heard %t: %d moves", c.Label, heard, open)
		}
	}
	if n := len(s.seats[twice].counted); n < 2 {
		t.Errorf("the first was counted %d times", n)
	}
}

// TestWhoPlayedLastIsAskedAgain: in an order by worth it is told that who is asked has just played, from the first note on.
func TestWhoPlayedLastIsAskedAgain(t *testing.T) {
	s, run := seatedAt(t, hub.OrderByWorth, "trumpet_bb")
	id := s.chairs[0].ID
	if st := s.Standing(evening); st.Round.Asked != id || st.Round.Twice {
		t.Fatalf("before the first note: %+v", st.Round)
	}
	at := evening.Add(5 * time.Second)
	out := Reading{Chair: id, Node: s.seats[id].node, Boot: "b", Wire: proto.Reading{
		Sequence: 1, Round: int64(run.ID), Hz: s.target(run, id).Shift(25), CI95: 0.5, Spread: 1, Level: -20, Floor: -60, Settled: true, Played: 600, Start: 100, Onset: 99.5, End: 101,
	}}
	if _, err := s.Step(at, out); err != nil {
		t.Fatal(err)
	}
	at = at.Add(time.Minute)
	if _, err := s.Step(at, Tick{}); err != nil {
		t.Fatal(err)
	}
	if st := s.Standing(at); st.Round.Asked != id || !st.Round.Twice || len(s.readings) != 1 {
		t.Errorf("after %d notes: asked %d, twice %t", len(s.readings), st.Round.Asked, st.Round.Twice)
	}
}

// TestAMoveMadeSinceIsNotTakenBack: the leader gives the moves that were held back, one player makes theirs, and the
// leader takes the command back: that move was made and stays, the others are withdrawn.
func TestAMoveMadeSinceIsNotTakenBack(t *testing.T) {
	s, _ := seatedAt(t, hub.OrderLowToHigh, slices.Repeat([]instrument.ID{"trumpet_bb"}, 5)...)
	step, play := sevenSeconds(t, s)
	step(Command{Do: hub.DoCall, Call: &hub.Call{Note: 70}})
	for len(s.asked) > 0 {
		play(s.asked[0], 14)
	}
	step(Command{Do: hub.DoMoves})
	first := s.seats[s.chairs[0].ID]
	given := first.moves[len(first.moves)-1]
	step(Setting{Chair: first.id(), Set: proto.Setting{Slide: given.Slide, MM: given.ToMM}})
	step(Command{Do: hub.DoUndo})
	for _, c := range s.chairs {
		m := s.seats[c.ID].moves[len(s.seats[c.ID].moves)-1]
		if made := c.ID == first.id(); m.Done.IsZero() == made || m.Withdrawn == made {
			t.Errorf("%s: %+v", c.Label, m)
		}
	}
	if got := first.chair.Settings[given.Slide]; got != given.ToMM {
		t.Errorf("the slide that was moved stands at %g of %g mm", got, given.ToMM)
	}
}

// TestAMoveForAnotherReferenceIsTakenBack: of a player with two open moves, of which the last note's was told at another A,
// that one is taken back and the other taken as made; without a note that counts, too.
func TestAMoveForAnotherReferenceIsTakenBack(t *testing.T) {
	for _, heard := range []bool{true, false} {
		s, run := seatedAt(t, hub.OrderLowToHigh, "trumpet_bb")
		st := s.seats[s.chairs[0].ID]
		then := pitch.Reference{A4: 442}
		r := &hub.Reading{ID: 50, Chair: st.id(), Round: run.ID, Note: 70, Target: then.Frequency(70), At: evening, Counted: true, Wire: proto.Reading{Hz: then.Frequency(70), Settled: true}, Answer: &hub.Answer{}}
		if heard {
			s.readings = append(s.readings, r)
		}
		for i, of := range []int64{50, 40} {
			s.moves = append(s.moves, &hub.MoveRecord{ID: int64(900 + i), Chair: st.id(), Reading: of, Slide: instrument.Main, FromMM: 12, ToMM: 14, At: evening})
		}
		s.derive()
		s.assumeMoves(st, evening.Add(time.Minute))
		if s.moves[0].Withdrawn != heard || s.moves[0].Done.IsZero() != heard || s.moves[1].Withdrawn || s.moves[1].Done.IsZero() {
			t.Errorf("heard %t: %+v and %+v", heard, s.moves[0], s.moves[1])
		}
	}
}

// TestUndoOfASettingOfSomebodyWhoLeft: the leader's word of a slide, taken back when its player has moved it again or has
// left the section, changes nothing any more.
func TestUndoOfASettingOfSomebodyWhoLeft(t *testing.T) {
	for _, gone := range []bool{true, false} {
		s, _ := seatedAt(t, hub.OrderLowToHigh, "trumpet_bb", "horn_f")
		a := s.chairs[0].ID
		step := func(e Event) {
			t.Helper()
			if _, err := s.Step(evening, e); err != nil {
				t.Fatal(err)
			}
		}
		step(Command{Do: hub.DoSetting, Chair: a, Slide: instrument.Main, MM: 18})
		if gone {
			s.remove(a) // as a version before may have left it
		} else {
			step(Setting{Chair: a, Set: proto.Setting{Slide: instrument.Main, MM: 21}})
		}
		was := len(s.settings)
		step(Command{Do: hub.DoUndo})
		if len(s.settings) != was {
			t.Errorf("gone %t: %+v", gone, s.settings[was:])
		}
		if st := s.seats[a]; !gone && st.chair.Settings[instrument.Main] != 21 {
			t.Errorf("it stands at %g mm", st.chair.Settings[instrument.Main])
		}
	}
}

// TestUndoLeavesAPieceOfLater: a piece is put back by the undo of what opened or dropped it, and by nothing else; one that
// was opened since stays.
func TestUndoLeavesAPieceOfLater(t *testing.T) {
	first, second := &piece.Piece{}, &piece.Piece{}
	for _, tt := range []struct{ was, is, now, want *piece.Piece }{
		{nil, first, first, nil}, {first, nil, nil, first}, {nil, first, second, second}, {first, first, second, second}, {first, first, first, first},
	} {
		s, _ := seatedAt(t, hub.OrderLowToHigh, "trumpet_bb")
		s.begin(evening)
		step := s.undoable(hub.Command{Do: hub.DoNext})
		s.keep(step)
		last := &s.undo[len(s.undo)-1]
		last.was.piece, last.is.piece, s.piece = tt.was, tt.is, tt.now
		if err := s.takeBack(); err != nil || s.piece != tt.want {
			t.Errorf("%+v: %v, %v", tt, s.piece, err)
		}
	}
}

// TestWhatIsKnownOfANoteHeldAgain: in a chord that is held once more the fit is told where a chair was just read, with the
// doubt of an attack; in any other round what its earlier tuning notes and moves say.
func TestWhatIsKnownOfANoteHeldAgain(t *testing.T) {
	s, run := seatedAt(t, hub.OrderLowToHigh, "trumpet_bb", "horn_f", "tuba_bbb")
	st := s.seats[s.chairs[0].ID]
	st.inRound = &hub.Reading{ID: 60, Chair: st.id(), Round: run.ID, Counted: true, Cents: 7}
	leave(run, st.id())
	for _, tt := range []struct {
		held    int
		counted bool
		round   hub.RoundID
		knows   bool
	}{{1, true, run.ID, true}, {0, true, run.ID, false}, {1, false, run.ID, false}, {1, true, run.ID + 1, false}} {
		run.Held, st.inRound.Counted, st.inRound.Round = tt.held, tt.counted, tt.round
		at, doubt := s.expects(run, st)
		if knows := at == 7 && doubt > 0; knows != tt.knows || doubt < 0 {
			t.Errorf("%+v: %g ± %g", tt, float64(at), float64(doubt))
		}
	}
}
