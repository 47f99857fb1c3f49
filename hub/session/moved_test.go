package session_test

import (
	"slices"
	"testing"

	"bellrow/hub"
	"bellrow/proto"
	"bellrow/proto/pitch"
)

// TestSayWhoMoved: when all that is to be moved has been moved, the sentence
// asks to hear them again, and the summary tells no move that is made.
func TestSayWhoMoved(t *testing.T) {
	for _, tt := range []struct {
		off  float64 // the trumpet's, in cents
		want string
	}{
		{0, "One has moved a slide: hear them again. 2 of 3 set."},
		{-18, "Two have moved their slides: hear them again. 1 of 3 set."},
	} {
		b := newBench(t)
		tuba, horn, trumpet := b.trio()
		b.call("Bb4")
		tuba.play(20)
		horn.play(0)
		trumpet.play(pitch.Cents(tt.off))
		for _, p := range []*player{tuba, trumpet} {
			for _, m := range p.view().Answer.Moves {
				if err := b.hub.Setting(t.Context(), p.chair, proto.Setting{Slide: m.ID, MM: m.ToMM}); err != nil {
					t.Fatal(err)
				}
			}
		}
		for !b.row().Round.Done { // the leader does not wait to hear them at once
			b.do(hub.Command{Do: hub.DoNext})
		}
		if got := b.row().Say; got != tt.want {
			t.Errorf("the row says %q, want %q", got, tt.want)
		}
		for _, c := range b.hub.Summary().Chairs {
			if want := "Moved, not heard since."; c.ID == tuba.chair && c.Words != want {
				t.Errorf("the summary says %q of the tuba, want %q", c.Words, want)
			}
		}
	}
}

// TestUndoMovedSlide: the leader's wrong tap on "the slide is moved" is taken
// back whole: slide and move stand as before, and the player, heard again, is
// answered as if nobody had tapped.
func TestUndoMovedSlide(t *testing.T) {
	answers := map[bool]string{}
	for _, tapped := range []bool{false, true} {
		b := newBench(t)
		tuba, _, _ := b.trio()
		b.call("Bb4")
		tuba.play(20)
		before := tuba.row()
		if tapped {
			m := tuba.view().Answer.Moves[0]
			b.do(hub.Command{Do: hub.DoSetting, Chair: tuba.chair, Slide: m.ID, MM: m.ToMM})
			if slices.Equal(tuba.row().Slides, before.Slides) {
				t.Fatal("the tap moved no slide")
			}
			b.do(hub.Command{Do: hub.DoUndo})
			after := tuba.row()
			if !slices.Equal(after.Slides, before.Slides) || !slices.Equal(after.Moves, before.Moves) || after.Headline != before.Headline {
				t.Errorf("after undo the row has %+v, before %+v", after, before)
			}
		}
		b.do(hub.Command{Do: hub.DoAgain, Chair: tuba.chair})
		tuba.play(1)
		answers[tapped] = tuba.row().Headline + tuba.row().FollowThrough
	}
	if answers[true] != answers[false] {
		t.Errorf("heard again after undo: %q, want %q", answers[true], answers[false])
	}
}

// TestMoveTakenBack: a player who pulls the slide and pushes it back has moved
// nothing. Row, page and summary say the same of it.
func TestMoveTakenBack(t *testing.T) {
	b := newBench(t)
	tuba, _, _ := b.trio()
	b.call("Bb4")
	tuba.play(20)
	m := tuba.view().Answer.Moves[0]
	for _, mm := range []float64{m.ToMM, m.FromMM} {
		if err := b.hub.Setting(t.Context(), tuba.chair, proto.Setting{Slide: m.ID, MM: mm}); err != nil {
			t.Fatal(err)
		}
		row, sum := tuba.row(), b.summaryOf("Cy")
		if taken := mm == m.FromMM; (row.Verdict == "out") != taken || row.Moved == taken {
			t.Errorf("with the slide at %g mm the row says %q, moved %t", mm, row.Verdict, row.Moved)
		}
		if a := tuba.view().Answer; a == nil || a.Moved != row.Moved {
			t.Errorf("with the slide at %g mm the row says moved %t, the player's page %+v", mm, row.Moved, a)
		}
		want := row.Headline
		if row.Moved {
			want = "Moved, not heard since."
		}
		if sum.Words != want || sum.Verdict != row.Verdict {
			t.Errorf("with the slide at %g mm the summary says %q (%q), the row %q (%q)", mm, sum.Words, sum.Verdict, want, row.Verdict)
		}
	}
}
