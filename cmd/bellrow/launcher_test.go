package main

import (
	"context"
	"errors"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"bellrow/cmd/bellrow/start"
	"bellrow/proto/page/browser"
)

// launched serves a page of the launcher on ports of its own.
type launched struct {
	t    *testing.T
	url  string
	note string
	out  chan string
	done chan error
	stop context.CancelFunc
}

func launchHere(t *testing.T, show func(url string) error) *launched {
	t.Helper()
	before := showPage
	showPage = show
	t.Cleanup(func() { showPage = before })
	home := t.TempDir()
	t.Setenv("HOME", home)
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	w := &launched{t: t, note: filepath.Join(home, "started"), out: make(chan string, 16), done: make(chan error, 1), stop: stop}
	l := &launcher{env: env{strings.NewReader(""), lineWriter(w.out), testWriter{t}}, data: filepath.Join(home, "hub"), state: filepath.Join(home, "node"), listen: "127.0.0.1:0", phones: "127.0.0.1:0"}
	l.log = logger(l.env, false)
	go func() { w.done <- l.serve(ctx, listener, w.note) }()
	first := <-w.out
	_, w.url, _ = strings.Cut(strings.TrimSpace(strings.Split(first, "\n")[0]), "laptop: ")
	t.Cleanup(func() { stop(); <-w.done; close(w.done) })
	return w
}

type lineWriter chan string

func (w lineWriter) Write(p []byte) (int, error) {
	w <- string(p)
	return len(p), nil
}

// ended waits until the page is gone.
func (w *launched) ended() {
	w.t.Helper()
	if err := <-w.done; err != nil {
		w.t.Errorf("it ended with %v", err)
	}
	w.done <- nil // for Cleanup
	if start.Alive(w.t.Context(), w.url) {
		w.t.Error("the page is still there")
	}
	if _, err := os.Stat(w.note); err == nil {
		w.t.Error("the note of a running start is still there")
	}
}

// TestDoubleClick: from the page one leads a new section and plays in it, a
// second start finds the first, and the page ends it all.
func TestDoubleClick(t *testing.T) {
	if testing.Short() {
		t.Skip("starts a browser")
	}
	b := browser.Open(t)
	w := launchHere(t, func(string) error { return nil })
	b.Go(w.url)
	b.Until("the two ways in", `document.querySelectorAll("button.main").length === 2 && document.getElementById("sections").hidden`)
	b.Shot("start")

	browser.Eval[string](b, `document.getElementById("section").value = "Hill Brass"`)
	b.Run(chromedp.Click(chromedp.CSS("#lead button")))
	b.Until("a row to lead", `document.getElementById("lead-link").href !== ""`)
	if name := browser.Eval[string](b, `document.getElementById("lead-name").textContent`); name != "Hill Brass is open:" {
		t.Errorf("the page says %q, want that Hill Brass is open", name)
	}
	for _, id := range []string{"lead-link", "play-link"} {
		if id == "play-link" {
			b.Run(chromedp.Click(chromedp.CSS("#play button")))
			b.Until("a page to play", `document.getElementById("play-link").href !== ""`)
		}
		answer, err := http.Get(browser.Eval[string](b, `document.getElementById("`+id+`").href`))
		if err != nil {
			t.Fatal(err)
		}
		answer.Body.Close()
		if answer.StatusCode != http.StatusOK {
			t.Errorf("%s answers %d", id, answer.StatusCode)
		}
	}
	taken := strings.TrimPrefix(strings.Split(w.url, "/")[2], "http://")
	if l, url, err := firstHere(t.Context(), taken, w.note); l != nil || url != w.url || err != nil {
		t.Errorf("a second start finds %q (%v), want %q", url, err, w.url)
	}
	b.Shot("start-running")
	browser.Eval[bool](b, `document.getElementById("stop").click() === undefined`)
	w.ended()
	b.Until("the page to say so", `document.getElementById("notice").textContent.includes("has stopped")`)
}

// TestNoBrowser: where none opens the address stands in a text file until the
// end, and the page is for this laptop alone.
func TestNoBrowser(t *testing.T) {
	w := launchHere(t, func(string) error { return errors.New("there is none") })
	said := <-w.out
	_, rest, _ := strings.Cut(said, "stands in ")
	path, _, ok := strings.Cut(rest, ", too.")
	text, err := os.ReadFile(path)
	if !ok || err != nil || !strings.Contains(string(text), w.url) {
		t.Errorf("it says %q, and the file holds %q (%v)", said, text, err)
	}
	for name, change := range map[string]func(*http.Request){
		"another name": func(r *http.Request) { r.Host = "evil.example:7444" },
		"another site": func(r *http.Request) { r.Header.Set("Origin", "http://evil.example") },
		"no secret":    func(r *http.Request) { r.URL.Path = "/api/stop" },
	} {
		r, err := http.NewRequest(http.MethodPost, w.url+"api/stop", nil)
		if err != nil {
			t.Fatal(err)
		}
		change(r)
		answer, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		answer.Body.Close()
		if answer.StatusCode < 400 {
			t.Errorf("%s may stop it: %d", name, answer.StatusCode)
		}
	}
	if !start.Alive(t.Context(), w.url) {
		t.Fatal("it was stopped")
	}
	answer, err := http.Post(w.url+"api/lead", "application/x-www-form-urlencoded", strings.NewReader("section="+strings.Repeat("a", 100)))
	if err != nil {
		t.Fatal(err)
	}
	answer.Body.Close()
	if answer.StatusCode != http.StatusConflict {
		t.Errorf("a section's name of 100 letters: status %d", answer.StatusCode)
	}
	w.stop()
	w.ended()
	if _, err := os.Stat(path); err == nil {
		t.Error("the file with the address is still there")
	}
}

// TestFirstHere: an address that nobody answers at is no first start.
func TestFirstHere(t *testing.T) {
	other, err := net.Listen("tcp", "127.0.0.1:0") // some other program
	if err != nil {
		t.Fatal(err)
	}
	defer other.Close()
	note := filepath.Join(t.TempDir(), "started")
	if err := os.WriteFile(note, []byte("http://127.0.0.1:1/nobody/"), 0o600); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), 5*time.Minute)
	defer cancel()
	l, url, err := firstHere(ctx, other.Addr().String(), note)
	if err != nil || l == nil || url != "" {
		t.Fatalf("%v, %q, %v; want a page of its own", l, url, err)
	}
	l.Close()
}
