package web_test

import (
	"testing"

	"github.com/chromedp/chromedp"

	"bellrow/hub/show"
	"bellrow/hub/web/webtest"
	"bellrow/proto/page/browser"
)

// TestPressOutlastsARow: what the leader presses is done, though the chair
// changes while the button is held down.
func TestPressOutlastsARow(t *testing.T) {
	hub := webtest.New(12, webtest.Midway)
	b := browser.Open(t)
	b.Size(1366, 768)
	b.Go(serve(t, hub, webtest.Guard{}) + "/row")
	b.Until("the row", "document.querySelectorAll('li.line').length === 12")
	click(`.line:nth-child(2) .chair`)(b)
	const again = `.more:not([hidden]) [data-act="again"]`
	b.Until("the open chair", `document.querySelector('`+again+`')`)
	at := browser.Eval[[]float64](b, `(r => [r.x + r.width / 2, r.y + r.height / 2])(document.querySelector('`+again+`').getBoundingClientRect())`)
	left := chromedp.Button("left")
	b.Run(chromedp.MouseEvent(chromedp.MousePressed, at[0], at[1], left, chromedp.ClickCount(1)))
	hub.Set(func(r *show.Row) { r.Chairs[1].Name = "Otto" })
	b.Until("the new row", `document.querySelector(".line:nth-child(2) .name").textContent === "Otto"`)
	b.Run(chromedp.MouseEvent(chromedp.MouseReleased, at[0], at[1], left, chromedp.ClickCount(1)))
	if !eventually(func() bool { return len(hub.Commands()) == 1 }) {
		t.Errorf("the hub was told %v, need one command", hub.Commands())
	}
}
