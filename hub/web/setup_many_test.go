package web_test

import (
	"testing"

	"bellrow/hub/web/webtest"
	"bellrow/proto/page/browser"
)

// TestManyChairsGoAtOnce: with Shift, a chair is taken out with all below it.
func TestManyChairsGoAtOnce(t *testing.T) {
	b := browser.Open(t)
	b.Go(serve(t, webtest.New(12, webtest.Before), webtest.Guard{}) + "/setup")
	b.Until("the seats", "document.querySelectorAll('.seat').length == 12")
	browser.Eval[bool](b, `document.querySelectorAll('.seat [aria-label$="take out"]')[4].dispatchEvent(new MouseEvent("click", { bubbles: true, shiftKey: true }))`)
	b.Until("four seats", "document.querySelectorAll('.seat').length == 4")
	browser.Eval[bool](b, `document.querySelectorAll('.seat [aria-label$="take out"]')[0].dispatchEvent(new MouseEvent("click", { bubbles: true }))`)
	b.Until("three seats", "document.querySelectorAll('.seat').length == 3")
}
