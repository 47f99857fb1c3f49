package web_test

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"bellrow/hub/piece"
	"bellrow/hub/score"
	"bellrow/hub/web"
	"bellrow/hub/web/webtest"
	"bellrow/proto/instrument"
	"bellrow/proto/page/browser"
	"bellrow/proto/pitch"
)

// quay is an invented chorale of six bars for four parts.
var quay = filepath.Join("..", "testdata", "quay.musicxml")

// TestPieceFile opens a score through the handlers, and has others refused in
// sentences.
func TestPieceFile(t *testing.T) {
	b := newBand(t)
	h := handler(t, b.hub, webtest.Guard{})
	if got := ask(h, "GET", "/api/piece", "").Body.String(); strings.TrimSpace(got) != `{"piece":null}` {
		t.Errorf("without a piece %s, need null", got)
	}
	b.join("Tuba", "tuba_bbb", 0)
	for _, tt := range []struct {
		name, body string
		code       int
		has        string
	}{
		{"not a score", "a shopping list", 400, "That is no MusicXML score, or it is broken."},
		{"torn", "<score-partwise><part-list>", 400, "That is no MusicXML score, or it is broken."},
		{"declarations", `<!DOCTYPE a [<!ENTITY b "c">]><score-partwise></score-partwise>`, 400, "a score has no need of"},
		{"too many notes in a text", "<score-partwise><work><work-title>" + strings.Repeat("x", score.MaxRunBytes+1), 413, "That score is too big."},
		{"nothing held", `<score-partwise><part-list><score-part id="P1"><part-name>Tuba</part-name></score-part></part-list><part id="P1"><measure number="1"/></part></score-partwise>`, 422, "No chord in this piece is held"},
	} {
		w := ask(h, "POST", "/api/piece", tt.body)
		if w.Code != tt.code || !strings.Contains(w.Body.String(), tt.has) {
			t.Errorf("%s: %d %s, need %d and %q", tt.name, w.Code, w.Body, tt.code, tt.has)
		}
	}
	long := httptest.NewRequest("POST", "/api/piece", io.MultiReader(strings.NewReader("<score-partwise>"), &endless{left: score.MaxXMLBytes}))
	w := httptest.NewRecorder()
	h.ServeHTTP(w, long)
	if w.Code != 413 {
		t.Errorf("a score of more than %d MB: %d %s, need 413", score.MaxXMLBytes>>20, w.Code, w.Body)
	}
	data, err := os.ReadFile(quay)
	if err != nil {
		t.Fatal(err)
	}
	if w := ask(h, "POST", "/api/piece", string(data)); w.Code != 200 {
		t.Fatalf("the quay: %d %s", w.Code, w.Body)
	}
	var got struct{ Piece piece.View }
	if err := json.Unmarshal(ask(h, "GET", "/api/piece", "").Body.Bytes(), &got); err != nil || len(got.Piece.Chords) != 8 {
		t.Errorf("%d chords (%v), need 8", len(got.Piece.Chords), err)
	}
	if w := ask(h, "GET", "/api/piece/plan", ""); w.Code != 200 || !strings.Contains(w.Body.String(), `"label":"Tuba"`) {
		t.Errorf("the plan: %d %s, need the tuba in it", w.Code, w.Body)
	}
	if w := ask(h, "POST", "/api/command", `{"do":"next-sonority"}`); w.Code != 200 {
		t.Errorf("the next chord: %d %s", w.Code, w.Body)
	}
	var board web.Board
	if err := json.Unmarshal(ask(h, "GET", "/api/row", "").Body.Bytes(), &board); err != nil || board.Piece == nil || !strings.HasPrefix(board.Piece.Next, "bar 2") {
		t.Errorf("the row offers %+v (%v), need bar 2", board.Piece, err)
	}
}

// endless is a score that never gets to its first note.
type endless struct{ left int }

func (e *endless) Read(p []byte) (int, error) {
	n := copy(p, bytes.Repeat([]byte("<a/>"), max(1, len(p)/4)))
	if e.left -= n; e.left < -(1 << 20) {
		return 0, io.EOF // read far too much
	}
	return n, nil
}

// TestPiecePage opens a piece in the browser and calls its chords by keyboard.
func TestPiecePage(t *testing.T) {
	s := newBand(t)
	s.join("Tuba", "tuba_bbb", 0)
	s.join("Trombone", "tenor_trombone_bb", 6)
	s.join("Horn", "horn_f", -4)
	trumpet := s.join("Trumpet", "trumpet_bb", 9)
	b := browser.Open(t)
	b.Size(1366, 768)
	s.enter(b)
	b.Go(s.url + "/piece")
	b.Until("the empty page", `!document.getElementById("none").hidden`)
	b.Shot("piece-none")
	bad := filepath.Join(t.TempDir(), "list.xml")
	if err := os.WriteFile(bad, []byte("a shopping list"), 0o600); err != nil {
		t.Fatal(err)
	}
	b.Run(chromedp.SetUploadFiles(chromedp.CSS("#file"), []string{bad}))
	b.Until("the refusal", `document.getElementById("refused").textContent.includes("no MusicXML score")`)
	good, err := filepath.Abs(quay)
	if err != nil {
		t.Fatal(err)
	}
	b.Run(chromedp.SetUploadFiles(chromedp.CSS("#file"), []string{good}))
	b.Until("its chords", `document.querySelectorAll("#chords > li").length === 8 && !document.getElementById("in-plan").hidden && document.getElementById("refused").hidden`)

	press(kb.ArrowDown)(b)
	press(kb.ArrowDown)(b)
	press(kb.Enter)(b)
	b.Until("the second chord called", `document.querySelector("li[aria-current] .bar-no")?.textContent === "bar 2" && document.getElementById("next").textContent.includes("F dominant seventh")`)
	if got := s.hub.Row().Round; got == nil || got.Chord != "E♭ major" {
		t.Fatalf("round %+v, need E♭ major", got)
	}
	if v := s.hub.View(trumpet.chair); v.Written != "F5" { // sounds E♭5
		t.Errorf("the trumpet is asked for %s, need written F5", v.Written)
	}
	press("n")(b)
	b.Until("the third chord called", `document.getElementById("next").textContent.includes("bar 3")`)
	b.Until("the sentence", `document.getElementById("say").textContent.includes("All together now")`)
	press("u")(b)
	b.Until("taken back", `document.getElementById("next").textContent.includes("F dominant seventh")`)
	click(`#chords > li:nth-child(4) .others button`)(b)
	b.Until("by its other name", `document.getElementById("next").textContent.includes("bar 4")`)
	if got := s.hub.Row().Round; !strings.HasPrefix(got.Chord, "B♭ sixth") {
		t.Errorf("round %+v, need B♭ sixth", got)
	}
	browser.Eval[bool](b, `{ const s = document.querySelector("#parts select"); s.value = "-1"; s.dispatchEvent(new Event("change")); true }`)
	b.Until("three play", `document.querySelectorAll("#plan > li").length === 3`)
	b.Shot("piece-1366")
	for _, w := range []int64{360, 683} {
		b.Size(w, 740)
		if got := browser.Eval[float64](b, "document.documentElement.scrollWidth"); got > float64(w) {
			t.Errorf("at %d px the page is %g px wide and would scroll sideways", w, got)
		}
		b.Shot("piece-" + map[int64]string{360: "360", 683: "683"}[w])
	}
	b.Size(1366, 1700)
	b.Shot("piece-whole")
	b.Axe("piece")
	click("#drop")(b)
	b.Until("no piece", `!document.getElementById("none").hidden`)
}

// TestListenOnTheRow names the chord that all hold and calls it with one tap.
func TestListenOnTheRow(t *testing.T) {
	s := newBand(t)
	ctx, stop := context.WithCancel(t.Context())
	done := make(chan struct{})
	go func() { _ = s.hub.Run(ctx); close(done) }() // its timers end the listening
	t.Cleanup(func() { stop(); <-done })
	var ps []*player
	for _, in := range []instrument.ID{"tuba_bbb", "horn_f", "trumpet_bb"} {
		ps = append(ps, s.join(string(in), in, 0))
	}
	b := browser.Open(t)
	b.Size(1366, 768)
	s.enter(b)
	press("l")(b)
	b.Until("asked", `document.getElementById("say").textContent.includes("each holds a note")`)
	for i, n := range []pitch.Note{34, 62, 77} { // B♭1, D4, F5
		ps[i].hold(n)
	}
	b.Until("the chord named", `document.getElementById("say").textContent.startsWith("B♭ major")`)
	b.Shot("listen-1366")
	click(`#heard-chords button`)(b)
	b.Until("the chord judged", `document.getElementById("facts").textContent.startsWith("B♭ major") && document.getElementById("heard-chords").hidden`)
}

// TestPieceAsks: a part whose name could be two instruments is asked about, and the
// answer stays.
func TestPieceAsks(t *testing.T) {
	s := newBand(t)
	s.join("Trumpet", "trumpet_bb", 0)
	s.join("Horn", "tenor_horn_eb", 0)
	b := browser.Open(t)
	b.Size(1366, 768)
	s.enter(b)
	b.Go(s.url + "/piece")
	data, err := os.ReadFile(quay)
	if err != nil {
		t.Fatal(err)
	}
	// The trumpet's part as one of a horn in E flat.
	text := strings.Replace(string(data), "Trumpet in B♭", "Horn in E♭", 1)
	text = strings.Replace(text, "<chromatic>-2</chromatic>", "<chromatic>-9</chromatic>", 1)
	file := filepath.Join(t.TempDir(), "horns.musicxml")
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	b.Run(chromedp.SetUploadFiles(chromedp.CSS("#file"), []string{file}))
	b.Until("the question", `document.querySelector("#doubts:not([hidden]) label")?.textContent.includes("which is it?")`)
	b.Shot("piece-asks")
	browser.Eval[bool](b, `{ const s = document.querySelector("#doubts select"); s.value = "tenor_horn_eb"; s.dispatchEvent(new Event("change")); true }`)
	b.Until("the answer", `document.querySelector("#doubts label").textContent.includes("is written for") && document.querySelector("#doubts select").value === "tenor_horn_eb"`)
}
