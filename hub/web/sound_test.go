package web_test

import (
	"testing"

	"github.com/chromedp/chromedp"

	"bellrow/hub/web/webtest"
	"bellrow/proto/page/browser"
)

// heardTones notes the frequency of every tone that the page starts, and
// whether it was stopped.
const heardTones = `(() => { window.tones = []; const start = OscillatorNode.prototype.start, stop = OscillatorNode.prototype.stop;
	OscillatorNode.prototype.start = function (...a) { this.mark = { hz: this.frequency.value, ended: false }; window.tones.push(this.mark); return start.apply(this, a); };
	OscillatorNode.prototype.stop = function (...a) { this.mark.ended = true; return stop.apply(this, a); }; return true; })()`

// TestSoundTheNote: the leader's laptop sounds a tuning note at the section's
// pitch, stops when the key is let go, and is silent while a round runs.
func TestSoundTheNote(t *testing.T) {
	h := webtest.New(3, webtest.Before)
	b := browser.Open(t)
	b.Size(1366, 768)
	b.Go(serve(t, h, webtest.Guard{}) + "/row")
	b.Until("the row", "document.querySelector('.line')")
	browser.Eval[bool](b, heardTones)
	// B flat 3 is 11 semitones below A 4: at A 442 it sounds at 234.13 Hz
	// (equal temperament: 442 / 2^(11/12), worked out by hand).
	b.Run(chromedp.Click(chromedp.CSS("#sound")))
	b.Until("a tone", "window.tones.length === 1")
	if hz := browser.Eval[float64](b, "window.tones[0].hz"); hz < 234.1 || hz > 234.2 {
		t.Errorf("B flat sounds at %.2f Hz, need 234.13 at A 442", hz)
	}
	// A call while it sounds ends it, and goes out only after the silence.
	b.Run(chromedp.Click(chromedp.CSS("#calls button")))
	b.Until("the tone ended", "window.tones[0].ended")
	if n := len(h.Commands()); n != 0 {
		t.Errorf("%d commands went out before the silence, need none", n)
	}
	if !eventually(func() bool { return len(h.Commands()) == 1 }) {
		t.Error("the call never went out")
	}
}

// TestSoundTheRoot: before a chord is called its root can be sounded, as written
// in the dialog.
func TestSoundTheRoot(t *testing.T) {
	b := browser.Open(t)
	b.Size(1366, 768)
	b.Go(serve(t, webtest.New(3, webtest.Before), webtest.Guard{}) + "/row")
	b.Until("the row", "document.querySelector('.line')")
	browser.Eval[bool](b, heardTones)
	b.Run(chromedp.Click(chromedp.CSS("#chord")))
	b.Until("the dialog", `document.querySelector("#board li") && !document.getElementById("chords-sound").disabled`)
	browser.Eval[bool](b, `document.querySelector('#roots input[value="9"]').click(); true`)
	b.Until("a chord of A", `document.getElementById("chord-name").textContent.includes("A")`)
	b.Run(chromedp.Click(chromedp.CSS("#chords-sound")))
	b.Until("a tone", "window.tones.length === 1")
	// A3 is an octave below A4: 221 Hz at A 442.
	if hz := browser.Eval[float64](b, "window.tones[0].hz"); hz < 220.99 || hz > 221.01 {
		t.Errorf("the root A sounds at %.2f Hz, need 221", hz)
	}
}

// TestSilentWhileListening: nothing sounds within a player's turn.
func TestSilentWhileListening(t *testing.T) {
	b := browser.Open(t)
	b.Size(1366, 768)
	b.Go(serve(t, webtest.New(12, webtest.Midway), webtest.Guard{}) + "/row")
	b.Until("the row", "document.querySelector('.line')")
	browser.Eval[bool](b, heardTones)
	browser.Eval[bool](b, `document.getElementById("sound").click(); document.body.dispatchEvent(new KeyboardEvent("keydown", {key: "o", code: "KeyO", bubbles: true})); true`)
	settle(b)
	if n := browser.Eval[int](b, "window.tones.length"); n != 0 {
		t.Errorf("%d tones began while somebody is listened to, need none", n)
	}
	if !browser.Eval[bool](b, `document.getElementById("sound").disabled`) {
		t.Error("the button is not disabled")
	}
}
