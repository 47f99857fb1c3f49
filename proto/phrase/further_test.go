package phrase

import (
	"slices"
	"strings"
	"testing"

	"bellrow/proto/pitch"
)

// TestAFurtherLanguage: a made-up language, whose texts are the English ones behind a
// sign, is offered, found by a browser that asks for it and spoken, once its texts stand
// in Languages; with one text less it is not offered.
func TestAFurtherLanguage(t *testing.T) {
	before := Languages
	defer func() { Languages, voices = before, speakers() }()
	made := english.each(func(s string) string { return "¤" + s })
	offered := func() *Page {
		Languages = append(slices.Clip(before), Language{Tag: "eo", Name: "Esperanto", texts: made})
		voices = speakers()
		return newPage(Leader.areas...)
	}
	page := offered()
	if got := page.Match("eo, de;q=0.5"); got != "eo" {
		t.Fatalf("a browser that asks for it gets %q", got)
	}
	speaks := page.In("eo", pitch.Style{})
	for key, text := range english {
		if !page.holds(key) {
			continue
		}
		var said string
		if c, counts := text.(counted); counts {
			said = speaks.Say(key, slices.Repeat([]any{2}, max(c.arg, 12))...)
		} else {
			said = speaks.Say(key)
		}
		if !strings.HasPrefix(said, "¤") {
			t.Errorf("%s is said %q", key, said)
		}
	}
	if speaks.Language() != "eo" || len(page.Offered()) != len(before)+1 {
		t.Errorf("%q of %d languages", speaks.Language(), len(page.Offered()))
	}
	delete(made, "said.begin")
	if got := offered().Match("eo, de;q=0.5"); got != "de" {
		t.Errorf("with a text missing that browser gets %q", got)
	}
}
