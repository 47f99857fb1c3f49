package player_test

import (
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"

	"bellrow/node/player"
	"bellrow/proto/instrument"
	"bellrow/proto/page"
)

// TestGuard asks the page as it may be asked and as it may not: by another
// name (DNS rebinding), from another page, and without the token.
func TestGuard(t *testing.T) {
	s, err := player.New(player.Config{Node: &fake{}})
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		name                       string
		method, path, host, origin string
		want                       int
	}{
		{"the page", "GET", s.Path(), "127.0.0.1:7441", "", http.StatusOK},
		{"by name", "GET", s.Path(), "localhost:7441", "", http.StatusOK},
		{"by IPv6", "GET", s.Path(), "[::1]:7441", "", http.StatusOK},
		{"a script of the page", "GET", s.Path() + "player.js", "localhost:7441", "", http.StatusOK},
		{"a shared style", "GET", s.Path() + "look.css", "localhost:7441", "", http.StatusOK},
		{"a post of the page", "POST", s.Path() + "api/pause", "localhost:7441", "http://localhost:7441", http.StatusOK},
		{"rebound name", "GET", s.Path(), "evil.example", "", http.StatusMisdirectedRequest},
		{"address of the network", "GET", s.Path(), "192.168.4.20:7441", "", http.StatusMisdirectedRequest},
		{"post of another page", "POST", s.Path() + "api/pause", "localhost:7441", "http://evil.example", http.StatusForbidden},
		{"post of another port", "POST", s.Path() + "api/pause", "localhost:7441", "http://localhost:9999", http.StatusForbidden},
		{"socket of another page", "GET", s.Path() + "ws", "localhost:7441", "http://evil.example", http.StatusForbidden},
		{"no token", "GET", "/", "localhost:7441", "", http.StatusNotFound},
		{"wrong token", "GET", "/AAAAAAAAAAAAAAAAAAAAAAAAAA/", "localhost:7441", "", http.StatusNotFound},
		{"outside the files", "GET", s.Path() + "..%2fserver.go", "localhost:7441", "", http.StatusNotFound},
	} {
		t.Run(tt.name, func(t *testing.T) {
			r := httptest.NewRequest(tt.method, tt.path, strings.NewReader(`{"on":true}`))
			r.Host = tt.host
			if tt.origin != "" {
				r.Header.Set("Origin", tt.origin)
			}
			w := httptest.NewRecorder()
			s.Handler().ServeHTTP(w, r)
			if w.Code != tt.want {
				t.Errorf("%s %s for %s from %q: %d, need %d", tt.method, tt.path, tt.host, tt.origin, w.Code, tt.want)
			}
			if got := w.Header().Get("Content-Security-Policy"); got != page.Policy {
				t.Errorf("policy %q, need %q", got, page.Policy)
			}
		})
	}
}

// TestTokens are new for each page and long enough not to be guessed.
func TestTokens(t *testing.T) {
	a, _ := player.New(player.Config{Node: &fake{}})
	b, _ := player.New(player.Config{Node: &fake{}})
	if a.Path() == b.Path() || len(a.Path()) < 26 {
		t.Errorf("paths %q and %q, need two different long ones", a.Path(), b.Path())
	}
}

// TestRefusals gives each post something it must not take.
func TestRefusals(t *testing.T) {
	for _, tt := range []struct{ path, body, code string }{
		{"api/join", `{"name":"Esme"}`, "no-instrument"},
		{"api/join", `{"instrument":"trumpet_bb","name":"  "}`, "no-name"},
		{"api/setting", `{"slide":"main","mm":-1}`, "bad-length"},
		{"api/setting", `{"slide":"main","mm":1e9}`, "bad-length"},
		{"api/setting", `{"mm":4}`, "bad-length"},
		{"api/setting", `{"slide":"main","mm":60,"travel_mm":50}`, "beyond-travel"},
		{"api/moved", `{}`, "no-move"},
		{"api/pause", `not json`, "bad-request"},
		{"api/pause", `{"on":true,"x":"` + strings.Repeat("x", 9000) + `"}`, "bad-request"},
	} {
		n := &fake{}
		s, _ := player.New(player.Config{Node: n})
		r := httptest.NewRequest("POST", s.Path()+tt.path, strings.NewReader(tt.body))
		r.Host = "localhost"
		w := httptest.NewRecorder()
		s.Handler().ServeHTTP(w, r)
		if w.Code < 400 || !strings.Contains(w.Body.String(), `"code":"`+tt.code+`"`) {
			t.Errorf("%s with %.40s: %d %s, need a refusal with code %s", tt.path, tt.body, w.Code, w.Body, tt.code)
		}
		if len(n.settings)+len(n.wishes)+len(n.paused) > 0 {
			t.Errorf("%s with %.40s reached the node", tt.path, tt.body)
		}
	}
}

// TestLinkInAnyField: the players' link counts, whichever field it is in.
func TestLinkInAnyField(t *testing.T) {
	const link = "http://192.168.4.20:7440/join#code=ABCDEFGH"
	for _, body := range []string{
		`{"instrument":"trumpet_bb","name":"Esme","code":" ` + link + ` "}`,
		`{"instrument":"trumpet_bb","name":"Esme","part":"` + link + `"}`,
		`{"instrument":"trumpet_bb","name":"Esme","hub":"` + link + `"}`,
	} {
		n := &fake{}
		s, _ := player.New(player.Config{Node: n})
		r := httptest.NewRequest("POST", s.Path()+"api/join", strings.NewReader(body))
		r.Host = "localhost"
		s.Handler().ServeHTTP(httptest.NewRecorder(), r)
		want := player.Wish{Name: "Esme", Instrument: "trumpet_bb", Hub: link}
		if len(n.wishes) != 1 || n.wishes[0] != want {
			t.Errorf("%s: %+v, want %+v", body, n.wishes, want)
		}
	}
}

// TestMuteIsChosen: what can be in the bell depends on the instrument; only a horn
// is stopped by the hand.
func TestMuteIsChosen(t *testing.T) {
	for _, c := range []struct {
		instrument instrument.ID
		mute       string
		status     int
	}{
		{"trumpet_bb", "straight", http.StatusOK}, {"trumpet_bb", "", http.StatusOK}, {"trumpet_bb", "stopped", http.StatusBadRequest},
		{"horn_double", "stopped", http.StatusOK}, {"tenor_trombone_bb", "cup", http.StatusOK}, {"tuba_bbb", "sock", http.StatusBadRequest}, {"", "cup", http.StatusBadRequest},
	} {
		n := &fake{}
		s, url := serve(t, n)
		s.ShowSeat(player.Wish{Name: "Bram", Instrument: c.instrument})
		resp, err := http.Post(url+"api/mute", "application/json", strings.NewReader(`{"mute":"`+c.mute+`"}`))
		if err != nil {
			t.Fatal(err)
		}
		resp.Body.Close()
		if took := slices.Equal(n.mutes, []string{c.mute}); resp.StatusCode != c.status || took != (c.status == http.StatusOK) {
			t.Errorf("%s, %q: status %d, the node has %q", c.instrument, c.mute, resp.StatusCode, n.mutes)
		}
	}
}
