package web_test

import (
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"bellrow/proto/instrument"
	"bellrow/proto/page/browser"
)

func quote(s string) string { return strconv.Quote(s) }

// hand is a way to do what a leader does.
type hand struct {
	name                                        string
	call, again, next, end, undo, chord, absent func(*browser.Browser)
}

// click clicks with the mouse. The page may put a new element in the place of
// the one that was found before the mouse is there: then it is found anew.
func click(sel chromedp.CSS) func(*browser.Browser) {
	const gone = "Could not find node"
	return func(b *browser.Browser) {
		for range 3 {
			err := chromedp.Do(b.Context(), chromedp.Click(sel))
			if err == nil {
				return
			}
			if !strings.Contains(err.Error(), gone) {
				break
			}
		}
		b.Run(chromedp.Click(sel)) // and says what is wrong
	}
}

func press(keys string) func(*browser.Browser) {
	return func(b *browser.Browser) { b.Run(chromedp.KeyEvent(keys)) }
}

var hands = []hand{
	{
		name: "mouse",
		call: click(`#calls button`), again: click(`[data-do="again"]`), next: click(`[data-do="next"]`),
		end: click(`[data-do="end"]`), undo: click(`#undo`),
		chord: func(b *browser.Browser) {
			click(`#chord`)(b)
			b.Until("the chords", "document.getElementById('chords').open")
			b.Until("the tones", "!document.getElementById('chords-call').disabled")
			click(`#chords button[value="call"]`)(b)
		},
		absent: func(b *browser.Browser) {
			click(`#seats .line:last-child .chair`)(b)
			b.Until("the open chair", "document.querySelector('.more:not([hidden]) [data-act=absent]')")
			click(`.more:not([hidden]) [data-act="absent"]`)(b)
		},
	},
	{
		name: "keyboard",
		call: press("1"), again: press("a"), next: press("n"), end: press("e"), undo: press("u"),
		chord: func(b *browser.Browser) {
			press("c")(b)
			b.Until("the chords", "document.getElementById('chords').open")
			b.Until("the tones", "!document.getElementById('chords-call').disabled")
			for range 40 {
				if browser.Eval[bool](b, `document.activeElement.value === "call"`) {
					break
				}
				press(kb.Tab)(b)
			}
			press(kb.Enter)(b)
		},
		absent: func(b *browser.Browser) {
			press(kb.ArrowUp)(b) // from nowhere upwards: the last chair
			press("x")(b)
		},
	},
}

// TestTuneUp runs a whole tune-up from the leader's link to the summary, once
// by mouse and once by keyboard alone, against the real hub.
func TestTuneUp(t *testing.T) {
	for _, h := range hands {
		t.Run(h.name, func(t *testing.T) { tuneUp(t, h) })
	}
}

func tuneUp(t *testing.T, h hand) {
	s := newBand(t)
	b := browser.Open(t)
	b.Size(1366, 768)
	s.enter(b)
	b.Until("the join code on the empty row", `document.getElementById("code").textContent.length >= 6`)

	s.join("Tuba", "tuba_bbb", -9)
	trumpet := s.join("Trumpet", "trumpet_bb", 14)
	s.join("Horn", "horn_double", 2)
	late := s.join("Euphonium", "euphonium_bb_bc", 0)
	b.Until("four chairs", `document.querySelectorAll(".line").length === 4`)

	// The last chair on the row is taken out for today, put back by undo, and
	// taken out again.
	h.absent(b)
	b.Until("one absent", `document.querySelectorAll('[data-state="absent"]').length === 1`)
	h.undo(b)
	b.Until("nobody absent", `document.querySelectorAll('[data-state="absent"]').length === 0`)

	h.call(b)
	b.Until("somebody plays now", `document.querySelector('[data-state="turn"]')`)
	if n := browser.Eval[int](b, `document.querySelectorAll('[data-state="turn"]').length`); n != 1 {
		t.Errorf("%d chairs are asked at once in a round in turn, need 1", n)
	}
	s.playAll()
	b.Until("the trumpet's move", chairText("Trumpet", "pull"))
	b.Shot("tuneup-" + h.name + "-moves")
	if mm := browser.Eval[string](b, `[...document.querySelectorAll(".line")].find(l => l.textContent.includes("Trumpet")).querySelector(".mm")?.textContent ?? ""`); mm == "" {
		t.Error("the trumpet's move has no millimetres")
	}

	s.obeyAll()
	b.Until("the trumpet asked again", chairText("Trumpet", "asked again"))
	h.again(b)
	b.Until("a second round", `[...document.querySelectorAll('[data-state="turn"]')].length === 1`)
	h.next(b)
	s.playAll()
	s.obeyAll()
	h.end(b)
	b.Until("no round runs", `document.querySelector('[data-do="end"]').disabled`)

	trumpet.cents, late.cents = 0, 0
	h.call(b)
	b.Until("a third round", `document.querySelector('[data-state="turn"]')`)
	s.playAll()
	b.Until("all set", `document.querySelectorAll('[data-verdict="set"]').length === 4`)
	b.Shot("tuneup-" + h.name + "-set")

	h.chord(b)
	b.Until("the chord on the row", `document.getElementById("facts").textContent.includes("major")`)
	b.Shot("tuneup-" + h.name + "-chord")
	h.end(b)

	b.Go(s.url + "/summary")
	b.Until("the summary", `document.querySelectorAll("tbody tr").length === 4`)
	if text := browser.Eval[string](b, `document.getElementById("title").textContent`); text != "Saturday brass: 4 of 4 set" {
		t.Errorf("the summary says %q, need 4 of 4 set", text)
	}
}

// TestNoKeyNoRow shows that the row is for the leader alone.
func TestNoKeyNoRow(t *testing.T) {
	s := newBand(t)
	b := browser.Open(t)
	b.Go(s.url + "/row")
	b.Until("the explanation", `document.getElementById("notice").textContent.includes("Only the leader")`)
	if got := browser.Eval[string](b, `document.getElementById("code").textContent`); got != "" {
		t.Errorf("somebody without the key sees the code %q", got)
	}
	b.Go(s.url + "/row#key=not-the-leader-key-of-this-hub")
	b.Until("the refusal", `document.getElementById("notice").textContent.includes("not this hub")`)
}

// TestLeaderSaysMoved: the leader says that a slide was moved, and closes the
// chair again, by keyboard.
func TestLeaderSaysMoved(t *testing.T) {
	s := newBand(t)
	trumpet := s.join("Trumpet", "trumpet_bb", 14)
	b := browser.Open(t)
	s.enter(b)
	press("1")(b)
	b.Until("its turn", `document.querySelector('[data-state="turn"]')`)
	trumpet.play()
	b.Until("its move", `document.querySelector(".mm")`)
	press(kb.ArrowDown + kb.Enter)(b)
	b.Until("the open chair", `document.querySelector('[data-act="moved"]')`)
	want := s.hub.View(trumpet.chair).Answer.Moves[0].ToMM
	click(`[data-act="moved"]`)(b)
	b.Until("the slide at its new place", `document.querySelector(".why").innerText.includes("`+strconv.FormatFloat(want, 'f', 0, 64)+` mm out")`)
	b.Until("that it is asked again", `document.querySelector('[data-state="turn"]')`)
	press("n")(b)
	b.Until("the word for it", `document.querySelector(".word").textContent === "moved"`)
	b.Shot("row-moved")
	press(kb.Escape)(b)
	b.Until("the closed chair", `document.querySelector(".more").hidden && document.activeElement.classList.contains("chair")`)
	for _, sl := range s.hub.View(trumpet.chair).Slides {
		if sl.ID == "main" && sl.FromMM != want {
			t.Errorf("the main slide stands at %g mm, need %g", sl.FromMM, want)
		}
	}
}

// TestRoom: a section that is flat as one is told so once, seen as one, and
// moves only when the leader wants it; a new tune-up starts afresh.
func TestRoom(t *testing.T) {
	s := newBand(t)
	for name, in := range map[string]instrument.ID{"Tuba": "tuba_bbb", "Trumpet": "trumpet_bb", "Horn": "horn_double", "Trombone": "tenor_trombone_bb", "Cornet": "cornet_bb"} {
		s.join(name, in, -14)
	}
	b := browser.Open(t)
	b.Size(1366, 768)
	s.enter(b)
	press("1")(b)
	b.Until("a turn", `document.querySelector('[data-state="turn"]')`)
	s.playAll()
	b.Until("the room", `document.getElementById("say").dataset.kind === "room" && !document.getElementById("room").hidden`)
	b.Shot("room-real")
	if n := browser.Eval[int](b, `document.querySelectorAll(".mm").length`); n != 0 {
		t.Errorf("%d chairs have a move though the whole section is off together, need none", n)
	}
	click(`[data-do="moves"]`)(b)
	b.Until("the moves", `document.querySelectorAll(".mm").length > 0`)
	click(`[data-do="fresh"]`)(b)
	b.Until("a clean row", `document.querySelectorAll('li.line[data-verdict="none"]').length === 5`)
	press("u")(b)
	b.Until("the row as it was", `document.querySelectorAll(".mm").length > 0`)
}
