package web_test

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"bellrow/hub/session"
	"bellrow/proto/page/browser"
)

// TestOneUndo: whatever the leader taps by mistake, one undo brings back the
// row as it was.
func TestOneUndo(t *testing.T) {
	s := newBand(t)
	horn := s.join("Horn", "horn_double", 12)
	s.join("Trumpet", "trumpet_bb", 0)
	s.join("Cornet", "cornet_bb", 0)
	b := browser.Open(t)
	b.Size(1366, 768)
	s.enter(b)
	press("1")(b)
	b.Until("a turn", `document.querySelector('[data-state="turn"]')`)
	horn.play()
	openChair := func(label string) {
		browser.Eval[bool](b, fmt.Sprintf(`[...document.querySelectorAll(".line:not([data-open])")].find(l => l.querySelector(".label").textContent === %q)?.querySelector(".chair").click(); true`, label))
		b.Until(label+" open", `document.querySelector(".more:not([hidden]) [data-act]")`)
	}
	inDrawer := func(label, act string) func() {
		return func() {
			openChair(label)
			click(chromedp.CSS(`.more:not([hidden]) [data-act="` + act + `"]`))(b)
		}
	}
	for _, tt := range []struct {
		name string
		do   func()
	}{
		{"a call", func() { press("2")(b) }},
		{"a chord", func() {
			press("c")(b)
			b.Until("the chords", "document.getElementById('chords').open")
			click(`#chords button[value="call"]`)(b)
		}},
		{"next", func() { press("n")(b) }},
		{"end", func() { press("e")(b) }},
		{"watch", func() { press("w")(b) }},
		{"new tune-up", func() { click(`[data-do="fresh"]`)(b) }},
		{"skip", inDrawer("Trumpet 1", "skip")},
		{"absent", inDrawer("Trumpet 1", "absent")},
		{"a seat to the right", inDrawer("Trumpet 1", "right")},
		{"a seat to the left", inDrawer("Trumpet 1", "left")},
		{"the slide is moved", inDrawer("Horn 1", "moved")},
	} {
		caughtUp(b, s.hub)
		before := state(t, s.hub)
		same := func() bool { return state(t, s.hub) == before }
		tt.do()
		if !eventually(func() bool { return !same() }) {
			t.Errorf("%s changed nothing", tt.name)
		}
		press(kb.Escape)(b)
		press("u")(b)
		if !eventually(same) {
			t.Fatalf("after %s and one undo the row is\n%s\nneed\n%s", tt.name, state(t, s.hub), before)
		}
	}
}

// TestOneUndoInTheSetup: a change that is not saved is taken back on the page,
// one at a time; when there is none, the last saved one in the hub.
func TestOneUndoInTheSetup(t *testing.T) {
	s := newBand(t)
	for _, name := range []string{"Ada", "Bram", "Cleo"} {
		s.join(name, "horn_double", 0)
	}
	b := browser.Open(t)
	b.Size(1366, 768)
	s.enter(b)
	b.Go(s.url + "/setup")
	b.Until("the chairs", "document.querySelectorAll('.seat').length === 3")
	labels := func() string {
		return browser.Eval[string](b, `[...document.querySelectorAll('.seat [data-key="label"]')].map(i => i.value).join()`)
	}
	undo, save := click("#undo-edit"), click("#save")
	want := func(what, order string) {
		if got := labels(); got != order {
			t.Errorf("%s: the chairs are %s, need %s", what, got, order)
		}
	}
	click(`.seat:nth-child(1) [title="later"]`)(b)
	want("Horn 1 later", "Horn 2,Horn 1,Horn 3")
	click(`.seat:nth-child(3) [title^="take out"]`)(b)
	want("Horn 3 out", "Horn 2,Horn 1")
	undo(b)
	want("one undo", "Horn 2,Horn 1,Horn 3")
	undo(b)
	want("two", "Horn 1,Horn 2,Horn 3")

	click(`.seat:nth-child(3) [title="earlier"]`)(b)
	save(b)
	b.Until("saved", `document.getElementById("said").textContent === "Saved."`)
	want("saved", "Horn 1,Horn 3,Horn 2")
	undo(b)
	b.Until("taken back", `document.getElementById("said").textContent === "Taken back."`)
	want("the saved one taken back", "Horn 1,Horn 2,Horn 3")
}

// caughtUp waits until the page shows the chairs in the hub's order, so that
// nothing moves under a press.
func caughtUp(b *browser.Browser, h *session.Session) {
	var labels []string
	for _, c := range h.Row().Chairs {
		labels = append(labels, c.Label)
	}
	b.Until("the hub's order", fmt.Sprintf(`[...document.querySelectorAll("#seats .line .label")].map(l => l.textContent).join() === %q`, strings.Join(labels, ",")))
}

// eventually waits for what the page's request brings about.
func eventually(is func() bool) bool {
	const patience = 30 * time.Second // a busy machine's
	for end := time.Now().Add(patience); time.Now().Before(end); time.Sleep(10 * time.Millisecond) {
		if is() {
			return true
		}
	}
	return false
}

// state is what a leader sees of a row, and nothing that time alone changes.
func state(t *testing.T, h *session.Session) string {
	row := h.Row()
	row.Version = 0
	if row.Round != nil {
		row.Round.UsedSeconds = 0
	}
	text, err := json.MarshalIndent(row, "", " ")
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}
