package main

import (
	"context"
	"embed"
	"errors"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"bellrow/cmd/bellrow/plain"
	"bellrow/cmd/bellrow/start"
	"bellrow/hub"
	"bellrow/hub/handout"
	"bellrow/node/remote"
	"bellrow/proto/page"
	"bellrow/proto/page/browser"
	"bellrow/proto/phrase"
	"bellrow/proto/phrase/heard"
)

// double stands for what a double click can do here, and cannot.
type double struct{ fault error }

func (d double) Known(context.Context) start.Known {
	return start.Known{Hubs: []start.Hub{{Name: "Quay", Address: "192.168.4.20:7440"}, {Address: "192.168.4.21:7440"}}, Sections: []string{"Quay"}, Player: "Esme", Instrument: "Trumpet in B flat", Fault: d.fault}
}
func (d double) Lead(context.Context, string) (string, error) { return "", d.fault }
func (d double) Play(context.Context, string) (string, error) { return "", d.fault }

// faults are what may keep a section or a seat from opening.
func faults(t *testing.T) (all []error) {
	for _, err := range []error{hub.ErrNewer, hub.ErrInUse, hub.ErrDamaged, hub.ErrReadOnly, hub.ErrFull, errors.New("odd")} {
		all = append(all, storeError("/srv/quay", err))
	}
	l := &launcher{ctx: t.Context(), data: t.TempDir(), state: t.TempDir()}
	_, long := l.Lead(t.Context(), strings.Repeat("x", 500))
	_, nowhere := l.Play(t.Context(), "http://[")
	return append(all, long, nowhere, listenError(":7440", errors.New("odd")), microphoneError(errors.New("odd")), errors.New("what nobody foresaw"))
}

// TestNothingIsEnglish: the page of a double click, the door of telephones and the
// page that hands bellrow out speak the browser's language, what they refuse too.
func TestNothingIsEnglish(t *testing.T) {
	lobby, err := remote.New(remote.Config{Admit: func(_ *http.Request, code string) error {
		if code == "wrong" {
			return errors.New("wrong")
		}
		return nil
	}, New: func(string, string) (remote.Player, error) { return nil, errors.New("no node") }})
	if err != nil {
		t.Fatal(err)
	}
	packages := t.TempDir()
	for _, name := range []string{"bellrow_1.2.3_windows_amd64.zip", "bellrow_1.2.3_linux_arm64.tar.gz"} {
		if err := os.WriteFile(filepath.Join(packages, name), []byte("x"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for _, l := range phrase.Start.Offered() {
		if strings.HasPrefix(l.Tag, "en") {
			continue
		}
		n := 0
		hear := func(site http.Handler, method, path string, form url.Values) {
			t.Helper()
			r := httptest.NewRequest(method, path, strings.NewReader(form.Encode()))
			r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
			if form.Has("json") {
				r = httptest.NewRequest(method, path, strings.NewReader(form.Get("json")))
			}
			r.Host = "127.0.0.1:7441"
			if form.Has("host") {
				r.Host = form.Get("host")
			}
			r.Header.Set("Accept-Language", l.Tag+",en;q=0.5")
			w := httptest.NewRecorder()
			site.ServeHTTP(w, r)
			texts := []string{w.Body.String()}
			switch kind, _, _ := strings.Cut(w.Header().Get("Content-Type"), ";"); kind {
			case "application/json":
				texts = heard.JSON(w.Body.Bytes())
			case "text/html":
				texts = heard.HTML(w.Body.String())
			}
			for _, text := range texts {
				n++
				if e := heard.English(l.Tag, text); e != "" {
					t.Errorf("%s: %s %s: %q is English in %q", l.Tag, method, path, e, text)
				}
			}
		}
		for _, fault := range faults(t) {
			if fault == nil {
				t.Fatal("something works that should not")
			}
			s := start.New(double{fault}, time.Now)
			at, err := url.Parse(s.URL(address("127.0.0.1:7441")))
			if err != nil {
				t.Fatal(err)
			}
			hear(s.Handler(), "GET", at.Path, nil)
			hear(s.Handler(), "GET", at.Path+"api/known", nil)
			hear(s.Handler(), "POST", at.Path+"api/lead", nil)
			hear(s.Handler(), "POST", at.Path+"api/play", nil)
			hear(s.Handler(), "GET", at.Path, url.Values{"host": {"quay.example"}})
			if said := plain.In(fault, phrase.Tongue{}); strings.Contains(said, "start.fault") || said == "" {
				t.Errorf("in English %q", said)
			}
		}
		hear(lobby.Handler(), "GET", "/", nil)
		hear(lobby.Handler(), "POST", "/nowhere/x", nil)
		for _, body := range []string{"{", `{"code":"wrong"}`, `{"code":"right"}`} {
			hear(lobby.Handler(), "POST", "/enter", url.Values{"json": {body}})
		}
		hear(handout.New(packages).Handler(), "GET", handout.Path, nil)
		hear(handout.New(packages).Handler(), "GET", handout.Path+"list.json", nil)
		hear(handout.New(t.TempDir()).Handler(), "GET", handout.Path, nil)
		if n < 300 {
			t.Errorf("%s: %d texts were heard", l.Tag, n)
		}
	}
}

// address is an address of a listener.
type address string

func (a address) Network() string { return "tcp" }
func (a address) String() string  { return string(a) }

// TestStartAndDoorFit: in each language, and in words two fifths longer, nothing of the
// page of a double click, the door and the handing out is cut or wider than a telephone
// or a laptop.
func TestStartAndDoorFit(t *testing.T) {
	lobby, err := remote.New(remote.Config{Admit: func(*http.Request, string) error { return nil }, New: func(string, string) (remote.Player, error) { return nil, errors.New("no node") }})
	if err != nil {
		t.Fatal(err)
	}
	packages := t.TempDir()
	for _, name := range []string{"bellrow_1.2.3_windows_arm64.zip", "bellrow_1.2.3_arm64.deb", "bellrow-1.2.3-1.aarch64.rpm", "bellrow_1.2.3_linux_arm64.tar.gz"} {
		if err := os.WriteFile(filepath.Join(packages, name), []byte("x"), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	files := page.Open(embed.FS{}, filepath.Join("..", "..", "hub", "web", "assets"))
	b := browser.Open(t)
	for _, l := range append(phrase.Start.Offered(), phrase.Long) {
		s := start.New(double{storeError("/srv/quay", hub.ErrDamaged)}, time.Now)
		mux := http.NewServeMux()
		mux.Handle("/door/", http.StripPrefix("/door", lobby.Handler()))
		mux.Handle("/get/", handout.New(packages).Handler())
		mux.HandleFunc("/assets/{name}", func(w http.ResponseWriter, r *http.Request) { files.Serve(w, r, r.PathValue("name")) })
		mux.Handle("/", s.Handler())
		srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			r.Header.Set("Accept-Language", l.Tag)
			mux.ServeHTTP(w, r)
		}))
		t.Cleanup(srv.Close)
		for name, at := range map[string]string{"start": s.URL(srv.Listener.Addr()), "door": srv.URL + "/door/", "get": srv.URL + "/get/", "how": srv.URL + "/get/how.html#" + l.Tag} {
			b.Go(at)
			b.Until(name, "document.querySelector('h1')?.textContent")
			if want := map[string]string{"start": "start.what", "door": "door.title", "get": "get.title"}[name]; l.Tag == phrase.Long.Tag && want != "" && browser.Eval[string](b, "document.querySelector('h1').textContent") != phrase.Longer(phrase.Tongue{}.Say(want)) {
				t.Errorf("%s is not in longer words", name)
			}
			for _, size := range [][2]int64{{390, 844}, {1366, 768}} {
				b.Size(size[0], size[1])
				if wide := browser.Eval[float64](b, "document.documentElement.scrollWidth - innerWidth"); wide > 0 {
					t.Errorf("%s in %s at %d: %g px too wide", name, l.Name, size[0], wide)
				}
				if bad := browser.Eval[string](b, browser.Faults); bad != "" {
					t.Errorf("%s in %s at %d: %s", name, l.Name, size[0], bad)
				}
				b.Shot("tongue-" + l.Tag + "-" + name + map[int64]string{390: "-telephone", 1366: "-laptop"}[size[0]])
			}
		}
	}
}
