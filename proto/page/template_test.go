package page_test

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync"
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

// TestEachReaderHasTheirLanguage: whoever asks for a page at the same time gets it in their own language, and what was
// written anew on the disk is seen at the next look.
func TestEachReaderHasTheirLanguage(t *testing.T) {
	dir := t.TempDir()
	write := func(text string) {
		if err := os.WriteFile(filepath.Join(dir, "p.html"), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	f := page.Open(nil, dir)
	serve := func(v voice, data any) string {
		w := httptest.NewRecorder()
		if _, err := f.ServePage(w, httptest.NewRequest(http.MethodGet, "/", nil), "p.html", v, data); err != nil {
			t.Error(err)
		}
		return w.Body.String()
	}
	for _, around := range []string{"<p>%s %d</p>", "<i>%s, %d</i>"} {
		write(strings.NewReplacer("%s", `{{say "a"}}`, "%d", "{{.}}").Replace(around))
		var readers sync.WaitGroup
		for i := range 40 {
			readers.Go(func() {
				said := fmt.Sprint("word ", i%7)
				if got, want := serve(voice{"a": said}, i), fmt.Sprintf(around, said, i); got != want {
					t.Errorf("got %s, want %s", got, want)
				}
			})
		}
		readers.Wait()
	}
	write("{{say")
	if _, err := f.ServePage(httptest.NewRecorder(), httptest.NewRequest(http.MethodGet, "/", nil), "p.html", voice{}, nil); err == nil {
		t.Error("half a page is served")
	}
	write("{{lang}}")
	if got := serve(voice{}, nil); got != "tlh" {
		t.Errorf("mended, it is %q", got)
	}
}
