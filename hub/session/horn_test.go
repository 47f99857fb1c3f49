package session_test

import (
	"testing"

	"bellrow/hub"
	"bellrow/hub/slide"
	"bellrow/proto/instrument"
)

// TestHornsAreSetAsTheLeaderGoes: the main slide on the B flat side first and the F
// slide to match (E. Matlick; J. Ericson), or the other way round (P. Farkas).
func TestHornsAreSetAsTheLeaderGoes(t *testing.T) {
	for _, c := range []struct {
		order slide.HornOrder
		side  string
	}{{slide.BbSideFirst, "B♭ side open"}, {slide.FSideFirst, "F side open"}} {
		b := newBench(t)
		horn := b.join("Bo", "horn_double")
		s := b.hub.Section()
		s.HornOrder = c.order
		b.do(hub.Command{Do: hub.DoEdit, Section: &s})
		b.call("F4")
		if got := horn.view().Fingering; got != c.side {
			t.Errorf("%q: F is asked for with %q, want %q", c.order, got, c.side)
		}
		horn.play(12)
		if ms := horn.view().Answer.Moves; len(ms) != 1 || ms[0].ID != instrument.Main {
			t.Errorf("%q: the first side moves %+v, want the main slide", c.order, ms)
		}
	}
}
