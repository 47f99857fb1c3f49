package web_test

import (
	"testing"

	"bellrow/hub/web/webtest"
	"bellrow/proto/page/browser"
)

// TestAccessible runs the rules of axe-core (WCAG 2.2 A and AA and its best
// practices) on every page in both themes, with a chair and the dialogs open.
func TestAccessible(t *testing.T) {
	b := browser.Open(t)
	b.Size(1366, 768)
	for _, p := range []struct {
		name, path string
		scene      webtest.Scene
		ready      string
		open       string // script that opens something
	}{
		{"row", "/row", webtest.Midway, "document.querySelector('.line')", ""},
		{"row, chair open", "/row", webtest.Midway, "document.querySelector('.line')", "document.querySelector('.chair').click()"},
		{"row, chords", "/row", webtest.Midway, "document.querySelector('.line')", "document.getElementById('chord').click(); document.querySelector('#chords details').open = true"},
		{"row, keys", "/row", webtest.Midway, "document.querySelector('.line')", "document.getElementById('keys').showModal()"},
		{"row, trouble", "/row", webtest.Trouble, "document.querySelector('#trouble:not([hidden])')", ""},
		{"wall", "/wall", webtest.Done, "document.querySelector('.line')", ""},
		{"join", "/", webtest.Before, "document.querySelector('#code:not([hidden])')", ""},
		{"set-up", "/setup", webtest.Before, "document.querySelector('.seat')", "document.querySelectorAll('details').forEach(d => d.open = true)"},
		{"summary", "/summary", webtest.Done, "document.querySelector('tbody tr')", ""},
	} {
		url := serve(t, webtest.New(12, p.scene), webtest.Guard{})
		b.Go(url + p.path)
		b.Until(p.name, p.ready)
		if p.open != "" {
			browser.Eval[bool](b, p.open+";true")
		}
		b.Axe(p.name)
	}
}

// TestAxeFindsFaults shows that the check can fail: a page with an unnamed
// button and grey on grey is reported.
func TestAxeFindsFaults(t *testing.T) {
	b := browser.Open(t)
	b.Go(serve(t, webtest.New(1, webtest.Before), webtest.Guard{}) + "/row")
	b.Until("the row", "document.querySelector('.line')")
	b.Theme("paper")
	browser.Eval[bool](b, `document.body.append(document.createElement("button")); document.getElementById("say").style.color = "#ccc"; true`)
	if got := b.Violations(); len(got) < 2 {
		t.Errorf("axe-core found %d faults on a page with two, need both: %q", len(got), got)
	}
}
