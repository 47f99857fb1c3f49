package show_test

import (
	"strings"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/hub/intonation"
	"bellrow/hub/show"
	"bellrow/hub/tuneup"
	"bellrow/proto/instrument"
)

// TestNobodyWaitsForWhoHasGone: the sentence on a chord names nobody who was
// taken out or went home since it was judged.
func TestNobodyWaitsForWhoHasGone(t *testing.T) {
	anna, bo, cy := hub.Chair{ID: 1, Name: "Anna"}, hub.Chair{ID: 2, Name: "Bo"}, hub.Chair{ID: 3, Name: "Cy"}
	judged := &intonation.Judgement{Facts: []intonation.Clause{
		{Code: intonation.ClauseSoFar}, {Code: intonation.ClauseWaiting, Names: []string{"Anna", "Bo", "Cy"}},
	}}
	run := hub.Round{Call: hub.Call{Kind: hub.CallChord}}
	st := tuneup.Standing{Section: &hub.Section{Chairs: []hub.Chair{anna, bo, cy}}, Round: &tuneup.Round{Round: &run, Phase: tuneup.Done, Judgement: judged},
		Chairs: []tuneup.Chair{{Chair: &anna}, {Chair: &bo}, {Chair: &cy}}}
	for _, step := range []struct {
		gone func()
		need string
	}{
		{func() {}, "; still to be heard: Anna, Bo, Cy."},
		{func() { st.Chairs[2].State = tuneup.Absent }, "; still to be heard: Anna, Bo."},
		{func() { st.Chairs = st.Chairs[1:] }, "; still to be heard: Bo."},
		{func() { st.Chairs[0].State = tuneup.Absent }, "Every tone heard so far is where it belongs."},
	} {
		step.gone()
		if say := show.NewRow(st, 1, nil).Say; !strings.HasSuffix(say, step.need) {
			t.Errorf("the row says %q, need the end %q", say, step.need)
		}
	}
}

// TestMovesAreSummedUpAsTold: the summary rounds as the player's sentence did,
// whole millimetres, and halves of a way below three; the way is the difference of
// the places beside it.
func TestMovesAreSummedUpAsTold(t *testing.T) {
	in, err := instrument.Find("trumpet_bb")
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range []struct {
		from, to float64
		need     string
	}{
		{12.7, 19.1, "main slide pulled 6 mm, from 13 to 19 mm out"},
		{12.7, 10.2, "main slide pushed 2.5 mm, from 12.5 to 10 mm out"},
		{12.6, 21.4, "main slide pulled 9 mm, from 13 to 22 mm out"},
		{21.4, 12.6, "main slide pushed 9 mm, from 21 to 12 mm out"},
		{0, 2.6, "main slide pulled 2.5 mm, from 0 to 2.5 mm out"},
		{9.4, 0, "main slide pushed 9 mm, from 9 to 0 mm out"},
		{3.5, 0, "main slide pushed 4 mm, from 4 to 0 mm out"},
	} {
		move := &hub.MoveRecord{Slide: instrument.Main, FromMM: m.from, ToMM: m.to, Done: time.Unix(1, 0)}
		st := tuneup.Standing{Section: &hub.Section{}, Chairs: []tuneup.Chair{{Chair: &hub.Chair{}, Instrument: in, Moves: []*hub.MoveRecord{move}}}}
		if moves := show.NewSummary(st).Chairs[0].Moves; len(moves) != 1 || moves[0] != m.need {
			t.Errorf("from %g to %g mm: %q, need %q", m.from, m.to, moves, m.need)
		}
	}
}
