package player_test

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"

	"github.com/chromedp/chromedp"

	"bellrow/node/listen"
	"bellrow/node/player"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/page/browser"
	"bellrow/proto/phrase"
)

func (f *fake) last() (w player.Wish, s proto.Setting, paused bool) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if n := len(f.wishes); n > 0 {
		w = f.wishes[n-1]
	}
	if n := len(f.settings); n > 0 {
		s = f.settings[n-1]
	}
	if n := len(f.paused); n > 0 {
		paused = f.paused[n-1]
	}
	return w, s, paused
}

// TestFromSeatToAnswer goes with a player from the form to the frozen answer,
// the slide moved, and a pause.
func TestFromSeatToAnswer(t *testing.T) {
	n := &fake{}
	s, url := serve(t, n)
	s.ShowLink(player.Link{State: player.LinkFound, Hub: "Saturday brass"})
	s.ShowSound(player.Sound{State: listen.Quiet, Device: "Built-in microphone", Level: -70, Floor: -64})
	b := browser.Open(t)
	b.Size(1366, 768)
	b.Go(url)

	b.Until("the instruments", `document.querySelectorAll("#instruments label").length > 10`)
	b.Run(chromedp.SendKeys(chromedp.CSS("#name"), "Esme"),
		chromedp.SendKeys(chromedp.CSS("#find"), "flugel"),
		chromedp.Click(chromedp.CSS("#instruments label:not([hidden])")),
		chromedp.SendKeys(chromedp.CSS("#code"), "k7m 4qx"),
		chromedp.Click(chromedp.CSS("#sit")))
	b.Until("the wish", `document.getElementById("linkwords").textContent.includes("Asking for a seat")`)
	if w, _, _ := n.last(); w.Name != "Esme" || w.Instrument != "flugelhorn_bb" || w.Code != "k7m 4qx" {
		t.Errorf("the page asked for %+v, need Esme with flugelhorn_bb and the code as typed", w)
	}

	s.ShowLink(player.Link{State: player.LinkJoined, Hub: "Saturday brass"})
	s.ShowView(play)
	b.Until("the note", `document.getElementById("note-name").textContent === "C5" && document.body.dataset.phase === "play"`)
	s.ShowSound(player.Sound{State: listen.Sounding, Device: "Built-in microphone", Level: -20, Floor: -64})
	b.Until("the dark page", `document.body.hasAttribute("data-dark")`)

	before := browser.Eval[string](b, `document.getElementById("play").innerHTML`)
	for _, st := range []listen.State{listen.Resting, listen.Sounding, listen.Resting} {
		s.ShowSound(player.Sound{State: st, Device: "Built-in microphone", Level: -19, Floor: -64})
	}
	if after := browser.Eval[string](b, `document.getElementById("play").innerHTML`); after != before {
		t.Errorf("the page changed while the note sounded:\n%s\n%s", before, after)
	}

	answer := proto.Answer{ID: 7, Kind: "move", Headline: "Pull the main slide 6 mm.", Small: "+14 ±2 cents", Moves: []proto.Slide{moved(6)}}
	s.ShowSound(player.Sound{State: listen.Quiet, Device: "Built-in microphone", Level: -70, Floor: -64})
	s.ShowView(answered(answer))
	b.Until("the answer", `document.querySelector("#moves b")?.textContent === "6" && !document.getElementById("answer").hidden`)
	if got := browser.Eval[string](b, `document.getElementById("heard").textContent`); got != "Pull the main slide 6 mm." {
		t.Errorf("a screen reader hears %q, need the answer once", got)
	}

	b.Run(chromedp.Click(chromedp.CSS("#moved")))
	b.Until("the move noted", `!document.getElementById("moved-note").hidden`)
	if _, set, _ := n.last(); set.Slide != instrument.Main || set.MM != 19 {
		t.Errorf("the node was told %+v, need the main slide at 19 mm", set)
	}

	b.Run(chromedp.Click(chromedp.CSS("#slides-open")))
	b.Until("my slides", `document.getElementById("slides").open`)
	b.Shot("player-slides-1366-stage")
	b.Run(chromedp.SetValue(chromedp.CSS("#slide-main"), "17.5"), chromedp.SetValue(chromedp.CSS("#slide-main-travel"), "48"),
		chromedp.Click(chromedp.CSS(".sliderow button")))
	b.Until("the setting noted", `document.getElementById("slides-said").textContent.includes("17.5 mm")`)
	if _, set, _ := n.last(); set.MM != 17.5 || set.TravelMM != 48 {
		t.Errorf("the node was told %+v, need 17.5 of 48 mm", set)
	}
	b.Run(chromedp.Click(chromedp.CSS("#slides-close")), chromedp.Click(chromedp.CSS("#pause")))
	b.Until("paused", `document.body.dataset.phase === "paused"`)
	if _, _, paused := n.last(); !paused {
		t.Error("the node was not paused")
	}
}

// TestKeepThisSound: offered after a refusal only; where it lies is said, and
// so is why it could not be kept.
func TestKeepThisSound(t *testing.T) {
	var asked atomic.Int32
	var failure atomic.Pointer[string]
	const path = "/home/esme/bellrow sounds/2026-11-28 19.30.05.wav"
	s, err := player.New(player.Config{Node: &fake{}, Keep: func() (string, error) {
		asked.Add(1)
		if f := failure.Load(); f != nil {
			return "", phrase.Refuse("node", "player.kept.full", *f)
		}
		return path, nil
	}})
	if err != nil {
		t.Fatal(err)
	}
	srv := httptest.NewServer(s.Handler())
	t.Cleanup(srv.Close)
	s.ShowLink(player.Link{State: player.LinkJoined})
	b := browser.Open(t)
	b.Size(1366, 768)
	b.Go(srv.URL + s.Path())

	const offered = `getComputedStyle(document.getElementById("keep-offer")).display !== "none"`
	s.ShowView(answered(proto.Answer{ID: 3, Kind: "move", Headline: "Pull the main slide 6 mm.", Moves: []proto.Slide{moved(6)}}))
	b.Until("the move", `document.querySelector("#moves b")?.textContent === "6"`)
	if browser.Eval[bool](b, offered) {
		t.Error("a note that was read is offered to be kept")
	}
	refusal := proto.Answer{ID: 4, Kind: "again", Headline: "The pitch was still moving.", Next: "Breathe, start the note again and let it rest."}
	s.ShowView(answered(refusal))
	b.Until("the offer", offered)
	b.Shot("player-keep-1366-stage")
	full := "/home/esme"
	failure.Store(&full)
	b.Run(chromedp.Click(chromedp.CSS("#keep")))
	b.Until("why not", `document.getElementById("refused").textContent.includes("not kept: the disk of /home/esme is full") && !document.getElementById("refused").hidden`)
	if !browser.Eval[bool](b, offered) || browser.Eval[string](b, `document.getElementById("say").textContent`) != refusal.Headline {
		t.Error("a full disk changed more than a sentence")
	}
	failure.Store(nil)
	b.Run(chromedp.Click(chromedp.CSS("#keep")))
	b.Until("where", `document.getElementById("kept").textContent.includes("`+path+`") && document.getElementById("refused").hidden`)
	if browser.Eval[bool](b, offered) || asked.Load() != 2 {
		t.Errorf("after %d tries the sound is offered again", asked.Load())
	}
	b.Shot("player-kept-1366-stage")
	b.Axe("kept")
	refusal.ID = 5
	s.ShowView(answered(refusal))
	b.Until("the next refusal is offered anew", offered+` && document.getElementById("kept").hidden`)
}

// TestNothingToKeep: without a way to keep, or without a refusal, no post
// reaches it.
func TestNothingToKeep(t *testing.T) {
	post := func(s *player.Server) int {
		r := httptest.NewRequest("POST", s.Path()+"api/keep", strings.NewReader("{}"))
		r.Host = "localhost"
		w := httptest.NewRecorder()
		s.Handler().ServeHTTP(w, r)
		return w.Code
	}
	s, _ := player.New(player.Config{Node: &fake{}})
	s.ShowView(answered(proto.Answer{ID: 1, Kind: "again"}))
	if code := post(s); code < 400 {
		t.Errorf("without a way to keep: %d", code)
	}
	s, _ = player.New(player.Config{Node: &fake{}, Keep: func() (string, error) { t.Error("kept"); return "", nil }})
	s.ShowView(play)
	if code := post(s); code != http.StatusConflict {
		t.Errorf("without a refusal: %d, need %d", code, http.StatusConflict)
	}
}

// TestTwoChairs shows that two chairs on one laptop are two pages.
// A link that is pasted beside its field lands in it.
func TestPastedLink(t *testing.T) {
	_, url := serve(t, &fake{})
	b := browser.Open(t)
	b.Go(url)
	b.Until("the form", "!document.getElementById('join').hidden")
	for _, field := range []string{"name", "part", "code"} {
		got := browser.Eval[string](b, `(() => {
			const at = document.getElementById("`+field+`"), hub = document.getElementById("hub"), data = new DataTransfer();
			hub.value = "";
			data.setData("text/plain", "http://192.168.4.20:7440/join#code=ABCDEFGH");
			at.dispatchEvent(new ClipboardEvent("paste", { clipboardData: data, bubbles: true, cancelable: true }));
			return hub.value + "|" + at.value + "|" + document.getElementById("where").open;
		})()`)
		if got != "http://192.168.4.20:7440/join#code=ABCDEFGH||true" {
			t.Errorf("pasted into %s: %q", field, got)
		}
	}
}

// Before anybody sits down the page says who does already.
func TestSeatedIsShown(t *testing.T) {
	s, url := serve(t, &fake{})
	s.ShowLink(player.Link{State: player.LinkFound, Hub: "Saturday brass", Seated: []string{"Horn 1 (Ada)", "Horn 2 (Bram)"}})
	b := browser.Open(t)
	b.Go(url)
	b.Until("who sits where", `document.getElementById("seated").textContent === "Seated already: Horn 1 (Ada), Horn 2 (Bram)."`)
	s.ShowLink(player.Link{State: player.LinkSearching})
	b.Until("that it is past", `document.getElementById("seated").textContent === ""`)
}

func TestTwoChairs(t *testing.T) {
	b := browser.Open(t)
	for _, name := range []string{"Horn 1", "Horn 2"} {
		s, url := serve(t, &fake{})
		s.ShowLink(player.Link{State: player.LinkJoined})
		s.ShowView(proto.View{Section: "Saturday brass", Chair: name, Phase: "idle", Say: "Warm up."})
		b.Go(url)
		b.Until(name, `document.getElementById("chair").textContent === "`+name+`"`)
	}
}

// TestAccessible runs axe-core on every moment of the page in both themes.
func TestAccessible(t *testing.T) {
	b := browser.Open(t)
	b.Size(1366, 768)
	s, url := serve(t, &fake{})
	s.ShowSeat(seat)
	b.Go(url)
	for _, sc := range scenes {
		s.ShowLink(player.Link{State: sc.link})
		s.ShowView(sc.view)
		s.ShowSound(player.Sound{State: sc.sound, Device: "Built-in microphone", Level: -22, Floor: -61, Trouble: "processing-on"})
		want := sc.view.Phase
		if want == "" {
			want = "idle"
		}
		b.Until(sc.name, `document.body.dataset.phase==="`+want+`" && document.querySelector("main:not([hidden])")`)
		b.Axe(sc.name)
	}
}
