package player_test

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"bellrow/node/player"
	"bellrow/proto"
	"bellrow/proto/page/browser"
	"bellrow/proto/phrase"
	"bellrow/proto/phrase/heard"
	"bellrow/proto/pitch"
)

// TestEveryLanguageFits: the page is in one language as a whole, at a telephone's
// and a laptop's size, and nothing is cut off at the side.
func TestEveryLanguageFits(t *testing.T) {
	s, err := player.New(player.Config{Node: &fake{}})
	if err != nil {
		t.Fatal(err)
	}
	srv := httptest.NewServer(s.Handler())
	t.Cleanup(srv.Close)
	b := browser.Open(t)
	b.Go(srv.URL + s.Path())
	for _, l := range append(phrase.Player.Offered(), phrase.Long) {
		tongue := phrase.Player.In(l.Tag, pitch.Style{})
		view := answered(proto.Answer{ID: 7, Kind: "move", Code: "limit", Headline: tongue.Say("move.pull", tongue.Slide("third valve slide"), 6),
			Detail: tongue.Say("move.needed", 14, 6), Next: tongue.Say("measure.goes.comes-off", tongue.Slide("third valve slide"), 30),
			Small: tongue.Within(14, 2), Moves: []proto.Slide{moved(6)}})
		view.Language, view.Notes = tongue.Language(), []string{tongue.Say("view.caution.rest", 7), tongue.Say("view.caution.pain")}
		for stage, link := range map[string]player.LinkState{"join": player.LinkSearching, "answer": player.LinkJoined} {
			w := seat
			w.Language = l.Tag
			s.ShowSeat(w)
			s.ShowView(view)
			s.ShowLink(player.Link{State: link})
			want := tongue.Say(map[string]string{"join": "player.join.sit", "answer": "player.slides"}[stage])
			at := map[string]string{"join": "sit", "answer": "slides-open"}[stage]
			b.Until(l.Tag+" "+stage, `document.getElementById("`+at+`").checkVisibility() && document.getElementById("`+at+`").textContent === `+quoted(want))
			if stage == "join" {
				b.Until(l.Tag+" instruments", `[...document.querySelectorAll("#instruments span")].some((e) => e.textContent === `+quoted(tongue.Instrument("Trumpet in B flat"))+`)`)
			}
			if !strings.HasPrefix(l.Tag, "en") {
				for _, text := range strings.Split(browser.Eval[string](b, "document.body.innerText"), "\n") {
					if e := heard.English(l.Tag, text, "English (UK)", "English (US)"); e != "" {
						t.Errorf("%s, %s: %q is English in %q", l.Tag, stage, e, text)
					}
				}
			}
			for name, size := range map[string][2]int64{"telephone": {390, 844}, "laptop": {1366, 768}} {
				b.Size(size[0], size[1])
				if wide := browser.Eval[float64](b, `document.documentElement.scrollWidth - innerWidth`); wide > 0 {
					t.Errorf("%s, %s: %g pixels are cut off on a %s", l.Tag, stage, wide, name)
				}
				b.Shot("player-" + l.Tag + "-" + stage + "-" + name)
			}
		}
	}
}

// TestWordsComeLate: while the words of a language are on their way the page is told
// more; a copy of them that comes last leaves what the page says.
func TestWordsComeLate(t *testing.T) {
	s, err := player.New(player.Config{Node: &fake{}})
	if err != nil {
		t.Fatal(err)
	}
	held, release := make(chan struct{}, 9), make(chan struct{})
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Query().Get("language") == "de" {
			held <- struct{}{}
			<-release
		}
		s.Handler().ServeHTTP(w, r)
	}))
	t.Cleanup(srv.Close)
	tell := func(say string) {
		s.ShowView(proto.View{Section: "Quay", Chair: "Trompete 2", Phase: "wait", Language: "de", Say: say})
	}
	says := func(text string) string {
		return `document.documentElement.lang === "de" && document.getElementById("say").textContent === "` + text + `"`
	}
	s.ShowSeat(seat)
	s.ShowLink(player.Link{State: player.LinkJoined})
	b := browser.Open(t)
	b.Go(srv.URL + s.Path())
	tell("eins")
	<-held
	tell("zwei")
	<-held
	release <- struct{}{}
	b.Until("the first copy", `document.documentElement.lang === "de"`)
	tell("drei")
	b.Until("the third view", says("drei"))
	release <- struct{}{}
	b.Until("both copies, and a moment to take them", `((all) => all.length === 2 && all.every((e) => e.responseEnd > 0 && performance.now() > e.responseEnd + 100))(performance.getEntriesByType("resource").filter((e) => e.name.includes("language=de")))`)
	if got := browser.Eval[string](b, `document.getElementById("say").textContent`); got != "drei" {
		t.Errorf("the page says %q", got)
	}
}

func quoted(s string) string { return "`" + strings.ReplaceAll(s, "`", "") + "`" }
