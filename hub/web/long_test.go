package web_test

import (
	"fmt"
	"strings"
	"testing"

	"bellrow/hub"
	"bellrow/hub/web/webtest"
	"bellrow/proto/page/browser"
	"bellrow/proto/phrase"
)

// TestLongWordsAreNotCut: in words two fifths longer than the English ones nothing
// is cut, on the pages that a room looks at and on those that a leader fills in.
func TestLongWordsAreNotCut(t *testing.T) {
	b := browser.Open(t)
	open := func(path, ready string, n int, scene webtest.Scene) {
		h := webtest.New(n, scene)
		h.Lengthen()
		b.Size(1366, 768)
		b.Go(serve(t, h, webtest.Guard{}) + path)
		b.Until(path, ready)
	}
	check := func(name, script string, sizes ...[2]int64) {
		for _, s := range sizes {
			b.Size(s[0], s[1])
			settle(b)
			if bad := browser.Eval[string](b, script); bad != "" {
				t.Errorf("%s at %dx%d: %s", name, s[0], s[1], bad)
			}
			if wide := browser.Eval[float64](b, "document.documentElement.scrollWidth - innerWidth"); wide > 0 {
				t.Errorf("%s at %dx%d: %g px wider than the window", name, s[0], s[1], wide)
			}
			b.Shot("long-" + strings.Trim(name, "/") + fmt.Sprint("-", s[0]))
		}
	}
	telephone, laptop, large := [2]int64{390, 844}, [2]int64{1366, 768}, [2]int64{1920, 1080}
	for _, path := range []string{"/row", "/wall"} {
		open(path, "document.querySelectorAll('li.line').length === 12", 12, webtest.Midway)
		check(path, faults, laptop, large, telephone)
	}
	open("/row", "document.querySelectorAll('#room li').length === 5", 12, webtest.Room)
	check("room", faults, laptop)
	for name, p := range map[string]struct{ path, ready, open string }{
		"join":    {"/", "document.querySelector('#code:not([hidden])')?.textContent", ""},
		"set-up":  {"/setup", "document.querySelectorAll('.seat').length === 12", "document.querySelector('details').open = true"},
		"summary": {"/summary", "document.querySelectorAll('tbody tr').length === 12", ""},
		"chords":  {"/row", "document.querySelectorAll('li.line').length === 12", "document.getElementById('chord').click()"},
		"keys":    {"/row", "document.querySelectorAll('li.line').length === 12", "document.getElementById('keys').showModal()"},
	} {
		open(p.path, p.ready, 12, webtest.Midway)
		if p.open != "" {
			browser.Eval[bool](b, p.open+"; true")
		}
		if name == "chords" {
			b.Until("the tones", "document.querySelectorAll('#board li').length > 0")
		}
		check(name, pageFaults, laptop, telephone)
	}
}

// TestEveryLanguage: each page is in the section's language as a whole, without a
// text by its key, and nothing is cut; it goes into another as the section does.
func TestEveryLanguage(t *testing.T) {
	b := browser.Open(t)
	for _, l := range phrase.Leader.Offered() {
		h := webtest.New(12, webtest.Midway)
		h.SetSection(func(s *hub.Section) { s.Language = l.Tag })
		url := serve(t, h, webtest.Guard{})
		for name, p := range map[string]struct{ path, ready, faults string }{
			"row":     {"/row", "document.querySelectorAll('li.line').length === 12", faults},
			"wall":    {"/wall", "document.querySelectorAll('li.line').length === 12", faults},
			"join":    {"/", "document.querySelector('#code:not([hidden])')?.textContent", pageFaults},
			"set-up":  {"/setup", "document.querySelectorAll('.seat').length === 12", pageFaults},
			"summary": {"/summary", "document.querySelectorAll('tbody tr').length === 12", pageFaults},
		} {
			b.Size(1366, 768)
			b.Go(url + p.path)
			b.Until(name, p.ready)
			settle(b)
			if bad := browser.Eval[string](b, p.faults); bad != "" {
				t.Errorf("%s in %s: %s", name, l.Name, bad)
			}
			if key := browser.Eval[string](b, `(document.body.innerText.match(/\b(page|row|said|setup|join|summary|harmony|kind|choice)\.[a-z-]+(\.[a-z-]+)*/) ?? [""])[0]`); key != "" {
				t.Errorf("%s in %s says %q", name, l.Name, key)
			}
			if tag := browser.Eval[string](b, "document.documentElement.lang"); tag != strings.TrimSuffix(l.Tag, "-GB") {
				t.Errorf("%s in %s is marked as %q", name, l.Name, tag)
			}
			if high := browser.Eval[float64](b, "document.documentElement.scrollHeight - innerHeight"); (name == "row" || name == "wall") && high > 1 {
				t.Errorf("%s in %s: %g px higher than the window", name, l.Name, high)
			}
			if name == "row" { // the tones of a chord in their tokens
				browser.Eval[bool](b, "document.getElementById('chord').click(); true")
				b.Until("the tones", "document.querySelectorAll('#board li').length > 0")
				if bad := browser.Eval[string](b, `[...document.querySelectorAll("#board .token small")].filter((e) => e.getBoundingClientRect().width > e.parentElement.getBoundingClientRect().width).map((e) => e.textContent).join()`); bad != "" {
					t.Errorf("%s is wider than its token in %s", bad, l.Name)
				}
			}
			b.Shot("language-" + l.Tag + "-" + name)
		}
	}
}
