package web_test

import (
	"net/http/httptest"
	"os"
	"strings"
	"testing"

	"bellrow/hub"
	"bellrow/hub/web"
	"bellrow/hub/web/webtest"
	"bellrow/proto/instrument"
	"bellrow/proto/page/browser"
)

func serve(t testing.TB, h web.Hub, g web.Guard) string {
	t.Helper()
	s, err := web.New(web.Config{Hub: h, Guard: g, Catalogue: catalogue, Invitation: func() web.Invitation {
		return web.Invitation{Links: []string{"http://192.168.4.20:7440", "http://bellrow.local:7440"}, Code: "K7M4QX"}
	}})
	if err != nil {
		t.Fatal(err)
	}
	srv := httptest.NewServer(s.Handler())
	t.Cleanup(srv.Close)
	return srv.URL
}

func catalogue() []*instrument.Instrument { return instrument.Catalogue() }

type size struct {
	name          string
	width, height int64
}

var sizes = []size{{"360", 360, 740}, {"820", 820, 1180}, {"1366", 1366, 768}, {"1920", 1920, 1080},
	{"zoom200", 683, 384}, {"zoom400", 342, 192}, // 1366 by 768 at 200 and 400 % (WCAG 2.2, 1.4.4 and 1.4.10)
}

// sizesToShow are all sizes when somebody looks at the screenshots, and the
// narrowest, a laptop's and twice enlarged when only the layout is checked.
func sizesToShow(sizes []size) []size {
	if os.Getenv(browser.Artefacts) != "" {
		return sizes
	}
	return []size{sizes[0], sizes[2], sizes[4], sizes[5]}
}

// TestScreens opens every page in every scene, size and theme, and writes
// screenshots for somebody to look at.
func TestScreens(t *testing.T) {
	b := browser.Open(t)
	for _, s := range []struct {
		name, path string
		chairs     int
		scene      webtest.Scene
		ready      string
		open       string // script that opens something
	}{
		{"row-midway", "/row", 12, webtest.Midway, "document.querySelector('.line')", ""},
		{"row-groups", "/row", 12, webtest.Midway, "document.querySelector('.line')", "document.getElementById('by-groups').click()"},
		{"wall-groups", "/wall", 12, webtest.Midway, "document.querySelector('.line')", "document.getElementById('by-groups').click()"},
		{"row-open", "/row", 12, webtest.Midway, "document.querySelector('.line')", "document.querySelectorAll('.chair')[4].click()"},
		{"row-chords", "/row", 12, webtest.Midway, "document.querySelector('.line')", "document.getElementById('chord').click()"},
		{"row-keys", "/row", 12, webtest.Midway, "document.querySelector('.line')", "document.getElementById('keys').showModal()"},
		{"row-before", "/row", 12, webtest.Before, "document.querySelector('.line')", ""},
		{"row-room", "/row", 12, webtest.Room, "document.querySelector('.line')", ""},
		{"row-trouble", "/row", 12, webtest.Trouble, "document.querySelector('.line')", ""},
		{"arc-midway", "/row", 12, webtest.Midway, "document.querySelector('.line')", ""},
		{"arc-open", "/row", 12, webtest.Midway, "document.querySelector('.line')", "document.querySelectorAll('.chair')[4].click()"},
		{"row-many", "/row", 120, webtest.Midway, "document.querySelector('.line')", ""},
		{"row-empty", "/row", 0, webtest.Before, "document.querySelector('#empty:not([hidden])')", ""},
		{"join", "/", 12, webtest.Before, "document.querySelector('#code:not([hidden])').textContent", ""},
		{"setup", "/setup", 12, webtest.Before, "document.querySelector('.seat')", "document.querySelector('details').open = true"},
		{"summary", "/summary", 12, webtest.Done, "document.querySelector('tbody tr')", ""},
		{"wall-many", "/wall", 120, webtest.Midway, "document.querySelector('.line')", ""},
		{"wall-two", "/wall", 26, webtest.Midway, "document.querySelector('.line')", ""},
		{"wall-midway", "/wall", 12, webtest.Midway, "document.querySelector('.line')", ""},
		{"wall-done", "/wall", 12, webtest.Done, "document.querySelector('.line')", ""},
	} {
		h := webtest.New(s.chairs, s.scene)
		h.SetSection(func(sec *hub.Section) { sec.Arc = strings.HasPrefix(s.name, "arc") })
		url := serve(t, h, webtest.Guard{})
		b.Go(url + s.path)
		b.Until(s.name+" shown", s.ready)
		if s.open != "" {
			browser.Eval[bool](b, s.open+"; true")
		}
		for _, size := range sizesToShow(sizes) {
			b.Size(size.width, size.height)
			browser.Eval[bool](b, "scrollTo(0, 0); true")
			if w := browser.Eval[float64](b, "document.documentElement.scrollWidth"); w > float64(size.width) {
				t.Errorf("%s at %s px is %g px wide and would scroll sideways", s.name, size.name, w)
			}
			b.Theme("paper")
			b.Shot(s.name + "-" + size.name + "-paper")
			if size.width >= 1366 {
				b.Theme("stage")
				b.Shot(s.name + "-" + size.name + "-stage")
			}
		}
	}
}
