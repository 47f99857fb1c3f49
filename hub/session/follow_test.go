package session_test

import (
	"strings"
	"testing"

	"bellrow/hub"
	"bellrow/hub/show"
	"bellrow/proto"
	"bellrow/proto/pitch"
)

func TestHeldPitchIsNotChased(t *testing.T) {
	b := newBench(t)
	tuba, horn, trumpet := b.trio()
	b.call("Bb4")
	tuba.play(20)
	mv := tuba.view().Answer.Moves[0]
	if got := b.summaryOf("Cy").Moves; len(got) != 0 {
		t.Errorf("nobody moved a slide, and the summary has the moves %q", got)
	}
	horn.playOut()
	trumpet.playOut()
	for range 2 {
		tuba.play(20) // as before, whatever the slide does
		v := tuba.wants("play")
		if v.Why != "held" || len(tuba.row().Moves) != 0 {
			t.Errorf("a held pitch was answered %q, with moves %v", v.Say, tuba.row().Moves)
		}
		if !strings.Contains(v.Say, "If the slide was not moved yet") {
			t.Errorf("nobody said that the slide was moved, but the answer takes it for granted: %q", v.Say)
		}
	}
	tuba.play(0) // the fresh attack
	if row := tuba.row(); row.Verdict != "set" || !strings.Contains(row.FollowThrough, "went with") {
		t.Errorf("after the fresh attack: %q, %q", row.Verdict, row.FollowThrough)
	}
	if got := tuba.row().Slides[0].FromMM; got != mv.ToMM {
		t.Errorf("the slide stands at %g, want %g", got, mv.ToMM)
	}
	if got := b.summaryOf("Cy").Moves; len(got) != 1 || !strings.HasPrefix(got[0], "main slide pulled ") {
		t.Errorf("the summary has the moves %q", got)
	}
}

func (b *bench) summaryOf(name string) show.ChairSummary {
	for _, c := range b.hub.Summary().Chairs {
		if c.Name == name {
			return c
		}
	}
	b.t.Fatalf("no %s in the summary", name)
	return show.ChairSummary{}
}

func TestUnclearFollowThroughAsksOnceMore(t *testing.T) {
	b := newBench(t)
	tuba, horn, trumpet := b.trio()
	b.call("Bb4")
	rough := func(cents pitch.Cents) func(*proto.Reading) {
		return func(r *proto.Reading) { r.Hz, r.CI95 = r.Hz.Shift(cents), 11 }
	}
	tuba.send(rough(20))
	if k := tuba.view().Answer.Kind; k != "move" {
		t.Fatalf("answer %s, want move", k)
	}
	horn.playOut()
	trumpet.playOut()
	tuba.send(rough(16))
	if v := tuba.wants("play"); !strings.Contains(v.Say, "once more") {
		t.Errorf("asked again with %q", v.Say)
	}
	if len(tuba.row().Moves) != 0 {
		t.Error("a move on an unclear follow-through")
	}
	tuba.send(rough(1))
	tuba.send(rough(1))
	if p := tuba.view().Phase; p == "play" {
		t.Error("asked for ever")
	}
	if !b.row().Round.Done {
		t.Error("the round goes on")
	}
}

func TestNamesStayHidden(t *testing.T) {
	b := newBench(t)
	tuba, horn, trumpet := b.trio()
	s := b.hub.Section()
	s.HideNames = true
	b.do(hub.Command{Do: hub.DoEdit, Section: &s})
	b.call("Bb4")
	for _, p := range []*player{tuba, horn, trumpet} {
		for _, q := range []*player{tuba, horn, trumpet} {
			if say := b.row().Say; strings.Contains(say, q.name) {
				t.Errorf("the row says %q", say)
			}
		}
		p.play(map[*player]pitch.Cents{tuba: 12, horn: -11, trumpet: 0}[p])
		for range 4 { // enough for a turn, and the slide stays where it was
			if p != tuba && p.view().Listen {
				p.play(map[*player]pitch.Cents{horn: -11, trumpet: 0}[p])
			}
		}
	}
	b.do(hub.Command{Do: hub.DoNext})
	if say := b.row().Say; !strings.Contains(say, "Tuba 1 first:") {
		t.Errorf("the row says %q", say)
	}
}

func TestNamelessNodeComesBackToItsChair(t *testing.T) {
	b := newBench(t)
	p := hub.Peer{Node: "n", Boot: "1", Instrument: "horn_f"}
	first, err := b.hub.Join(t.Context(), p)
	if err != nil {
		t.Fatal(err)
	}
	b.hub.Leave(first.Chair, "n")
	p.Boot = "2"
	if again, err := b.hub.Join(t.Context(), p); err != nil || again.Chair != first.Chair {
		t.Errorf("chair %d (%v), then %d", first.Chair, err, again.Chair)
	}
}

func TestTokenGoesWithTheNode(t *testing.T) {
	b := newBench(t)
	p := hub.Peer{Node: "n", Boot: "1", Chair: "Ada", Instrument: "horn_f", TokenHash: []byte("hash")}
	if _, err := b.hub.Join(t.Context(), p); err != nil {
		t.Fatal(err)
	}
	b.do(hub.Command{Do: hub.DoOpen, Name: "Sunday"})
	p.TokenHash = nil // known by its token
	j, err := b.hub.Join(t.Context(), p)
	if err != nil {
		t.Fatal(err)
	}
	rec, err := b.hub.NodeRecord(t.Context(), "n")
	if err != nil || rec.Chair != j.Chair || string(rec.TokenHash) != "hash" {
		t.Errorf("record %+v (%v), want chair %d and the same token", rec, err, j.Chair)
	}
}
