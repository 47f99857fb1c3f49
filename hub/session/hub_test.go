package session_test

import (
	"bytes"
	"encoding/json"
	"log/slog"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/hub/ensemble"
	"bellrow/hub/mem"
	"bellrow/hub/session"
	"bellrow/hub/show"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// bench is a hub with players who answer when told to.
type bench struct {
	t     *testing.T
	hub   *session.Session
	store hub.Store
	now   time.Time

	attributor ensemble.Attributor
	log        *slog.Logger
}

type player struct {
	*bench
	name  string
	node  string
	boot  string
	chair hub.ChairID
	seq   uint64

	instrument instrument.ID
}

func newBench(t *testing.T) *bench {
	b := &bench{t: t, store: mem.New(), now: time.Date(2026, 3, 2, 19, 0, 0, 0, time.UTC)}
	b.start()
	return b
}

// clock is the bench's own time, or the real one (a synctest bubble's) where
// that is zero.
func (b *bench) clock() time.Time {
	if b.now.IsZero() {
		return time.Now()
	}
	return b.now
}

// start opens the hub on the store, as after a restart. Each chair is heard in its
// turn: what hub/belief makes of the few notes of a test is tested elsewhere.
func (b *bench) start() {
	b.t.Helper()
	h, err := session.New(b.t.Context(), session.Config{Store: b.store, Now: b.clock, Attributor: b.attributor, Log: b.log, Order: hub.OrderLowToHigh})
	if err != nil {
		b.t.Fatal(err)
	}
	b.hub = h
}

// restart opens the hub anew; the players' nodes come back.
func (b *bench) restart(ps ...*player) {
	b.t.Helper()
	b.start()
	for _, p := range ps {
		p.rejoin(p.instrument)
	}
}

func (b *bench) join(name string, in instrument.ID) *player {
	b.t.Helper()
	p := &player{bench: b, name: name, node: "node-" + name, boot: "boot-" + name, instrument: in}
	p.rejoin(in)
	return p
}

func (p *player) rejoin(in instrument.ID) {
	p.t.Helper()
	j, err := p.hub.Join(p.t.Context(), hub.Peer{Node: p.node, Boot: p.boot, Chair: p.name, Instrument: in})
	if err != nil {
		p.t.Fatal(err)
	}
	p.chair = j.Chair
}

func (b *bench) do(c hub.Command) {
	b.t.Helper()
	if err := b.hub.Command(b.t.Context(), c); err != nil {
		b.t.Fatalf("%s: %v", c.Do, err)
	}
}

func (b *bench) call(note string) {
	b.t.Helper()
	n, err := pitch.ParseNote(note)
	if err != nil {
		b.t.Fatal(err)
	}
	b.do(hub.Command{Do: hub.DoCall, Call: &hub.Call{Kind: hub.CallNote, Note: n}})
}

func (b *bench) row() show.Row { return b.hub.Row() }

// row is the player's place on the leader's row.
func (p *player) row() show.ChairRow {
	for _, c := range p.hub.Row().Chairs {
		if c.ID == p.chair {
			return c
		}
	}
	p.t.Fatalf("%s is not on the row", p.name)
	return show.ChairRow{}
}

func (p *player) view() proto.View { return p.hub.View(p.chair) }

// play delivers a settled reading so many cents from the target.
func (p *player) play(cents pitch.Cents) {
	p.t.Helper()
	p.send(func(r *proto.Reading) { r.Hz = p.view().Target.Shift(cents) })
}

// playOut plays on, in tune, while the player's turn lasts.
func (p *player) playOut() {
	p.t.Helper()
	for v := p.view(); v.Listen && v.Round != 0; v = p.view() {
		p.play(0)
	}
}

// setSlide says that the slide was moved as told.
func (p *player) setSlide() {
	p.t.Helper()
	mv := p.view().Answer.Moves[0]
	if err := p.hub.Setting(p.t.Context(), p.chair, proto.Setting{Slide: mv.ID, MM: mv.ToMM}); err != nil {
		p.t.Fatal(err)
	}
}

func (p *player) send(change func(*proto.Reading)) {
	p.t.Helper()
	p.seq++
	if !p.now.IsZero() {
		p.now = p.now.Add(3 * time.Second)
	}
	v := p.view()
	r := proto.Reading{Sequence: p.seq, Round: v.Round, Hz: v.Target, CI95: 0.5, Spread: 1, Level: -20, Floor: -60, Settled: true, Played: 600, Start: 100, End: 101, Onset: 99.5}
	change(&r)
	if err := p.hub.Deliver(p.t.Context(), p.chair, p.node, p.boot, r); err != nil {
		p.t.Fatalf("%s: %v", p.name, err)
	}
}

// equal compares as pages see it.
func equal(a, b any) bool {
	x, errX := json.Marshal(a)
	y, errY := json.Marshal(b)
	return errX == nil && errY == nil && bytes.Equal(x, y)
}
