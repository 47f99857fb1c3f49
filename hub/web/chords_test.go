package web_test

import (
	"fmt"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"bellrow/proto/instrument"
	"bellrow/proto/page/browser"
)

// quintet joins a brass quintet.
func (b *band) quintet() {
	for _, p := range []struct {
		name string
		in   instrument.ID
	}{{"Tuba", "tuba_bbb"}, {"Trombone", "tenor_trombone_bb"}, {"Horn", "horn_double"}, {"Trumpet", "trumpet_bb"}, {"Second trumpet", "trumpet_bb"}} {
		b.join(p.name, p.in, 0)
	}
}

// railOf is a script's expression for the rail of a chair in the dialog.
func railOf(chair string) string {
	return fmt.Sprintf(`document.querySelector('#board input[aria-label=%q]')`, chair+" plays")
}

// tokenWords is what a chair's token says aloud.
func tokenWords(b *browser.Browser, chair string) string {
	return browser.Eval[string](b, railOf(chair)+`.getAttribute("aria-valuetext")`)
}

// place is a point on the page, in CSS pixels.
type place struct {
	X, Y float64
}

// dragOf is from a chair's token to the notch before it on the same rail.
func dragOf(b *browser.Browser, chair string) (from, to place) {
	browser.Eval[bool](b, railOf(chair)+`.scrollIntoView({ block: "center" }); true`)
	points := browser.Eval[[]place](b, `(() => {
		const reach = `+railOf(chair)+`.parentElement, mid = (n) => { const r = n.getBoundingClientRect(); return { X: r.x + r.width / 2, Y: r.y + r.height / 2 } };
		const token = mid(reach.querySelector(".token"));
		return [token, [...reach.querySelectorAll(".notch")].map(mid).filter((p) => p.X < token.X - 4).pop()];
	})()`)
	return points[0], points[1]
}

func byMouse(b *browser.Browser, chair string) {
	from, to := dragOf(b, chair)
	b.Run(chromedp.DragAndDropXY(from.X, from.Y, to.X, to.Y))
}

func byFinger(b *browser.Browser, chair string) {
	from, to := dragOf(b, chair)
	touch := func(kind input.DispatchTouchEventType, at ...*input.TouchPoint) {
		if _, err := chromedp.Call(b.Context(), input.DispatchTouchEvent, input.DispatchTouchEventParams{Type: kind, TouchPoints: at}); err != nil {
			panic(err)
		}
	}
	const steps = 6
	touch(input.DispatchTouchEventTypeTouchStart, &input.TouchPoint{X: from.X, Y: from.Y})
	for i := 1; i <= steps; i++ {
		touch(input.DispatchTouchEventTypeTouchMove, &input.TouchPoint{X: from.X + (to.X-from.X)*float64(i)/steps, Y: from.Y})
	}
	touch(input.DispatchTouchEventTypeTouchEnd)
}

func byKey(b *browser.Browser, chair string) {
	browser.Eval[bool](b, railOf(chair)+`.focus(); true`)
	press(kb.ArrowLeft)(b)
}

// TestTonesByHand: a chord's tones are moved from note to note by mouse, by
// finger and by key, taken back one by one, and called as they stand.
func TestTonesByHand(t *testing.T) {
	s := newBand(t)
	s.quintet()
	b := browser.Open(t)
	b.Size(1366, 768)
	s.enter(b)
	if _, err := chromedp.Call(b.Context(), emulation.SetTouchEmulationEnabled, emulation.SetTouchEmulationEnabledParams{Enabled: true}); err != nil {
		t.Fatal(err)
	}
	press("c")(b)
	b.Until("the tones", `document.querySelectorAll("#board li").length === 5`)
	b.Shot("chords-proposed")
	before := tokenWords(b, "Trumpet 1")
	for _, way := range []struct {
		name string
		move func(*browser.Browser, string)
	}{{"mouse", byMouse}, {"finger", byFinger}, {"key", byKey}} {
		way.move(b, "Trumpet 1")
		b.Until("a tone moved by "+way.name, railOf("Trumpet 1")+`.getAttribute("aria-valuetext") !== `+quote(before)+` && !document.getElementById("tones-undo").disabled`)
		click(`#tones-undo`)(b)
		b.Until("taken back after "+way.name, railOf("Trumpet 1")+`.getAttribute("aria-valuetext") === `+quote(before)+` && document.getElementById("tones-undo").disabled`)
	}
	byKey(b, "Trumpet 1")
	want := tokenWords(b, "Trumpet 1")
	b.Shot("chords-moved")
	click(`#chords-call`)(b)
	b.Until("the call", `document.getElementById("facts").textContent.includes("major")`)
	for _, c := range s.hub.Row().Chairs {
		if c.Label == "Trumpet 1" && "written "+c.Written != want[:len("written "+c.Written)] {
			t.Errorf("the first trumpet is asked for %s after %q was chosen", c.Written, want)
		}
	}
	// The same in the drawer, while the round runs.
	browser.Eval[bool](b, `[...document.querySelectorAll(".chair")].find((c) => c.textContent.includes("Trumpet 1")).click(); true`)
	rail := `document.querySelector('.more:not([hidden]) [data-act="tone"]')`
	b.Until("the drawer", rail)
	b.Shot("chords-drawer")
	was := browser.Eval[string](b, rail+".value")
	browser.Eval[bool](b, rail+`.focus(); true`)
	press(kb.ArrowLeft)(b)
	b.Until("another note, and the focus kept", rail+".value !== "+quote(was)+` && document.activeElement === `+rail)
	click("#undo")(b)
	b.Until("taken back", rail+".value === "+quote(was))
}

// TestChordDialog: every part of a chord can be chosen, the hub's refusal of
// a written one is said, and what is lacking is told.
func TestChordDialog(t *testing.T) {
	s := newBand(t)
	s.quintet()
	b := browser.Open(t)
	b.Size(1366, 768)
	s.enter(b)
	press("c")(b)
	b.Until("the tones", `document.querySelectorAll("#board li").length === 5`)
	choose := func(set, label string) {
		browser.Eval[bool](b, fmt.Sprintf(`[...document.querySelectorAll("#%s .choice")].find((c) => c.textContent === %q).querySelector("input").click(); true`, set, label))
	}
	choose("roots", "E♭")
	choose("kinds", "dominant seventh")
	b.Until("four tones", `document.querySelectorAll("#inversions .choice").length === 4 && !document.getElementById("sevenths").hidden`)
	choose("sevenths", "as it moves on, 16/9")
	choose("inversions", "seventh")
	choose("anchors", "the bass as it sounds")
	choose("shapes", "stronger below")
	b.Until("the seventh in the bass", railOf("Tuba 1")+`.getAttribute("aria-valuetext").includes("seventh")`)
	browser.Eval[bool](b, `document.querySelector("#chords details").open = true; true`)
	for _, size := range sizesToShow(sizes) {
		b.Size(size.width, size.height)
		if w := browser.Eval[float64](b, "document.querySelector('.twain').scrollWidth - document.querySelector('.twain').clientWidth"); w > 0 {
			t.Errorf("at %s px the dialog is %g px too wide", size.name, w)
		}
		for _, theme := range []string{"paper", "stage"} {
			b.Theme(theme)
			b.Shot("chords-" + size.name + "-" + theme)
		}
	}
	b.Size(1366, 768)
	b.Axe("the choice of a chord")
	// Roots and written notes are spelled as the chord is: the trumpet's third
	// of D major is G sharp.
	choose("roots", "D")
	choose("kinds", "major")
	b.Until("D major in sharps", `[...document.querySelectorAll("#board input")].map((i) => i.getAttribute("aria-valuetext")).some((s) => s.includes("G♯") && s.includes("third"))`)
	choose("kinds", "minor")
	b.Until("C sharp minor on offer", `document.querySelectorAll("#roots .choice")[1].textContent === "C♯"`)
	choose("kinds", "major third")
	b.Until("two tones", `document.querySelectorAll("#inversions .choice").length === 2`)
	choose("roots", "E♭")
	choose("kinds", "dominant seventh")
	b.Until("four tones", `document.querySelectorAll("#inversions .choice").length === 4`)
	choose("kinds", "minor")
	b.Until("the root again", `document.querySelectorAll("#inversions .choice").length === 3 && document.querySelector("#inversions input:checked")?.value === "0"`)
	choose("kinds", "dominant seventh")
	b.Until("four tones", `document.querySelectorAll("#inversions .choice").length === 4`)
	choose("inversions", "seventh")
	b.Until("the seventh in the bass", railOf("Tuba 1")+`.getAttribute("aria-valuetext").includes("seventh")`)

	write := func(text string) {
		browser.Eval[bool](b, fmt.Sprintf(`{ const i = document.getElementById("chord-text"); i.value = %q; i.dispatchEvent(new Event("input", { bubbles: true })); true }`, text))
	}
	write("X major")
	b.Until("the refusal", `document.getElementById("chords-call").disabled && document.getElementById("tones-say").textContent.includes("X major")`)
	write("")
	b.Until("the tones", `!document.getElementById("chords-call").disabled`)
	for range 9 {
		byKey(b, "Tuba 1")
	}
	b.Until("what lies lowest", `document.getElementById("tones-say").textContent.includes("lowest")`)
	click(`#tones-undo`)(b)
	click(`#chords-call`)(b)
	b.Until("the call", `document.getElementById("facts").textContent.includes("E♭ dominant seventh (16/9), third inversion")`)
}
