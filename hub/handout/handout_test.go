package handout_test

import (
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"bellrow/hub/handout"
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
