package web_test

import (
	"testing"

	"bellrow/hub/show"
	"bellrow/hub/web/webtest"
	"bellrow/proto/page/browser"
)

// TestNothingJumps: while a round runs, sentences of all lengths, answers and
// turns come and go, and what is on the page stays where it is (cumulative
// layout shift, W3C Layout Instability; the usual limit for "good" is 0.1).
func TestNothingJumps(t *testing.T) {
	const limit = 0.02
	b := browser.Open(t)
	for _, page := range []string{"/row", "/wall"} {
		h := webtest.New(12, webtest.Midway)
		b.Size(1366, 768)
		b.Go(serve(t, h, webtest.Guard{}) + page)
		b.Until("the chairs", "document.querySelectorAll('li.line').length === 12")
		settle(b)
		browser.Eval[bool](b, `(window.shift = 0, new PerformanceObserver((list) => {
			for (const e of list.getEntries()) if (!e.hadRecentInput) window.shift += e.value;
		}).observe({ type: "layout-shift" }), true)`)
		for i, say := range []string{
			"Tuba plays written B♭2.", "3 of 12 set.",
			"Bass trombone: push in the bell slide 9 mm. Then Trumpet 2 plays written C5, and Flugelhorn is next after that.",
			"Everybody is set.",
		} {
			h.Set(func(r *show.Row) {
				r.Say, r.CanUndo = say, say
				for k := range r.Chairs {
					c := &r.Chairs[k]
					switch (k + i) % 4 {
					case 0:
						c.State, c.Verdict, c.Cents, c.Moves = "turn", "", nil, nil
					case 1:
						c.State, c.Verdict = "heard", "set"
					}
				}
			})
			b.Until("what is said", "document.getElementById('say').textContent === "+quote(say))
			settle(b)
		}
		if shift := browser.Eval[float64](b, "window.shift"); shift > limit {
			t.Errorf("%s: the page shifts by %.3f, need %.2f at most", page, shift, limit)
		}
	}
}
