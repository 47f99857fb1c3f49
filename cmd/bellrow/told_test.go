package main

import (
	"context"
	"io"
	"log/slog"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/gorilla/websocket"

	"bellrow/hub"
	"bellrow/hub/show"
	"bellrow/node/player"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// told is what a player's page says of the leader's deeds: all but what the
// microphone hears.
type told struct {
	stage, section, chair, instrument, say, link string
	link_                                        player.LinkState
}

// watcher reads a player's page as a browser does.
type watcher struct {
	t    *testing.T
	ws   *websocket.Conn
	what string // is expected
	at   told
}

func watchPage(t *testing.T, f *front) *watcher {
	t.Helper()
	ws, answer, err := websocket.DefaultDialer.Dial(strings.Replace(f.page.URL(f.listener.Addr()), "http", "ws", 1)+"ws", nil)
	if err != nil {
		t.Fatal(err)
	}
	answer.Body.Close()
	t.Cleanup(func() { ws.Close() })
	return &watcher{t: t, ws: ws}
}

// next waits until the page says something else, and returns that.
func (w *watcher) next() told {
	w.t.Helper()
	w.ws.SetReadDeadline(time.Now().Add(2 * time.Minute))
	for {
		var s *player.Sheet
		if err := w.ws.ReadJSON(&s); err != nil {
			w.t.Fatalf("%s: %v; the page says %+v", w.what, err, w.at)
		}
		if s == nil {
			continue // it runs, and has nothing new
		}
		now := told{s.Stage, s.Section, s.Chair, s.Instrument, s.Say, s.Link.Words, s.Link.State}
		if now != w.at {
			w.at = now
			return now
		}
	}
}

// TestPlayerIsTold: what the leader does to a player is the next thing that the
// player's page says, in words of its own, whatever stood there before.
func TestPlayerIsTold(t *testing.T) {
	log := slog.New(slog.DiscardHandler)
	s, err := openStation(t.Context(), stationConfig{listen: "127.0.0.1:0", section: "Hill Brass", log: log})
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	ended := make(chan struct{})
	go func() { defer close(ended); s.run(ctx) }()
	defer func() { stop(); <-ended }()
	in, err := instrument.Find("horn_f")
	if err != nil {
		t.Fatal(err)
	}
	f, err := openFront(&nodeConfig{chair: "Ada", instrument: in, at: s.playersLink().String(), join: s.guard.JoinCode(), state: t.TempDir(),
		page: "127.0.0.1:0", noMDNS: true, simulate: "build=0"}, env{strings.NewReader(""), io.Discard, io.Discard})
	if err != nil {
		t.Fatal(err)
	}
	sat := make(chan struct{})
	go func() { defer close(sat); f.run(ctx) }()
	defer func() { stop(); <-sat }()
	w := watchPage(t, f)
	for w.next(); w.at.chair == "" || w.at.link_ != player.LinkJoined; w.next() {
	}
	id := chairs(t, s, "a chair", func(c []show.ChairRow) bool { return len(c) == 1 && c[0].State != "away" })[0].ID

	do := func(c hub.Command) {
		t.Helper()
		if err := s.hub.Command(t.Context(), c); err != nil {
			t.Fatal(err)
		}
	}
	edit := func(change func(*hub.Chair)) {
		t.Helper()
		section := s.hub.Section()
		section.Chairs = slices.Clone(section.Chairs)
		change(&section.Chairs[0])
		do(hub.Command{Do: hub.DoEdit, Section: &section})
	}
	for _, deed := range []struct {
		what string
		do   func()
		said func(told) bool
	}{
		{"absent", func() { do(hub.Command{Do: hub.DoAbsent, Chair: id}) }, func(n told) bool { return strings.Contains(n.say, "marked absent") }},
		{"here after all", func() { do(hub.Command{Do: hub.DoPresent, Chair: id}) }, func(n told) bool { return strings.Contains(n.say, "Warm up") }},
		{"another label", func() { edit(func(c *hub.Chair) { c.Label = "Horn 4" }) }, func(n told) bool { return strings.Contains(n.chair, "Horn 4") }},
		{"another instrument", func() { edit(func(c *hub.Chair) { c.Instrument = "trumpet_bb" }) }, func(n told) bool { return strings.Contains(n.instrument, "Trumpet") }},
		{"called", func() { do(hub.Command{Do: hub.DoCall, Call: &hub.Call{Kind: hub.CallNote, Note: pitch.Note(70)}}) }, func(n told) bool { return strings.Contains(n.say, "Play your C5") }},
		{"skipped", func() { do(hub.Command{Do: hub.DoSkip, Chair: id}) }, func(n told) bool { return strings.Contains(n.say, "left out") }},
		{"taken back", func() { do(hub.Command{Do: hub.DoUndo}) }, func(n told) bool { return strings.Contains(n.say, "Play your C5") }},
		{"a rehearsal is watched", func() { do(hub.Command{Do: hub.DoWatch}) }, func(n told) bool { return strings.Contains(n.say, "Rehearse") }},
		{"it ends", func() { do(hub.Command{Do: hub.DoEnd}) }, func(n told) bool { return strings.Contains(n.say, "Warm up") }},
		{"another section", func() { do(hub.Command{Do: hub.DoOpen, Name: "Low brass"}) }, func(n told) bool {
			return strings.Contains(n.link, "opened another section: Low brass") && n.link_ == player.LinkLost
		}},
		{"which it joins", func() {
			for w.at.link_ != player.LinkJoined {
				w.next()
			}
		}, func(n told) bool { return n.section == "Low brass" }},
		{"removed", func() {
			now := chairs(t, s, "a chair in the other section", func(c []show.ChairRow) bool { return len(c) == 1 })
			do(hub.Command{Do: hub.DoRemove, Chair: now[0].ID})
		}, func(n told) bool {
			return strings.Contains(n.link, "The leader has taken this chair out") && n.stage == "join"
		}},
	} {
		w.what = deed.what
		deed.do()
		if deed.what == "which it joins" && deed.said(w.at) {
			continue
		}
		if now := w.next(); !deed.said(now) {
			t.Fatalf("%s: the page says %+v", deed.what, now)
		}
	}
}
