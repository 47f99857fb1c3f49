package main

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"bellrow/node/check"
	"bellrow/node/player"
	"bellrow/proto"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

const (
	// pageWithin is how long a check waits for a browser: long enough to copy an
	// address and to answer the browser's question.
	pageWithin = time.Minute
	// lastWords is how long the page may take to show how the check went,
	// before this program ends.
	lastWords = 300 * time.Millisecond
)

// checkPage is the page on which a browser's microphone is checked: the
// player's own, with the steps of the check in large type.
type checkPage struct {
	nobody
	page *player.Server
	mic  *player.Microphone
	url  string
	stop func()

	mu     sync.Mutex
	tongue phrase.Tongue
	shown  func(phrase.Tongue) proto.View // in any tongue
}

// openCheckPage serves the page until stop is called.
func openCheckPage() (*checkPage, error) {
	l, err := listenForPage(anyPage)
	if err != nil {
		return nil, err
	}
	p := &checkPage{mic: player.NewMicrophone(nil)}
	if p.page, err = player.New(player.Config{Node: p, Mic: p.mic}); err != nil {
		l.Close()
		return nil, err
	}
	p.url = p.page.URL(l.Addr())
	p.page.ShowLink(player.Link{State: player.LinkJoined})
	p.show("idle", func(t phrase.Tongue) (string, []string) { return t.Say("check.allow"), nil })
	p.stop = servePage(p.page, l)
	return p, nil
}

// show shows one line and smaller ones below it, in the language of the page.
func (p *checkPage) show(phase string, words func(phrase.Tongue) (line string, notes []string)) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.shown = func(t phrase.Tongue) proto.View {
		line, notes := words(t)
		return proto.View{Chair: t.Say("check.title"), Phase: phase, Say: line, Notes: notes, Language: t.Language()}
	}
	p.page.ShowView(p.shown(p.tongue))
}

// SetLanguage says what is shown in another language.
func (p *checkPage) SetLanguage(tag string, _ bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.tongue = phrase.Player.In(tag, pitch.Style{})
	p.page.ShowView(p.shown(p.tongue))
}

var errNoBrowser = errors.New("no browser on this laptop gave its microphone")

// sound checks the microphone of the browser that opens the page.
func (p *checkPage) sound(ctx context.Context, say func(check.Step)) []check.Line {
	waiting, done := context.WithTimeout(ctx, pageWithin)
	defer done()
	src, err := p.mic.Open(waiting)
	if err != nil {
		return []check.Line{check.Unopened(errNoBrowser, "open the page and allow the microphone there, or leave it out with --no-sound")}
	}
	defer src.Close()
	p.page.ShowSound(player.Sound{Device: src.Info().Name, Rate: src.Info().Rate})
	lines := check.Microphone(ctx, src, func(s check.Step) {
		p.show("idle", func(t phrase.Tongue) (string, []string) { return s.In(t), nil })
		say(s)
	}, time.Now)
	p.tell(lines)
	time.Sleep(lastWords)
	return lines
}

// over is the phase of a page whose program has nothing more to say: that it does
// not answer any more is no trouble.
const over = "over"

// tell shows what has to be put right.
func (p *checkPage) tell(lines []check.Line) {
	p.show(over, func(t phrase.Tongue) (string, []string) {
		if check.Well(lines) {
			return t.Say("check.good"), nil
		}
		var todo []string
		for _, l := range lines {
			if l.State == check.Act {
				finding, do := l.In(t)
				todo = append(todo, finding+" "+do)
			}
		}
		return t.Say("check.todo"), todo
	})
}

// nobody sits at a page that only checks.
type nobody struct{}

var errNobody = errors.New("this page only checks the microphone")

func (nobody) SetSetting(context.Context, proto.Setting) error { return errNobody }
func (nobody) Pause(bool)                                      {}
func (nobody) SetNames(string)                                 {}
func (nobody) SetMute(string)                                  {}
func (nobody) Warm()                                           {}
func (nobody) Join(context.Context, player.Wish) error         { return errNobody }

// soundOnPage checks the browser's microphone: this build has none of its own.
func (c *checker) soundOnPage(ctx context.Context) []check.Line {
	p, err := openCheckPage()
	if err != nil {
		return []check.Line{check.Unopened(err, "leave the microphone out with --no-sound")}
	}
	defer p.stop()
	fmt.Fprintf(c.e.stderr, "In this build a browser is the microphone. Open this page in one on this laptop, within a minute:\n  %s\n", p.url)
	return p.sound(ctx, c.say)
}
