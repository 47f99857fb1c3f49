package page_test

import (
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"bellrow/proto/page"
)

// voice speaks a language of its own.
type voice map[string]string

func (voice) Language() string                     { return "tlh" }
func (v voice) Say(key string, _ ...any) string    { return v[key] }
func (v voice) Texts(...string) (t map[string]any) { return map[string]any{"a.b": v["a.b"]} }

// TestServePage: texts are escaped wherever they stand, but for their own marks.
func TestServePage(t *testing.T) {
	dir := t.TempDir()
	const text = `<html lang="{{lang}}"><p title="{{say "a.b"}}">{{say "a.b"}}</p><p>{{mark "a.c" "/to?x=1&y"}}</p><script type="application/json" id="words">{{words "a"}}</script>{{.}}`
	if err := os.WriteFile(filepath.Join(dir, "p.html"), []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	f := page.Open(nil, dir)
	serve := func(name string, v voice) (string, bool, error) {
		w := httptest.NewRecorder()
		there, err := f.ServePage(w, httptest.NewRequest(http.MethodGet, "/", nil), name, v, "data")
		return w.Body.String(), there, err
	}
	got, there, err := serve("p.html", voice{"a.b": `</script>"<i>`, "a.c": `<b>b</b> <i> <a>there</a>`})
	need := `<html lang="tlh"><p title="&lt;/script&gt;&#34;&lt;i&gt;">&lt;/script&gt;&#34;&lt;i&gt;</p><p><b>b</b> &lt;i&gt; <a href="/to?x=1&amp;y">there</a></p><script type="application/json" id="words">{"a.b":"\u003c/script\u003e\"\u003ci\u003e"}</script>data`
	if got != need || !there || err != nil {
		t.Errorf("got  %s (%v, %v)\nneed %s", got, there, err, need)
	}
	if _, there, err := serve("q.html", nil); there || err != nil {
		t.Errorf("a page that is not there: %v, %v", there, err)
	}
	if got, _, err := serve("p.html", voice{"a.c": "no link"}); err == nil || strings.Contains(got, "no link") {
		t.Errorf("a text without its link: %q, %v", got, err)
	}
}
