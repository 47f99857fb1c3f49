package web_test

import (
	"context"
	"net/http/httptest"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/hub/access"
	"bellrow/hub/mem"
	"bellrow/hub/report"
	"bellrow/hub/session"
	"bellrow/hub/web"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/page/browser"
	"bellrow/proto/pitch"
)

// band is a real hub with its pages and players who answer when told to.
type band struct {
	t       *testing.T
	hub     *session.Session
	guard   *access.Guard
	url     string
	players []*player
}

// player is a laptop with an instrument whose pitch follows its main slide.
type player struct {
	band  *band
	name  string
	chair hub.ChairID
	seq   uint64
	// cents is how far the player is off; each move of the slide is believed
	// to bring it to 0.
	cents pitch.Cents
}

func newBand(t *testing.T) *band {
	h, err := session.New(t.Context(), session.Config{Store: mem.New(), Section: "Saturday brass", Order: hub.OrderLowToHigh})
	if err != nil {
		t.Fatal(err)
	}
	g, err := access.New(access.Config{JoinCode: h.JoinCode()})
	if err != nil {
		t.Fatal(err)
	}
	s, err := web.New(web.Config{Hub: h, Guard: g, Catalogue: instrument.Catalogue, Report: func(context.Context, time.Time) (report.Report, error) { return season(h.Section()), nil }, Invitation: func() web.Invitation {
		return web.Invitation{Links: []string{"http://192.168.4.20:7440"}, Code: g.JoinCode()}
	}})
	if err != nil {
		t.Fatal(err)
	}
	srv := httptest.NewServer(s.Handler())
	t.Cleanup(srv.Close)
	return &band{t: t, hub: h, guard: g, url: srv.URL}
}

func (b *band) join(name string, in instrument.ID, cents pitch.Cents) *player {
	b.t.Helper()
	j, err := b.hub.Join(b.t.Context(), hub.Peer{Node: "node-" + name, Boot: "boot-" + name, Chair: name, Instrument: in})
	if err != nil {
		b.t.Fatal(err)
	}
	p := &player{band: b, name: name, chair: j.Chair, cents: cents}
	b.hub.State(p.chair, proto.State{State: "quiet", Level: -70})
	b.players = append(b.players, p)
	return p
}

// play answers the call with one settled reading.
func (p *player) play() {
	p.band.t.Helper()
	p.send(p.band.hub.View(p.chair).Target.Shift(p.cents))
}

// send delivers one settled reading.
func (p *player) send(hz pitch.Hertz) {
	p.band.t.Helper()
	v := p.band.hub.View(p.chair)
	p.seq++
	at := 10 * float64(p.seq)
	r := proto.Reading{Sequence: p.seq, Round: v.Round, Hz: hz, CI95: 0.5, Spread: 1,
		Level: -20, Floor: -60, Settled: true, Played: 600, Onset: at, Start: at + 0.5, End: at + 1.5}
	if err := p.band.hub.Deliver(p.band.t.Context(), p.chair, "node-"+p.name, "boot-"+p.name, r); err != nil {
		p.band.t.Fatalf("%s: %v", p.name, err)
	}
}

// playAll lets everybody who is asked play until nobody is asked any more, or
// only those who are to move a slide first.
func (b *band) playAll() {
	b.t.Helper()
	for range 12 * len(b.players) {
		someone := false
		for _, p := range b.players {
			v := b.hub.View(p.chair)
			if v.Phase != "play" || !v.Listen {
				continue
			}
			someone = true
			p.play()
		}
		if !someone {
			return
		}
	}
	b.t.Fatal("the players are asked without end")
}

// obeyAll lets everybody do what the answers say.
func (b *band) obeyAll() {
	for _, p := range b.players {
		p.obey()
	}
}

// obey makes the move of the answer; the pitch goes with the slide.
func (p *player) obey() {
	v := p.band.hub.View(p.chair)
	if v.Answer == nil || len(v.Answer.Moves) == 0 {
		return
	}
	for _, m := range v.Answer.Moves {
		if err := p.band.hub.Setting(p.band.t.Context(), p.chair, proto.Setting{Slide: m.ID, MM: m.ToMM}); err != nil {
			p.band.t.Fatalf("%s: %v", p.name, err)
		}
	}
	p.cents = 0
}

// enter opens the leader's row through the leader's link.
func (b *band) enter(br *browser.Browser) {
	b.t.Helper()
	br.Go(b.guard.LeaderLink(b.url + "/row"))
	br.Until("the row", "location.pathname === '/row' && document.querySelector('#calls button')")
}

func chairText(label, has string) string {
	return `[...document.querySelectorAll(".line")].some(l => l.querySelector(".name, .label") && l.textContent.includes(` +
		quote(label) + `) && l.innerText.includes(` + quote(has) + `))`
}

// hold answers a listening call with a note of the player's own.
func (p *player) hold(n pitch.Note) {
	p.band.t.Helper()
	p.send(pitch.Reference{}.Frequency(n))
}
