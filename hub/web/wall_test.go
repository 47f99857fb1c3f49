package web_test

import (
	"math"
	"testing"

	"bellrow/hub"
	"bellrow/hub/web/webtest"
	"bellrow/proto/page/browser"
	"bellrow/proto/phrase"
)

// TestWallIsLegible measures letters on the wall as they look from 6 m, on a
// picture 2 m wide of 1920 by 1080 points with twelve chairs.
func TestWallIsLegible(t *testing.T) {
	const (
		distanceMM = 6000
		pointMM    = 2000.0 / 1920
		capHeight  = 0.7 // of the size of type, for a Clarendon
		// least is the height of letters below which reading slows, in minutes
		// of arc (ISO 9241-303, from memory: 16 at least, 20 to 22 better).
		least = 16
	)
	b := browser.Open(t)
	b.Size(1920, 1080)
	b.Go(serve(t, webtest.New(12, webtest.Midway), webtest.Guard{}) + "/wall")
	b.Until("the wall", "document.querySelectorAll('li.line').length === 12")
	for _, what := range []string{".label", ".answer .mm", ".answer .word", "#say"} {
		size := browser.Eval[float64](b, `parseFloat(getComputedStyle(document.querySelector("`+what+`")).fontSize)`)
		minutes := math.Atan(size*capHeight*pointMM/distanceMM) * 180 / math.Pi * 60
		t.Logf("%s: %.1f minutes of arc", what, minutes)
		if minutes < least {
			t.Errorf("%s is %.1f minutes of arc high from 6 m, need %d", what, minutes, least)
		}
	}
	if cut := browser.Eval[string](b, `[...document.querySelectorAll(".label")].filter((l) => l.clientHeight < 1.3 * parseFloat(getComputedStyle(l).fontSize)).map((l) => l.textContent).join()`); cut != "" {
		t.Errorf("the boxes of %s are too low for a g or a y, and cut what is beyond them", cut)
	}
	if over := browser.Eval[float64](b, "document.documentElement.scrollHeight - innerHeight"); over > 0 {
		t.Errorf("the wall is %g points higher than the screen", over)
	}
}

// TestWallCutsNoMove: with forty chairs in two columns a move is read whole, down
// to its unit, in every language.
func TestWallCutsNoMove(t *testing.T) {
	b := browser.Open(t)
	b.Size(1920, 1080)
	for _, l := range phrase.Leader.Offered() {
		h := webtest.New(40, webtest.Midway)
		h.SetSection(func(s *hub.Section) { s.Language = l.Tag })
		b.Go(serve(t, h, webtest.Guard{}) + "/wall")
		b.Until("the wall", "document.querySelectorAll('li.line').length === 40")
		settle(b)
		if cut := browser.Eval[string](b, `[...document.querySelectorAll(".line:not([hidden]) .answer :is(.mm, .unit)")].filter((e) => e.getBoundingClientRect().right > e.closest(".words").getBoundingClientRect().right + 0.5).map((e) => e.closest(".answer").textContent)[0] ?? ""`); cut != "" {
			t.Errorf("%s: the wall cuts %q", l.Name, cut)
		}
	}
}
