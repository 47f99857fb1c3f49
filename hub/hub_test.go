package hub_test

import (
	"fmt"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/hub/mem"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// bench is a hub with players who answer when told to.
type bench struct {
	t     *testing.T
	hub   *hub.Hub
	store hub.Store
	now   time.Time
	seats map[string]*player
}

type player struct {
	*bench
	name  string
	node  string
	boot  string
	chair hub.ChairID
	seq   uint64
}

func newBench(t *testing.T) *bench {
	b := &bench{t: t, store: mem.New(), now: time.Date(2026, 3, 2, 19, 0, 0, 0, time.UTC), seats: map[string]*player{}}
	b.start()
	return b
}

// start opens the hub on the store, as after a restart.
func (b *bench) start() {
	b.t.Helper()
	h, err := hub.New(b.t.Context(), hub.Config{Store: b.store, Now: func() time.Time { return b.now }})
	if err != nil {
		b.t.Fatal(err)
	}
	b.hub = h
}

func (b *bench) join(name string, in instrument.ID) *player {
	b.t.Helper()
	p := &player{bench: b, name: name, node: "node-" + name, boot: "boot-" + name}
	p.rejoin(in)
	b.seats[name] = p
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

func (p *player) view() proto.View { return p.hub.View(p.chair) }

// play delivers a settled reading so many cents from the target.
func (p *player) play(cents pitch.Cents) {
	p.t.Helper()
	p.send(func(r *proto.Reading) { r.Hz = p.view().Target.Shift(cents) })
}

func (p *player) send(change func(*proto.Reading)) {
	p.t.Helper()
	p.seq++
	p.now = p.now.Add(3 * time.Second)
	v := p.view()
	r := proto.Reading{Sequence: p.seq, Round: v.Round, Hz: v.Target, CI95: 0.5, Spread: 1, Level: -20, Floor: -60, Settled: true, Played: 600, Start: 100, End: 101, Onset: 99.5}
	change(&r)
	if err := p.hub.Deliver(p.t.Context(), p.chair, p.node, p.boot, r); err != nil {
		p.t.Fatalf("%s: %v", p.name, err)
	}
}

func (b *bench) phases() string {
	s := ""
	for _, c := range b.hub.Row().Chairs {
		s += fmt.Sprintf("%s:%s ", c.Label, c.State)
	}
	return s
}

func TestRoundInTurnGoesLowToHigh(t *testing.T) {
	b := newBench(t)
	tp := b.join("Ada", "trumpet_bb")
	hn := b.join("Bo", "horn_f")
	tu := b.join("Cy", "tuba_bbb")
	b.call("Bb4")
	for i, p := range []*player{tu, hn, tp} {
		if got := p.view().Phase; got != "play" {
			t.Fatalf("turn %d: %s is in phase %q, want play; row %s", i, p.name, got, b.phases())
		}
		p.play(12)
		if got := p.view(); got.Phase != "answer" || got.Answer == nil {
			t.Fatalf("%s after playing: %+v, want an answer", p.name, got)
		}
		t.Log(p.view().Answer.Headline, "|", b.hub.Row().Say)
	}
	if r := b.hub.Row(); !r.Round.Done {
		t.Errorf("round not done after all were heard: %s", b.phases())
	}
}
