package web_test

import (
	"testing"

	"bellrow/hub"
	"bellrow/proto/page/browser"
)

// TestThoroughCall: where turns go by what notes tell, the call bar offers a thorough
// call, and it or together holds, never both.
func TestThoroughCall(t *testing.T) {
	s := newBand(t)
	b := browser.Open(t)
	b.Size(1366, 768)
	s.enter(b)
	s.join("Tuba", "tuba_bbb", -9)
	s.join("Trumpet", "trumpet_bb", 14)
	b.Until("two chairs", `document.querySelectorAll(".line").length === 2`)
	if !browser.Eval[bool](b, `document.getElementById("thorough").hidden`) {
		t.Error("a thorough call is offered in turns that do not go by what notes tell")
	}
	sec := s.hub.Section()
	sec.Order = hub.OrderByWorth
	if err := s.hub.Command(t.Context(), hub.Command{Do: hub.DoEdit, Section: &sec}); err != nil {
		t.Fatal(err)
	}
	b.Until("it is offered", `!document.getElementById("thorough").hidden`)
	click(`#together`)(b)
	click(`#thorough`)(b)
	if got := browser.Eval[string](b, `["together", "thorough"].filter(w => document.getElementById(w).getAttribute("aria-pressed") === "true").join()`); got != "thorough" {
		t.Errorf("%q is chosen, want thorough alone", got)
	}
	b.Shot("row-thorough")
	click(`#calls button`)(b)
	b.Until("somebody plays now", `document.querySelector('[data-state="turn"]')`)
	if r := s.hub.Standing().Round; r == nil || len(r.Call.Several) != 2 {
		t.Errorf("the round is %+v, want two chairs with several notes", r)
	}
}
