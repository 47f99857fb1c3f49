package player_test

import (
	"context"
	"errors"
	"net/http"
	"net/http/httptest"
	"os"
	"regexp"
	"strings"
	"testing"

	"bellrow/node/player"
	"bellrow/proto"
	"bellrow/proto/phrase"
	"bellrow/proto/phrase/heard"
)

// unwilling is a node that does nothing.
type unwilling struct{ fake }

func (*unwilling) SetSetting(context.Context, proto.Setting) error {
	return errors.New("the node has no hub")
}
func (*unwilling) Join(context.Context, player.Wish) error { return errors.New("the node is busy") }

// TestNothingIsEnglish asks for every route of the sources in each language, posts
// nonsense and what the node does not do, and comes from where it should not.
func TestNothingIsEnglish(t *testing.T) {
	source, err := os.ReadFile("server.go")
	if err != nil {
		t.Fatal(err)
	}
	routes := regexp.MustCompile(`HandleFunc\("(GET|POST) /((?:api/)?[a-z]+)"`).FindAllStringSubmatch(string(source), -1)
	if len(routes) < 12 {
		t.Fatalf("%d routes in the source", len(routes))
	}
	for _, l := range phrase.Player.Offered() {
		if strings.HasPrefix(l.Tag, "en") {
			continue
		}
		s, err := player.New(player.Config{Node: &unwilling{}, Keep: func() (string, error) { return "", errors.New("the disk is full") }})
		if err != nil {
			t.Fatal(err)
		}
		n := 0
		ask := func(method, path, body, host string) {
			r := httptest.NewRequest(method, path, strings.NewReader(body))
			r.Host = host
			r.Header.Set("Accept-Language", l.Tag)
			w := httptest.NewRecorder()
			s.Handler().ServeHTTP(w, r)
			if kind := w.Header().Get("Content-Type"); strings.HasPrefix(kind, "application/json") {
				for _, text := range heard.JSON(w.Body.Bytes(), "family") {
					n++
					if e := heard.English(l.Tag, text, "English (UK)", "English (US)"); e != "" {
						t.Errorf("%s: %s %s with %.40q: %q is English in %q", l.Tag, method, path, body, e, text)
					}
				}
			}
		}
		ask("GET", s.Path(), "", "localhost:7441") // so that it knows the browser's language
		view := answered(proto.Answer{ID: 7, Kind: "again", Code: "short", Headline: "…"})
		view.Language = l.Tag
		s.ShowView(view)
		s.ShowLink(player.Link{State: player.LinkJoined})
		for _, r := range routes {
			if r[2] == "ws" || r[2] == "mic" {
				continue
			}
			for _, body := range []string{"", "{", "{}", `{"instrument":"trumpet_bb","name":"Esme"}`, `{"instrument":"kazoo","name":"Esme"}`, `{"instrument":"trumpet_bb","name":" "}`, `{"slide":"main","mm":-1}`,
				`{"slide":"main","mm":4}`, `{"slide":"main","mm":60,"travel_mm":50}`, `{"mute":"hat"}`, `{"names":"odd"}`, `{"language":"odd"}`, `{"id":7}`, `{"on":true}`} {
				ask(r[1], s.Path()+r[2]+"?language="+l.Tag, body, "localhost:7441")
			}
		}
		ask(http.MethodGet, s.Path()+"nothing.js", "", "localhost:7441")
		ask(http.MethodGet, s.Path(), "", "192.168.4.20:7441")
		if n < 200 {
			t.Errorf("%s: %d texts were heard", l.Tag, n)
		}
	}
}
