package player_test

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"bellrow/node/listen"
	"bellrow/node/player"
	"bellrow/proto"
	"bellrow/proto/instrument"
)

// deaf is a node that can tell its hub nothing.
type deaf struct {
	fake
	languages []string
	names     []string
}

var errNoSeat = errors.New("no seat")

func (*deaf) SetSetting(context.Context, proto.Setting) error { return errNoSeat }
func (*deaf) Join(context.Context, player.Wish) error         { return errNoSeat }
func (d *deaf) SetNames(names string)                         { d.names = append(d.names, names) }
func (d *deaf) SetLanguage(tag string, chosen bool) {
	d.languages = append(d.languages, fmt.Sprint(tag, chosen))
}

// post sends one to a page, and returns the status and the code of the refusal.
func post(s *player.Server, path, body string) (int, string) {
	r := httptest.NewRequest("POST", s.Path()+path, strings.NewReader(body))
	r.Host = "localhost"
	w := httptest.NewRecorder()
	s.Handler().ServeHTTP(w, r)
	var said struct {
		OK    bool
		Error proto.Error
	}
	if err := json.Unmarshal(w.Body.Bytes(), &said); err != nil || said.OK != (w.Code == http.StatusOK) {
		return 0, w.Body.String()
	}
	return w.Code, said.Error.Code
}

// TestPostsAreSeen: what a player says on the page reaches the node, is on the page at once, and is answered; what cannot
// be is answered with its code, and changes nothing.
func TestPostsAreSeen(t *testing.T) {
	fits := proto.View{Phase: "answer", Answer: &proto.Answer{ID: 3, Kind: "move", Moves: []proto.Slide{{ID: instrument.Main, Name: "main slide", FromMM: 12, ToMM: 17}, {ID: "third", ToMM: 4}}}}
	for _, tt := range []struct {
		path, body string
		status     int
		code       string
		seen       func(n *fake, sh player.Sheet) bool
	}{
		{"api/join", `{"instrument":"horn_f","name":" Esme ","part":"2nd"}`, 200, "", func(n *fake, sh player.Sheet) bool {
			return len(n.wishes) == 1 && n.wishes[0].Name == "Esme" && sh.Wish == n.wishes[0] && sh.Link.Joining
		}},
		{"api/join", `[`, 400, "bad-request", func(n *fake, sh player.Sheet) bool {
			return len(n.wishes) == 0 && sh.Wish.Name == "" && !sh.Link.Joining
		}},
		{"api/setting", `{"slide":"main","mm":1000,"travel_mm":1000}`, 200, "", func(n *fake, sh player.Sheet) bool { return len(n.settings) == 1 && n.settings[0].MM == 1000 }},
		{"api/setting", `{"slide":"main","mm":5,"travel_mm":1001}`, 400, "bad-length", func(n *fake, sh player.Sheet) bool { return len(n.settings) == 0 }},
		{"api/setting", `{"slide":"main","mm":1001}`, 400, "bad-length", func(n *fake, sh player.Sheet) bool { return len(n.settings) == 0 }},
		{"api/setting", `{"slide":"main","mm":50,"travel_mm":50}`, 200, "", func(n *fake, sh player.Sheet) bool { return len(n.settings) == 1 }},
		{"api/setting", `{`, 400, "bad-request", func(n *fake, sh player.Sheet) bool { return len(n.settings) == 0 }},
		{"api/moved", `{}`, 200, "", func(n *fake, sh player.Sheet) bool {
			return len(n.settings) == 2 && n.settings[0] == proto.Setting{Slide: instrument.Main, MM: 17} && n.settings[1].MM == 4 && sh.Answer.Moved
		}},
		{"api/pause", `{"on":true}`, 200, "", func(n *fake, sh player.Sheet) bool { return len(n.paused) == 1 && n.paused[0] && sh.Paused }},
		{"api/pause", `{"on":false}`, 200, "", func(n *fake, sh player.Sheet) bool { return len(n.paused) == 1 && !n.paused[0] && !sh.Paused }},
		{"api/warm", `{}`, 200, "", func(n *fake, sh player.Sheet) bool { return n.warm == 1 && sh.Warming == "" }},
		{"api/names", `{"names":"german"}`, 200, "", func(n *fake, sh player.Sheet) bool { return sh.Wish.Names == "german" }},
		{"api/names", `{"names":""}`, 200, "", func(n *fake, sh player.Sheet) bool { return sh.Wish.Names == "" }},
		{"api/names", `{"names":"elvish"}`, 400, "no-names", func(n *fake, sh player.Sheet) bool { return sh.Wish.Names == "" }},
		{"api/language", `{"language":"de"}`, 200, "", func(n *fake, sh player.Sheet) bool { return sh.Wish.Language == "de" }},
		{"api/language", `{"language":""}`, 200, "", func(n *fake, sh player.Sheet) bool { return sh.Wish.Language == "" }},
		{"api/language", `{"language":"tlh"}`, 400, "no-language", func(n *fake, sh player.Sheet) bool { return sh.Wish.Language == "" }},
		{"api/mute", `{"mute":"cup"}`, 400, "no-mute", func(n *fake, sh player.Sheet) bool { return sh.Mute == "" && len(n.mutes) == 0 }}, // no instrument, no mute
	} {
		n := &fake{}
		s, _ := player.New(player.Config{Node: n})
		s.ShowView(fits)
		s.ShowLink(player.Link{State: player.LinkFound})
		status, code := post(s, tt.path, tt.body)
		if sh := s.Sheet(); status != tt.status || code != tt.code || !tt.seen(n, sh) {
			t.Errorf("%s %s: %d %s, the node has %+v, the page %+v", tt.path, tt.body, status, code, n, sh)
		}
	}
}

// TestANodeThatCannotTellTheHub: what did not reach the hub is not called done.
func TestANodeThatCannotTellTheHub(t *testing.T) {
	n := &deaf{}
	s, _ := player.New(player.Config{Node: n})
	s.ShowView(proto.View{Answer: &proto.Answer{ID: 3, Kind: "move", Moves: []proto.Slide{{ID: instrument.Main, ToMM: 17}}}})
	for _, tt := range []struct {
		path, body string
		status     int
		code       string
	}{
		{"api/moved", `{}`, 503, "not-sent"}, {"api/setting", `{"slide":"main","mm":5}`, 503, "not-sent"}, {"api/join", `{"instrument":"horn_f","name":"Esme"}`, 422, "join-refused"},
	} {
		if status, code := post(s, tt.path, tt.body); status != tt.status || code != tt.code {
			t.Errorf("%s: %d %s", tt.path, status, code)
		}
		if sh := s.Sheet(); sh.Answer.Moved || sh.Link.Joining || sh.Wish.Name != "" {
			t.Errorf("%s: the page shows %+v", tt.path, sh)
		}
	}
}

// TestWhatABrowserReads: a page for which no language was chosen is in the one that its browser reads best, and the node
// is told which, and whether it was chosen.
func TestWhatABrowserReads(t *testing.T) {
	n := &deaf{}
	s, _ := player.New(player.Config{Node: n})
	open := func(accept string) {
		r := httptest.NewRequest("GET", s.Path(), nil)
		r.Host = "localhost"
		r.Header.Set("Accept-Language", accept)
		s.Handler().ServeHTTP(httptest.NewRecorder(), r)
	}
	open("fr-CH, fr;q=0.9, en;q=0.8")
	post(s, "api/language", `{"language":"de"}`)
	open("es") // the choice stands
	post(s, "api/language", `{"language":""}`)
	post(s, "api/names", `{"names":"german"}`)
	if got := strings.Join(n.languages, " "); got != "frfalse detrue esfalse" || len(n.names) != 1 {
		t.Errorf("the node was told %q, and names %q", got, n.names)
	}
	if sh := s.Sheet(); sh.Language != "es" {
		t.Errorf("the page is in %q", sh.Language)
	}
}

// TestKeepingASound: the sound of a note that was refused can be kept, once for each answer; no other can.
func TestKeepingASound(t *testing.T) {
	kept, fails := 0, error(nil)
	s, _ := player.New(player.Config{Node: &fake{}, Keep: func() (string, error) { kept++; return "/home/esme/note.wav", fails }})
	for i, kind := range []string{"move", "stay", "again", "note", "rest"} {
		refused := i >= 2
		s.ShowView(proto.View{Answer: &proto.Answer{ID: int64(10 + i), Kind: kind}})
		if a := s.Sheet().Answer; a.Keep != refused || a.Kept != "" {
			t.Errorf("%s: %+v", kind, a)
		}
		was := kept
		status, code := post(s, "api/keep", `{}`)
		if (status == 200) != refused || (code == "no-refusal") == refused || (kept > was) != refused {
			t.Errorf("%s: %d %s", kind, status, code)
		}
		if a := s.Sheet().Answer; refused && (a.Keep || a.Kept != "/home/esme/note.wav") {
			t.Errorf("%s, kept: %+v", kind, a)
		}
	}
	fails = errors.New("no room")
	s.ShowView(proto.View{Answer: &proto.Answer{ID: 20, Kind: "again"}})
	if status, code := post(s, "api/keep", `{}`); status != 507 || code != "not-kept" || !s.Sheet().Answer.Keep {
		t.Errorf("no room: %d %s", status, code)
	}
}

// TestHeardEnoughLasts: once a note was heard well enough it is told until the room is quiet, and then that the answer is on
// its way, once.
func TestHeardEnoughLasts(t *testing.T) {
	s, _ := player.New(player.Config{Node: &fake{}})
	s.ShowLink(player.Link{State: player.LinkJoined})
	s.ShowView(proto.View{Phase: "play", Written: "C5", Listen: true, Round: 1, Say: "Play your C5."})
	var told []string
	for _, h := range []player.Sound{{State: listen.Sounding}, {State: listen.Resting, Enough: true}, {State: listen.Resting}, {State: listen.Sounding}, {State: listen.Quiet}, {State: listen.Quiet}} {
		s.ShowSound(h)
		told = append(told, fmt.Sprint(s.Sheet().Enough, s.Sheet().Say == "Play your C5."))
	}
	if got := strings.Join(told, " "); got != "false true true false true false true false false false false true" {
		t.Error(got)
	}
}

// TestAServerNeedsItsNode: a page without a node is none.
func TestAServerNeedsItsNode(t *testing.T) {
	if _, err := player.New(player.Config{}); err == nil {
		t.Error("a page of nothing")
	}
}

// TestWhatAPageAsksFor: the page is handed every instrument, the ways of naming notes, the languages and its own words, in
// the language that it asks for.
func TestWhatAPageAsksFor(t *testing.T) {
	s, _ := player.New(player.Config{Node: &fake{}})
	get := func(path string, into any) {
		t.Helper()
		r := httptest.NewRequest("GET", s.Path()+path, nil)
		r.Host = "localhost"
		w := httptest.NewRecorder()
		s.Handler().ServeHTTP(w, r)
		if err := json.Unmarshal(w.Body.Bytes(), into); err != nil || w.Code != http.StatusOK {
			t.Errorf("%s: %d %v", path, w.Code, err)
		}
	}
	var instruments []struct{ ID, Name, Family string }
	if get("api/instruments", &instruments); len(instruments) != len(instrument.Band()) {
		t.Errorf("%d instruments of %d", len(instruments), len(instrument.Band()))
	}
	var names []struct{ Value, Label string }
	if get("api/names", &names); len(names) < 3 {
		t.Errorf("names %v", names)
	}
	var languages []struct{ Tag, Name string }
	if get("api/languages", &languages); len(languages) < 4 {
		t.Errorf("languages %v", languages)
	}
	var german, english map[string]any
	get("api/words?language=de", &german)
	if get("api/words", &english); len(german) != len(english) || german["player.paused"] == english["player.paused"] {
		t.Errorf("%d words in German and %d in English", len(german), len(english))
	}
}

// TestAMuteIsTicked: what can be in the bell of the player's instrument can be ticked, and nothing else; of a woodwind
// nothing can.
func TestAMuteIsTicked(t *testing.T) {
	for _, in := range instrument.Band() {
		for _, mute := range []string{"", "straight", "cup", "other", "stopped", "handkerchief"} {
			n := &fake{}
			s, _ := player.New(player.Config{Node: n, Last: player.Wish{Instrument: in.ID}})
			_, main := in.Slide(instrument.Main)
			_, hand := in.Slide(instrument.Bell)
			can := main && mute != "handkerchief" && (mute != "stopped" || hand)
			status, code := post(s, "api/mute", `{"mute":"`+mute+`"}`)
			if (status == http.StatusOK) != can || !can && code != "no-mute" || (len(n.mutes) == 1) != can {
				t.Errorf("%s, %q: %d %s, the node has %v", in.ID, mute, status, code, n.mutes)
			}
			sh := s.Sheet()
			if want := map[bool]string{true: mute}[can]; sh.Mute != want || (len(sh.Mutes) > 0) != main {
				t.Errorf("%s, %q: the page shows %q of %v", in.ID, mute, sh.Mute, sh.Mutes)
			}
		}
	}
}

// TestTheHubKnowsOfAMove: what the hub knows to be moved is moved on the page, and
// no longer so once its leader has taken it back, whoever said it first.
func TestTheHubKnowsOfAMove(t *testing.T) {
	for _, pressed := range []bool{false, true} {
		s, _ := player.New(player.Config{Node: &fake{}})
		a := proto.Answer{ID: 7, Kind: "move", Moves: []proto.Slide{{ID: instrument.Main, FromMM: 12, ToMM: 16, TravelMM: 45}}}
		s.ShowView(proto.View{Answer: &a})
		if pressed {
			post(s, "api/moved", `{}`)
		}
		for _, moved := range []bool{true, false} {
			now := a
			now.Moved = moved
			s.ShowView(proto.View{Answer: &now})
			if got := s.Sheet().Answer; got.Moved != moved || (got.Moves[0].From == got.Moves[0].To) != moved {
				t.Errorf("said here %t; the hub says moved %t, the page %+v", pressed, moved, got)
			}
		}
	}
}

// TestNoMoveIsNotMade: where no move is told none can be said to be made.
func TestNoMoveIsNotMade(t *testing.T) {
	for _, a := range []*proto.Answer{nil, {ID: 1, Kind: "stay"}} {
		n := &fake{}
		s, _ := player.New(player.Config{Node: n})
		s.ShowView(proto.View{Answer: a})
		if status, code := post(s, "api/moved", `{}`); status != http.StatusConflict || code != "no-move" || len(n.settings) > 0 {
			t.Errorf("%+v: %d %s", a, status, code)
		}
	}
}
