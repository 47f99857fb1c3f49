package tuneup_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"bellrow/hub"
	"bellrow/hub/slide"
	"bellrow/hub/tuneup"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// TestLostMovesShareTheChange takes up a reading whose answer moves two slides
// and whose moves were never stored: together they are expected to bring what
// the reading was off, not each of them.
func TestLostMovesShareTheChange(t *testing.T) {
	sec := hub.Section{ID: 1, Name: "Quay", Reference: pitch.Reference{A4: pitch.StandardA4}, Good: 5, Near: 10, Chairs: []hub.Chair{{ID: 1, Label: "Horn 1", Instrument: "horn_double"}}}
	answer := &hub.Answer{ID: 3, Advice: slide.Advice{Kind: slide.Move, Steps: []slide.Step{{Slide: "main", FromMM: 12, ToMM: 18}, {Slide: "f_main", FromMM: 10, ToMM: 13}}}}
	s, out := tuneup.New(tuneup.Records{
		Section: sec, NextID: 9,
		Rounds:   []hub.Round{{ID: 2, Section: 1, Started: start, Call: hub.Call{Kind: hub.CallNote, Note: 70}}},
		Readings: []hub.Reading{{ID: 3, Chair: 1, Round: 2, At: start, Note: 58, Target: pitch.Reference{}.Frequency(58), Cents: 12, Counted: true, Verdict: "out", Answer: answer}},
		Begun:    tuneup.Beginning{At: start}.String(),
	}, start)
	st := s.Standing(start)
	moves := st.Chairs[0].Moves
	if len(moves) != 2 || st.Chairs[0].Open == nil {
		t.Fatalf("%d moves, need the two of the answer, open", len(moves))
	}
	all := float64(moves[0].Expected + moves[1].Expected)
	if math.Abs(all+12) > 1e-9 || math.Abs(float64(moves[0].Expected)+8) > 1e-9 {
		t.Errorf("they should bring %.1f and %.1f cents, need -8 and -4", moves[0].Expected, moves[1].Expected)
	}
	stored := 0
	for _, c := range out.Changes {
		if _, move := c.(hub.MoveChange); move {
			stored++
		}
	}
	if stored != 2 {
		t.Errorf("%d of them are to be stored, need both", stored)
	}
}

// TestUndoneCallLeavesNoMoveOpen takes a call back in which a move was handed
// out: nobody is told to make it any more, today or after a restart.
func TestUndoneCallLeavesNoMoveOpen(t *testing.T) {
	h := &rehearsal{rig: newRig(t), nodes: map[string]*laptop{}, views: map[hub.ChairID]string{}}
	for _, line := range [][]string{{"join", "Cy", "tuba_bbb"}, {"call", "Bb4"}, {"play", "Cy", "14"}} {
		h.do(line)
	}
	if c := h.state.Standing(h.now).Chairs[0]; c.Open == nil {
		t.Fatal("no move was handed out")
	}
	h.do([]string{"undo"})
	for _, when := range []string{"at once", "after a restart"} {
		c := h.state.Standing(h.now).Chairs[0]
		if c.Open != nil || len(c.Moves) != 1 || !c.Moves[0].Withdrawn {
			t.Errorf("%s: open %v, moves %+v, need one withdrawn", when, c.Open, c.Moves)
		}
		h.do([]string{"restart"})
	}
}

// TestLowBrassSitsBehind: whatever the catalogue calls a family, low brass is
// known by it. Baritones once stood in front, for they were asked for as a
// family of their own, which no instrument has.
func TestLowBrassSitsBehind(t *testing.T) {
	h := &rehearsal{rig: newRig(t), nodes: map[string]*laptop{}, views: map[hub.ChairID]string{}}
	rows := map[string]int{
		"trumpet": 0, "cornet": 0, "flugelhorn": 0, "horn": 0, "mellophone": 0, // high brass
		"trombone": 1, "baritone": 1, "euphonium": 1, "tuba": 1, "sousaphone": 1,
	}
	seen := map[string]bool{}
	for _, in := range instrument.Catalogue() {
		for word, row := range rows {
			if !strings.Contains(string(in.ID), word) || strings.HasPrefix(string(in.ID), "wagner") { // a tuba by name, played by horns
				continue
			}
			seen[word] = true
			h.join(string(in.ID), in.ID, false, "")
			chairs := h.state.Standing(h.now).Section.Chairs
			if c := chairs[len(chairs)-1]; c.Row != row {
				t.Errorf("%s sits in row %d, need %d", in.ID, c.Row, row)
			}
		}
	}
	if len(seen) != len(rows) {
		t.Errorf("the catalogue has %v of %v", seen, rows)
	}
}

// TestFirstLiesAboveSecond: of players who named no part, the chairs' own numbers
// say who is first.
func TestFirstLiesAboveSecond(t *testing.T) {
	sec := hub.Section{ID: 1, Name: "Quay", Reference: pitch.Reference{A4: pitch.StandardA4}, Good: 5, Near: 10}
	for i, label := range []string{"Trumpet 1", "Trumpet 2", "Trumpet 3", "Tuba"} {
		in := instrument.ID("trumpet_bb")
		if label == "Tuba" {
			in = "tuba_bbb"
		}
		sec.Chairs = append(sec.Chairs, hub.Chair{ID: hub.ChairID(i + 1), Label: label, Instrument: in})
	}
	s, _ := tuneup.New(tuneup.Records{Section: sec, NextID: 9, Begun: tuneup.Beginning{At: start}.String()}, start)
	p, err := s.Propose("Bb major")
	if err != nil {
		t.Fatal(err)
	}
	if n := p.Tones; len(n) != 4 || n[1] <= n[2] || n[2] <= n[3] || n[3] <= n[4] {
		t.Errorf("trumpets 1 to 3 and the tuba get %v, need one above the other", n)
	}
}

// TestInstrumentThereAndBack is a rehearsal in which a player whose main slide was
// measured takes another instrument and then the first again: a restart took the
// other one's slide for the first one's.
func TestInstrumentThereAndBack(t *testing.T) { play(t, chance(68040)) }

// TestAChordMakesNoMove: who has not told that the main slide was moved, and plays a
// chord, may have left it; the move is still to be made, and is taken as made with the
// next tuning note alone.
func TestAChordMakesNoMove(t *testing.T) {
	h := seatFive(t)
	h.lines("call Bb4", "play Cy 20", "call Bb major")
	cy := func() *tuneup.Chair {
		st := h.state.Standing(h.now)
		return &st.Chairs[slices.IndexFunc(st.Chairs, func(c tuneup.Chair) bool { return c.ID == h.nodes["Cy"].chair })]
	}
	if cy().Open == nil {
		t.Fatal("nothing is to be moved")
	}
	before := cy().Settings[instrument.Main]
	h.playAll(map[string]float64{})
	if c := cy(); c.Open == nil || c.Settings[instrument.Main] != before {
		t.Errorf("after the chord the main slide stands at %g mm, was %g; still to be moved: %v", c.Settings[instrument.Main], before, c.Open != nil)
	}
	h.lines("call Bb4", "play Cy 0")
	if c := cy(); c.Open != nil || c.Settings[instrument.Main] == before {
		t.Errorf("after a tuning note the main slide stands at %g mm, was %g; still to be moved: %v", c.Settings[instrument.Main], before, c.Open != nil)
	}
}
