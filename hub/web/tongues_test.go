package web_test

import (
	"context"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/hub/access"
	"bellrow/hub/report"
	"bellrow/hub/web"
	"bellrow/hub/web/webtest"
	"bellrow/proto/instrument"
	"bellrow/proto/page/browser"
	"bellrow/proto/phrase"
	"bellrow/proto/phrase/heard"
	"bellrow/proto/pitch"
)

// routes are all that the sources of this package answer, as "GET /path".
func routes(t *testing.T) (all []string) {
	t.Helper()
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		source, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range regexp.MustCompile(`HandleFunc\("((?:GET|POST) /[^"{]*)"`).FindAllStringSubmatch(string(source), -1) {
			if m[1] != "GET /ws/row" && !strings.HasSuffix(f, "_test.go") {
				all = append(all, m[1])
			}
		}
	}
	for _, p := range []string{"/", "/join", "/wall", "/row", "/setup", "/summary", "/piece"} {
		all = append(all, "GET "+p)
	}
	if len(all) < 28 {
		t.Fatalf("%d routes were found in the sources", len(all))
	}
	return append(all, "GET /nowhere", "GET /api/chord?text=X+nonsense", "GET /api/chord?text=Cm7", "GET /api/chord?name=odd", "GET /api/evening?room=nose", "GET /api/evening?room=99+C",
		"GET /api/evening?room=26", "GET /report?since=tomorrow", "GET /report?since=all", "GET /report?chair=999", "GET /report.html?chair=odd", "GET /assets/nothing.js")
}

// bodies are what may be posted anywhere, most of it nonsense.
var bodies = []string{"", "{", "{}", `{"do":"odd"}`, `{"do":"admit","node":"n9"}`, `{"do":"call"}`, `{"do":"edit"}`, `{"do":"call","call":{"chord":"X nonsense","kind":"chord"}}`,
	"label,instrument\n", "label\nA\n", "label,instrument\n\"A", "label,instrument\n,horn_double\n", "label,instrument\nA,kazoo\n", "label,instrument,row\nA,horn_double,x\n",
	"label,instrument,slides\nA,horn_double,x\n", "a shopping list", `<!DOCTYPE a [<!ENTITY b "c">]><score-partwise></score-partwise>`, strings.Repeat("x", 2<<20),
	`<score-partwise><part-list><score-part id="P1"><part-name>Tuba</part-name></score-part></part-list><part id="P1"><measure number="1"/></part></score-partwise>`}

// written are the keys of JSON under which there are codes, figures of science, or what
// somebody typed; the pages show them in no sentence.
var written = []string{"chord", "part", "instrument", "tuning", "spelled", "source", "sources", "range", "score", "title", "work", "quality", "family", "alternates"}

// slideNames are the catalogue's names of slides.
var slideNames = func() (names []string) {
	for _, in := range instrument.Catalogue() {
		for _, s := range in.Slides {
			names = append(names, s.Name)
		}
	}
	return names
}()

// speaking is a section of four in a language.
func speaking(t *testing.T, tag string) (s *band, do func(hub.Command)) {
	s = newBand(t)
	sec := s.hub.Section()
	sec.Language, sec.Name = tag, "Kaimusik"
	sec.Notes, _ = pitch.ParseStyle(map[string]string{"de": "german", "fr": "french", "es": "spanish"}[tag])
	do = func(c hub.Command) {
		t.Helper()
		if err := s.hub.Command(t.Context(), c); err != nil {
			t.Fatalf("%s: %v", c.Do, err)
		}
	}
	do(hub.Command{Do: hub.DoEdit, Section: &sec})
	for i, in := range []instrument.ID{"trumpet_bb", "horn_double", "tenor_trombone_bb", "tuba_bbb"} {
		s.join(fmt.Sprint("Xenia", i), in, []pitch.Cents{12, -9, 5, 0}[i])
	}
	return s, do
}

// typed is what people wrote.
func (b *band) typed() []string {
	typed := []string{b.hub.Section().Name, "Quay at First Light"}
	for _, p := range b.players {
		typed = append(typed, p.name)
	}
	return typed
}

// TestNothingIsEnglish walks every route of a hub in every state of a tune-up and in
// each language, with sense and with nonsense, as the leader and as a stranger.
func TestNothingIsEnglish(t *testing.T) {
	quarter, err := os.ReadFile(quay)
	if err != nil {
		t.Fatal(err)
	}
	all := routes(t)
	for _, l := range phrase.Leader.Offered() {
		if strings.HasPrefix(l.Tag, "en") {
			continue
		}
		t.Run(l.Tag, func(t *testing.T) {
			s, do := speaking(t, l.Tag)
			door, err := access.New(access.Config{JoinCode: "K7M4QXWP"})
			if err != nil {
				t.Fatal(err)
			}
			sites := map[string]http.Handler{}
			for who, g := range map[string]webtest.Guard{"leader": {}, "stranger": {Closed: true}} {
				made, err := web.New(web.Config{Hub: s.hub, Guard: g, Catalogue: instrument.Band, Door: door,
					Report: func(context.Context, time.Time) (report.Report, error) { return season(s.hub.Section()), nil },
					Invitation: func() web.Invitation {
						return web.Invitation{Links: []string{"http://192.168.4.20:7440"}, Code: "K7M4QX"}
					}})
				if err != nil {
					t.Fatal(err)
				}
				sites[who] = made.Handler()
			}
			told := map[string]bool{}
			n := 0
			hear := func(state, who, route, body string) {
				method, path, _ := strings.Cut(route, " ")
				w := ask(sites[who], method, path, body)
				var texts []string
				switch kind, _, _ := strings.Cut(w.Header().Get("Content-Type"), ";"); kind {
				case "application/json":
					texts = heard.JSON(w.Body.Bytes(), written...)
				case "text/html":
					texts = heard.HTML(w.Body.String())
				}
				for _, text := range texts {
					n++
					typed := append(s.typed(), "X nonsense", "kazoo")
					if strings.HasPrefix(path, "/api/row") {
						typed = append(typed, slideNames...) // the page has other names for them
					}
					if e := heard.English(l.Tag, text, typed...); e != "" && !told[text] {
						told[text] = true
						t.Errorf("%s, %s asks for %s with %.40q: %q is English in %q", state, who, route, body, e, text)
					}
				}
			}
			walk := func(state string) {
				for _, route := range all {
					hear(state, "leader", strings.Replace(route, "POST", "GET", 1), "")
				}
			}
			for who := range sites {
				for _, route := range all {
					for _, body := range bodies {
						if strings.HasPrefix(route, "POST") {
							hear("before", who, route, body)
						}
					}
					hear("before", who, route, "")
				}
			}
			do(hub.Command{Do: hub.DoCall, Call: &hub.Call{Note: 70}})
			walk("called")
			s.playAll()
			walk("answered")
			s.obeyAll()
			walk("moved")
			s.playAll()
			walk("done")
			do(hub.Command{Do: hub.DoCall, Call: &hub.Call{Kind: hub.CallChord, Chord: "Bb major", Together: true}})
			walk("chord")
			s.playAll()
			walk("chord heard")
			do(hub.Command{Do: hub.DoListen})
			walk("listening")
			do(hub.Command{Do: hub.DoBend})
			walk("bend")
			do(hub.Command{Do: hub.DoWatch})
			walk("watched")
			do(hub.Command{Do: hub.DoEnd})
			if w := ask(sites["leader"], "POST", "/api/piece", string(quarter)); w.Code != http.StatusOK {
				t.Fatalf("the piece: %d %s", w.Code, w.Body)
			}
			walk("piece")
			do(hub.Command{Do: hub.DoNextSonority})
			walk("in the piece")
			if n < 2000 {
				t.Errorf("%d texts were heard", n)
			}
		})
	}
}

// TestNoScriptIsEnglish: what the pages' scripts draw is in the section's language, too,
// and nothing is cut, neither in these languages nor in words two fifths longer.
func TestNoScriptIsEnglish(t *testing.T) {
	b := browser.Open(t)
	for _, l := range append(phrase.Leader.Offered(), phrase.Long) {
		if l.Tag == "en-GB" || l.Tag == "en-US" {
			continue
		}
		s, do := speaking(t, l.Tag)
		b.Size(1366, 768)
		s.enter(b)
		see := func(state, path, ready, open string) {
			b.Go(s.url + path)
			b.Until(state, ready)
			if open != "" {
				browser.Eval[bool](b, open+"; true")
			}
			settle(b)
			for _, text := range heard.HTML(browser.Eval[string](b, "document.documentElement.outerHTML")) {
				if e := heard.English(l.Tag, text, s.typed()...); e != "" && l.Tag != phrase.Long.Tag {
					t.Errorf("%s in %s: %q is English in %q", state, l.Name, e, text)
				}
			}
			for name, size := range map[string][2]int64{"telephone": {390, 844}, "laptop": {1366, 768}, "projector": {1920, 1080}} {
				b.Size(size[0], size[1])
				settle(b)
				if wide := browser.Eval[float64](b, "document.documentElement.scrollWidth - innerWidth"); wide > 0 {
					t.Errorf("%s in %s on a %s: %g px wider than the window", state, l.Name, name, wide)
				}
				if path == "/row" || path == "/wall" {
					if bad := browser.Eval[string](b, faults); bad != "" {
						t.Errorf("%s in %s on a %s: %s", state, l.Name, name, bad)
					}
				}
				b.Shot("tongue-" + l.Tag + "-" + state + "-" + name)
			}
			b.Size(1366, 768)
		}
		row := "document.querySelectorAll('li.line').length === 4"
		see("begin", "/row", row, "")
		see("keys", "/row", row, "document.getElementById('keys').showModal()")
		see("setup", "/setup", "document.querySelectorAll('.seat').length === 4", "document.querySelectorAll('details').forEach((d) => d.open = true)")
		do(hub.Command{Do: hub.DoCall, Call: &hub.Call{Note: 70}})
		see("called", "/row", row, "")
		s.playAll()
		see("answered", "/row", row, "document.querySelector('.chair').click()")
		see("wall", "/wall", row, "")
		s.obeyAll()
		s.playAll()
		see("summary", "/summary", "document.querySelectorAll('tbody tr').length === 4", "")
		see("tones", "/row", row, "document.getElementById('chord').click()")
		do(hub.Command{Do: hub.DoCall, Call: &hub.Call{Kind: hub.CallChord, Chord: "Bb major", Together: true}})
		s.players[0].cents = 9
		s.playAll()
		see("chord", "/row", row, "document.querySelector('.chair').click()")
		do(hub.Command{Do: hub.DoListen})
		see("listen", "/row", row, "")
		do(hub.Command{Do: hub.DoBend})
		see("bend", "/row", row, "")
		do(hub.Command{Do: hub.DoWatch})
		see("watch", "/row", row, "")
		do(hub.Command{Do: hub.DoEnd})
		see("no-piece", "/piece", "!document.getElementById('none').hidden", "")
		file, err := os.Open(quay)
		if err != nil {
			t.Fatal(err)
		}
		err = s.hub.LoadPiece(t.Context(), file)
		file.Close()
		if err != nil {
			t.Fatal(err)
		}
		see("piece", "/piece", "document.querySelectorAll('#chords > li').length === 8 && !document.getElementById('in-plan').hidden", "")
		see("report", "/report", "document.querySelector('main.report h2')", "document.querySelectorAll('details').forEach((d) => d.open = true)")
		do(hub.Command{Do: hub.DoNextSonority})
		see("piece-called", "/row", row, "")
		see("join", "/", "document.querySelector('#code:not([hidden])')?.textContent", "")
	}
}
