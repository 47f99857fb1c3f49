package player_test

import (
	"testing"

	"bellrow/node/listen"
	"bellrow/node/player"
	"bellrow/proto"
	"bellrow/proto/page/browser"
)

// TestHeardStop: once enough of a called note was heard the page says so
// without a number and turns over as a whole; when the sound has ended it turns
// back, and the answer comes.
func TestHeardStop(t *testing.T) {
	b := browser.Open(t)
	s, url := serve(t, &fake{})
	s.ShowSeat(seat)
	s.ShowLink(player.Link{State: player.LinkJoined, Hub: "Saturday brass"})
	s.ShowView(play)
	b.Go(url)
	ground := func() string {
		return browser.Eval[string](b, `getComputedStyle(document.body, "::before").backgroundColor`)
	}
	sound := func(state listen.State, enough bool) {
		s.ShowSound(player.Sound{State: state, Device: "Built-in microphone", Level: -22, Floor: -61, Played: 300, Enough: enough})
	}
	sound(listen.Sounding, false)
	b.Until("the note alone", `document.body.dataset.dark !== undefined && document.body.dataset.enough === undefined`)
	before := ground()
	sound(listen.Resting, true)
	sound(listen.Resting, false) // told once, and shown until the sound has ended
	b.Until("heard", `document.getElementById("say").textContent === "Heard. Stop." && document.body.dataset.enough !== undefined`)
	if ground() == before {
		t.Error("nothing is seen but words")
	}
	if text := browser.Eval[string](b, `document.getElementById("play").innerText`); containsDigit(text) {
		t.Errorf("a number stands on the page while the note sounds: %q", text)
	}
	b.Shot("player-enough")
	sound(listen.Quiet, false)
	b.Until("it is not asked again", `document.body.dataset.enough === undefined && document.getElementById("say").textContent === "Heard. One moment …"`)
	sound(listen.Quiet, false)
	b.Until("the page as before", `document.getElementById("say").textContent === `+"`"+play.Say+"`"+``)

	together := play
	together.Tracks = 58.27
	s.ShowView(together)
	sound(listen.Resting, true)
	b.Until("together they hold on", `document.body.dataset.dark !== undefined && document.body.dataset.enough === undefined`)
	s.ShowView(proto.View{Phase: "watch", Listen: true})
	b.Until("nobody is told to stop in a rehearsal", `document.body.dataset.enough === undefined`)

	s.ShowView(play)
	b.Until("heard again", `document.body.dataset.enough !== undefined`)
	b.Axe("heard, stop")
}

func containsDigit(s string) bool {
	for _, r := range s {
		if r >= '0' && r <= '9' {
			return true
		}
	}
	return false
}
