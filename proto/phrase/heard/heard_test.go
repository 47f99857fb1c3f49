package heard_test

import (
	"slices"
	"testing"

	"bellrow/proto/phrase"
	"bellrow/proto/phrase/heard"
)

// TestTheTextsThemselves: no text of another language has an English word, and every
// English one of three words and more is heard.
func TestTheTextsThemselves(t *testing.T) {
	for _, l := range phrase.Leader.Offered() {
		if l.Tag == "en-GB" || l.Tag == "en-US" {
			continue
		}
		for key, text := range phrase.Leader.In(l.Tag, phrase.Tongue{}.Notes).Texts() {
			s, _ := text.(string)
			if e := heard.English(l.Tag, s); e != "" {
				t.Errorf("%s: %s has %q: %q", l.Tag, key, e, s)
			}
		}
		for key, text := range (phrase.Tongue{}).Texts("refusal", "problem", "said", "again", "start") {
			if s, ok := text.(string); ok && len(s) > 30 && heard.English(l.Tag, s) == "" {
				t.Errorf("%s: nothing English is heard in %s: %q", l.Tag, key, s)
			}
		}
	}
}

// TestPlaces: what is read, and where it stands.
func TestPlaces(t *testing.T) {
	page := `<html><script>let a = "the code"</script><title>The row</title><p title="the tip">Hör <b>zu</b><input placeholder="the place" aria-label="the label"></p>
<script type="application/json">{"a": "the words"}</script><code>the file</code>`
	got := heard.HTML(page)
	for _, want := range []string{"The row", "the tip", "Hör", "zu", "the place", "the label", "the words"} {
		if !slices.Contains(got, want) {
			t.Errorf("%q is not in %q", want, got)
		}
	}
	if len(got) != 7 {
		t.Errorf("%q", got)
	}
	if got := heard.JSON([]byte(`{"code": "not found", "message": "a b", "list": [{"hint": "c d"}, "word"]}`), "code"); len(got) != 2 {
		t.Errorf("%q", got)
	}
	if heard.English("de", "Kim and Lo: Zieh den Zug.", "Kim and Lo") != "" || heard.English("de", "Kim and Lo") != "and" {
		t.Error("what was typed is not told from the rest")
	}
}
