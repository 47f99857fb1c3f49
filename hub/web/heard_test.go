package web_test

import (
	"strings"
	"testing"

	"bellrow/hub/show"
	"bellrow/hub/web/webtest"
	"bellrow/proto/page/browser"
)

// TestHeardOnce: a screen reader hears each settled answer once, and each new
// sentence once, in words that are not told twice,
// by one name for each chair.
func TestHeardOnce(t *testing.T) {
	s := newBand(t)
	tuba := s.join("Ada", "tuba_bbb", -30)
	horn := s.join("Bram", "horn_double", 0)
	b := browser.Open(t)
	b.Inject(`window.read = []; window.sentences = [];
		addEventListener("DOMContentLoaded", () => {
			if (!document.getElementById("say")) return; // the page that takes the key
			const log = (id, to) => new MutationObserver(() => to.push(document.getElementById(id).textContent))
				.observe(document.getElementById(id), {childList: true, characterData: true, subtree: true});
			log("heard", read); log("say", sentences);
		});`)
	s.enter(b)
	b.Until("two chairs", "document.querySelectorAll('li.line').length === 2")
	click("#calls button")(b)
	b.Until("a turn", `document.querySelector('[data-state="turn"]')`)
	var answers []string
	for _, p := range []*player{tuba, horn} {
		b.Until(p.name+"'s turn", `document.getElementById("say").textContent.includes("`+p.name+` plays")`)
		p.play()
		answers = append(answers, s.hub.View(p.chair).Answer.Headline)
		if s.hub.View(p.chair).Round != 0 { // the leader does not wait for the slide
			b.Until("what is said of "+p.name, `document.getElementById("say").textContent === `+quote(s.hub.Row().Say))
			press("n")(b)
		}
	}
	s.playAll()
	last := s.hub.Row().Say
	b.Until("the last sentence", "document.getElementById('say').textContent === "+quote(last))
	read := browser.Eval[[]string](b, "window.read")
	for _, sentence := range browser.Eval[[]string](b, "window.sentences") {
		if n := strings.Count(strings.Join(read, "\n"), sentence); n != 1 {
			t.Errorf("the sentence %q was read aloud %d times, need once; all that was read: %q", sentence, n, read)
		}
	}
	for _, line := range read { // sentences call players by their names
		for _, c := range s.hub.Row().Chairs {
			if strings.Contains(line, c.Label+":") {
				t.Errorf("%q calls %s by another name than the sentence", line, c.Name)
			}
		}
	}
	for _, answer := range answers {
		for _, line := range read {
			if n := strings.Count(strings.ToLower(line), strings.ToLower(answer)); n > 1 {
				t.Errorf("%q tells %q %d times, need once", line, answer, n)
			}
		}
		if !strings.Contains(strings.ToLower(strings.Join(read, " ")), strings.ToLower(answer)) {
			t.Errorf("the answer %q was not read aloud; all that was read: %q", answer, read)
		}
	}
	s.obeyAll()
	b.Until("the slide moved", chairText("Tuba", "moved"))
	b.Until("the sentence for it", `document.getElementById("say").textContent.startsWith("One has moved")`)
	after := strings.Join(browser.Eval[[]string](b, "window.read")[len(read):], " ")
	if strings.Contains(strings.ToLower(after), strings.ToLower(answers[0])) {
		t.Errorf("after the move was made it is read aloud again: %q", after)
	}
	if len(read) == 0 || !strings.Contains(strings.Join(read, " "), "Call a note to begin.") {
		t.Errorf("the first sentence was not read aloud: %q", read)
	}
	t.Logf("read aloud: %q", read)
}

// TestDoubtSaysWhy: a chair that waits for another try says what was wrong
// with the last one.
func TestDoubtSaysWhy(t *testing.T) {
	h := webtest.New(12, webtest.Midway)
	h.Set(func(r *show.Row) {
		c := &r.Chairs[2]
		c.State, c.Words, c.Verdict = "wait", "waits", "doubt"
		c.Headline = "The instrument is still cold and will come up."
	})
	b := browser.Open(t)
	b.Go(serve(t, h, webtest.Guard{}) + "/row")
	b.Until("the reason", chairText("Horn 3", "in doubt"))
	b.Until("the reason", chairText("Horn 3", "still cold"))
}
