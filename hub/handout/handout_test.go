package handout_test

import (
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"bellrow/hub/handout"
	"bellrow/proto/phrase"
	"bellrow/proto/phrase/heard"
	"bellrow/proto/pitch"
)

func get(t *testing.T, h *handout.Handout, path string) (*http.Response, string) {
	t.Helper()
	s := httptest.NewServer(h.Handler())
	defer s.Close()
	answer, err := http.Get(s.URL + path)
	if err != nil {
		t.Fatal(err)
	}
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	if err != nil {
		t.Fatal(err)
	}
	return answer, string(body)
}

// TestHowToStartSpeaks: how to start it stands there in every language in which packages
// are handed out, none of it in English, with the same steps and commands; /get/ leads to
// the browser's.
func TestHowToStartSpeaks(t *testing.T) {
	h := handout.New(t.TempDir())
	_, all := get(t, h, "/get/how.html")
	article := func(tag string) string {
		_, rest, _ := strings.Cut(all, `<article id="`+tag+`" lang="`+tag+`">`)
		text, _, found := strings.Cut(rest, "</article>")
		if !found {
			t.Errorf("it is not there in %s", tag)
		}
		return text
	}
	marks := func(text string) []string {
		return regexp.MustCompile(`<code>.*?</code>|</?[a-z0-9]+>`).FindAllString(text, -1)
	}
	for _, l := range phrase.Get.Offered() {
		tag, _, _ := strings.Cut(l.Tag, "-")
		text := article(tag)
		if got, want := marks(text), marks(article("en")); !slices.Equal(got, want) {
			t.Errorf("%s: %d marks, want %d: the steps or commands differ", tag, len(got), len(want))
		}
		tongue := phrase.Start.In(l.Tag, pitch.Style{})
		for _, key := range []string{"start.play", "start.lead", "start.stop"} {
			if !strings.Contains(text, "<em>"+tongue.Say(key)+"</em>") {
				t.Errorf("%s: the page of a double click says %q", tag, tongue.Say(key))
			}
		}
		for _, said := range heard.HTML(text) {
			if e := heard.English(l.Tag, said); e != "" && tag != "en" {
				t.Errorf("%s: %q is English in %q", tag, e, said)
			}
		}
		r := httptest.NewRequest("GET", "/get/", nil)
		r.Header.Set("Accept-Language", l.Tag)
		w := httptest.NewRecorder()
		h.Handler().ServeHTTP(w, r)
		if !strings.Contains(w.Body.String(), `href="how.html#`+tag) {
			t.Errorf("%s: /get/ leads elsewhere: %s", tag, w.Body)
		}
	}
}

// TestHandsOutPackagesAlone: what cmd/package makes is offered, one of each
// kind, and nothing else that lies there.
func TestHandsOutPackagesAlone(t *testing.T) {
	beside := t.TempDir()
	folders := handout.Folders(filepath.Join(beside, "bellrow"))
	if err := os.Mkdir(folders[0], 0o700); err != nil {
		t.Fatal(err)
	}
	write := func(dir, name string, old time.Duration) {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte("of "+name), 0o600); err != nil {
			t.Fatal(err)
		}
		at := time.Now().Add(-old)
		if err := os.Chtimes(path, at, at); err != nil {
			t.Fatal(err)
		}
	}
	h := handout.New(folders...)
	if _, body := get(t, h, "/get/"); !strings.Contains(body, "has no packages") || !strings.Contains(body, "how.html") {
		t.Errorf("without packages the page says %q", body)
	}
	write(beside, "bellrow_1.2.3_windows_amd64.zip", time.Hour)
	write(beside, "bellrow_1.10.0_windows_amd64.zip", 0)
	write(beside, "bellrow-1.2.3-1.x86_64.rpm", 0)
	write(beside, "bellrow.db", 0)
	write(beside, "SHA256SUMS", 0)
	write(folders[0], "bellrow_0.0.0+abc_amd64.deb", 0)
	if err := os.Symlink("/etc/passwd", filepath.Join(beside, "bellrow_1.2.3_macos.zip")); err != nil {
		t.Fatal(err)
	}
	_, body := get(t, h, "/get/list.json")
	var list []handout.Package
	if err := json.Unmarshal([]byte(body), &list); err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, p := range list {
		names = append(names, p.Name)
	}
	if got, want := strings.Join(names, " "), "bellrow_1.10.0_windows_amd64.zip bellrow_0.0.0+abc_amd64.deb bellrow-1.2.3-1.x86_64.rpm"; got != want {
		t.Errorf("offered are %s, want %s", got, want)
	}
	for _, name := range append(names, "SHA256SUMS") {
		if answer, body := get(t, h, "/get/"+name); answer.StatusCode != http.StatusOK || body != "of "+name {
			t.Errorf("%s: %d, %q", name, answer.StatusCode, body)
		}
	}
	for _, name := range []string{"bellrow.db", "bellrow_1.2.3_macos.zip", "..%2fbellrow.db", "bellrow_1.2.3_windows_amd64.zip", "packages", "nothing"} {
		if answer, _ := get(t, h, "/get/"+name); answer.StatusCode != http.StatusNotFound {
			t.Errorf("%s: %d, want not found", name, answer.StatusCode)
		}
	}
	if _, body := get(t, h, "/get/"); !strings.Contains(body, "bellrow_1.10.0_windows_amd64.zip") {
		t.Error("the page lacks a package")
	}
	if _, body := get(t, h, "/get/how.html"); !strings.Contains(body, "Run anyway") || !strings.Contains(body, "from memory") {
		t.Error("the page on starting it lacks what Windows asks, or where that is from")
	}
}
