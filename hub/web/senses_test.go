package web_test

import (
	"fmt"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"bellrow/hub/web/webtest"
	"bellrow/proto/page/browser"
)

// prefer opens pages as for somebody whose system asks for a media feature.
func prefer(t *testing.T, b *browser.Browser, feature, value string) {
	t.Helper()
	if _, err := chromedp.Call(b.Context(), emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{
		Features: []*emulation.MediaFeature{{Name: feature, Value: value}},
	}); err != nil {
		t.Fatal(err)
	}
}

// TestForcedColours: in the reader's own colours it is still to be seen whose
// turn it is and what is chosen.
func TestForcedColours(t *testing.T) {
	b := browser.Open(t)
	b.Size(1366, 768)
	prefer(t, b, "forced-colors", "active")
	b.Go(serve(t, webtest.New(12, webtest.Midway), webtest.Guard{}) + "/row")
	b.Until("the row", "document.querySelector('.line')")
	b.Run(chromedp.Click(chromedp.CSS("#together")))
	const ground = `(s) => getComputedStyle(document.querySelector(s)).backgroundColor`
	for _, pair := range [][2]string{
		{`[data-state="turn"] .who`, `[data-state="heard"] .who`},
		{`#together`, `#chord`},
	} {
		if browser.Eval[bool](b, fmt.Sprintf("(%s)(%q) === (%[1]s)(%[3]q)", ground, pair[0], pair[1])) {
			t.Errorf("%s stands on the same ground as %s", pair[0], pair[1])
		}
	}
	b.Shot("row-forced-colours")
}

// TestNothingMoves: no page animates, so that a wish for less motion is met
// by all of them.
func TestNothingMoves(t *testing.T) {
	b := browser.Open(t)
	prefer(t, b, "prefers-reduced-motion", "reduce")
	for path, ready := range map[string]string{"/row": ".line", "/wall": ".line", "/summary": "tbody tr", "/setup": ".seat"} {
		b.Go(serve(t, webtest.New(12, webtest.Midway), webtest.Guard{}) + path)
		b.Until(path, "document.querySelector('"+ready+"')")
		if n := browser.Eval[int](b, "document.getAnimations().length"); n != 0 {
			t.Errorf("%s: %d animations run, need none", path, n)
		}
	}
}
