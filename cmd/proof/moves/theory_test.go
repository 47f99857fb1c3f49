package moves

import "testing"

// TestCalledNotesThatLieOff: a note that lies off by nature leaves the main slides
// where they are, and B flat then sets them as well as if nothing had been called
// before; whoever knows no theory sends one player in two the wrong way.
func TestCalledNotesThatLieOff(t *testing.T) {
	rs, err := PlayTheory(t.Context(), 40, 1)
	if err != nil {
		t.Fatal(err)
	}
	if len(rs) != 6 {
		t.Fatalf("%d results, want two rules on three sorts of notes", len(rs))
	}
	for _, r := range rs {
		naive := r.Rule == "as heard"
		worse := float64(r.Worse) / float64(r.Players)
		if naive == (worse < 0.2) || !naive && worse > 0.01 {
			t.Errorf("%s, %s: %.0f %% made worse", r.Rule, r.Theory, 100*worse)
		}
		if end := float64(r.OutEnd) / float64(r.Players); !naive && end > 0.05 {
			t.Errorf("%s, %s: %.1f %% outside after B flat", r.Rule, r.Theory, 100*end)
		}
		if !naive && r.First > r.Before+0.5 {
			t.Errorf("%s, %s: the note leaves %.2f cents, found %.2f", r.Rule, r.Theory, r.First, r.Before)
		}
	}
}
