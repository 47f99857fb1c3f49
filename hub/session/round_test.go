package session_test

import (
	"context"
	"errors"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"bellrow/hub"
	"bellrow/hub/session"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// trio is a low, a middle and a high voice.
func (b *bench) trio() (tuba, horn, trumpet *player) {
	trumpet = b.join("Ada", "trumpet_bb")
	horn = b.join("Bo", "horn_f")
	tuba = b.join("Cy", "tuba_bbb")
	return
}

func (p *player) wants(phase string) proto.View {
	p.t.Helper()
	v := p.view()
	if v.Phase != phase {
		p.t.Fatalf("%s is in phase %q (%s), want %q", p.name, v.Phase, v.Say, phase)
	}
	return v
}

func unsettled(reason string) func(*proto.Reading) {
	return func(r *proto.Reading) { r.Settled, r.Reason = false, reason }
}

func TestTurnsGoLowToHigh(t *testing.T) {
	b := newBench(t)
	tuba, horn, trumpet := b.trio()
	b.call("Bb4")
	order := []*player{tuba, horn, trumpet}
	for i, p := range order {
		for _, o := range order[i+1:] {
			o.wants("wait")
		}
		v := p.wants("play")
		if v.Answer != nil || v.Slides != nil || !v.Listen || v.Round == 0 {
			t.Errorf("%s while playing sees %+v, want the note alone", p.name, v)
		}
		p.play(0)
		if v := p.wants("answer"); v.Answer.Kind != "stay" || v.Round != 0 {
			t.Errorf("%s was answered %+v", p.name, v.Answer)
		}
	}
	if r := b.row(); !r.Round.Done || r.Section.Heard != 3 || r.Section.Set != 3 {
		t.Errorf("after everybody: %+v, %+v", r.Round, r.Section)
	}
}

// Whoever moves a slide plays the note again straight away, before the next
// player's turn.
func TestMoveIsHeardInTheSameTurn(t *testing.T) {
	b := newBench(t)
	tuba, horn, trumpet := b.trio()
	b.call("Bb4")
	tuba.play(0)
	horn.play(-11)
	v := horn.wants("answer")
	if v.Answer.Kind != "move" || len(v.Slides) == 0 || !v.Listen || v.Round == 0 {
		t.Errorf("the horn sees %+v, want the move, and to be listened to", v)
	}
	if r := b.row(); r.SayKind != "move" || !strings.Contains(r.Say, "Then the note again") {
		t.Errorf("the row says %q (%s)", r.Say, r.SayKind)
	}
	trumpet.wants("wait")
	horn.setSlide()
	if v := horn.wants("play"); v.Answer != nil || !strings.Contains(v.Say, "play the note again") {
		t.Errorf("with the slide set: %+v", v)
	}
	horn.play(0)
	horn.wants("answer")
	if f := horn.row().FollowThrough; !strings.Contains(f, "went with the slide") {
		t.Errorf("follow-through %q", f)
	}
	trumpet.wants("play")
}

// As long as all who were heard are off the same way it may be the room: they
// are heard again after the others, and not at all when it is the room.
func TestMoveWaitsWhileItMayBeTheRoom(t *testing.T) {
	b := newBench(t)
	ps := []*player{b.join("Cy", "tuba_bbb"), b.join("Di", "euphonium_bb_bc"), b.join("Ed", "tenor_trombone_bbf"), b.join("Bo", "horn_f"), b.join("Ada", "trumpet_bb")}
	b.call("Bb4")
	heard := 0
	for range ps {
		for _, p := range ps {
			if v := p.view(); v.Phase == "play" && v.Why == "" {
				p.play(-12)
				heard++
				break
			}
		}
	}
	r := b.row()
	if r.SayKind != "room" || heard > len(ps) {
		t.Errorf("after %d notes the row says %q (%s), want the room", heard, r.Say, r.SayKind)
	}
	for _, p := range ps {
		if v := p.view(); v.Answer != nil && len(v.Answer.Moves) > 0 {
			t.Errorf("%s is still told to move: %+v", p.name, v.Answer)
		}
	}

	b.call("Bb4") // now one of them is the other way
	first := b.playing(ps)
	first.play(-12)
	if v := first.wants("wait"); v.Answer == nil || v.Answer.Kind != "move" {
		t.Errorf("the first sees %+v, want the move and to wait with it", v)
	}
	second := b.playing(ps)
	second.play(12)
	second.wants("answer") // and is listened to
	second.playOut()
	for range 3 {
		b.playing(ps).playOut()
	}
	if p := b.playing(ps); p != first {
		t.Error("the first is not heard again")
	}
}

// The leader who wants the moves although it may be the room does not have
// those move twice who have moved already.
func TestMovesAnywayNotTwice(t *testing.T) {
	b := newBench(t)
	ps := []*player{b.join("Cy", "tuba_bbb"), b.join("Di", "euphonium_bb_bc"), b.join("Ed", "tenor_trombone_bbf"), b.join("Bo", "horn_f"), b.join("Ada", "trumpet_bb")}
	b.call("Bb4")
	first := b.playing(ps)
	first.play(-12)
	first.setSlide()
	for b.row().SayKind != "room" {
		b.playing(ps).play(-12)
	}
	b.do(hub.Command{Do: hub.DoMoves})
	given := 0
	for _, p := range ps {
		if a := p.view().Answer; a != nil && len(a.Moves) > 0 {
			given++
			if p == first {
				t.Errorf("%s has moved already and is told %+v", p.name, a)
			}
		}
	}
	if given < 2 {
		t.Errorf("%d moves were given", given)
	}
}

// playing is whoever is asked to play now.
func (b *bench) playing(ps []*player) *player {
	b.t.Helper()
	for _, p := range ps {
		if v := p.view(); v.Listen && v.Round != 0 {
			return p
		}
	}
	b.t.Fatal("nobody is asked to play")
	return nil
}

func TestTurnsAlongTheRow(t *testing.T) {
	b := newBench(t)
	tuba, horn, trumpet := b.trio()
	s := b.hub.Section()
	s.Order = hub.OrderSeating
	b.do(hub.Command{Do: hub.DoEdit, Section: &s})
	b.do(hub.Command{Do: hub.DoSeat, Chair: tuba.chair, SeatRow: 0, Place: 1})
	b.do(hub.Command{Do: hub.DoSeat, Chair: horn.chair, SeatRow: 0, Place: 2})
	b.call("F4")
	for _, p := range []*player{trumpet, tuba, horn} {
		p.wants("play")
		p.play(0)
	}
}

// Written notes: a B flat trumpet sounds a tone lower than written, a horn in
// F a fifth (any orchestration handbook, e.g. W. Piston, Orchestration, 1955).
func TestEachSeesTheWrittenNoteInTheirOctave(t *testing.T) {
	b := newBench(t)
	tuba, horn, trumpet := b.trio()
	b.call("Bb4")
	for p, want := range map[*player]string{tuba: "B♭1", horn: "F4", trumpet: "C5"} {
		if got := p.view().Written; got != want && !(p == tuba && got == "B♭2") {
			t.Errorf("%s reads %s, want %s", p.name, got, want)
		}
	}
}

func TestUnsettledIsAskedAgainAtMostThreeTimes(t *testing.T) {
	b := newBench(t)
	tuba, horn, _ := b.trio()
	b.call("Bb4")
	for range 2 {
		tuba.send(unsettled("vibrato"))
		if v := tuba.wants("play"); !strings.Contains(v.Say, "vibrato") {
			t.Errorf("asked again with %q, want the reason", v.Say)
		}
		horn.wants("wait")
	}
	tuba.send(unsettled("moving"))
	if v := tuba.wants("rest"); v.Answer.Kind != "rest" {
		t.Errorf("after three tries: %+v", v.Answer)
	}
	horn.wants("play")
	if row := tuba.row(); row.State != "unsettled" || row.Verdict != "doubt" || row.Cents != nil || len(row.History) != 0 {
		t.Errorf("the row says %+v", row)
	}
	b.do(hub.Command{Do: hub.DoAgain, Chair: tuba.chair})
	tuba.wants("play") // its tries count anew
	tuba.send(unsettled("short"))
	tuba.wants("play")
	tuba.play(0)
	tuba.wants("answer")
	horn.wants("play")
}

func TestWrongNoteGetsNoMove(t *testing.T) {
	b := newBench(t)
	tuba, _, _ := b.trio()
	b.call("Bb4")
	tuba.play(200)
	tuba.wants("play")
	if row := tuba.row(); len(row.Moves) != 0 || row.Cents != nil {
		t.Errorf("a note a tone off gave %+v", row)
	}
}

func TestColdPlaysLast(t *testing.T) {
	b := newBench(t)
	tuba, horn, trumpet := b.trio()
	b.call("Bb4")
	tuba.send(func(r *proto.Reading) { r.Hz, r.Played = r.Hz.Shift(-20), 10 })
	if v := tuba.wants("wait"); v.Answer == nil || v.Answer.Code != "cold" {
		t.Errorf("the cold tuba sees %q, %+v", v.Say, v.Answer)
	}
	horn.wants("play")
	horn.play(0)
	trumpet.play(0)
	tuba.wants("play")
	tuba.play(0)
	tuba.wants("answer")
}

// A node that tells how long its instrument has been played lets the section go
// on without the cold one, which is called as soon as it is warm enough.
func TestColdIsCalledWhenWarm(t *testing.T) {
	b := newBench(t)
	tuba, horn, trumpet := b.trio()
	b.call("Bb4")
	b.hub.State(tuba.chair, proto.State{State: "quiet", Played: 10})
	tuba.send(func(r *proto.Reading) { r.Hz, r.Played = r.Hz.Shift(-20), 10 })
	horn.play(0)
	trumpet.play(0)
	if v := tuba.wants("wait"); !strings.Contains(v.Say, "easy notes") {
		t.Errorf("the cold tuba is told %q", v.Say)
	}
	if r := b.row(); !r.Round.Done || !strings.Contains(r.Say, "warm") {
		t.Errorf("done %v, the row says %q", r.Round.Done, r.Say)
	}
	b.hub.State(tuba.chair, proto.State{State: "quiet", Played: 125})
	tuba.wants("play")
	if b.row().Round.Done {
		t.Error("the round is done although the tuba is warm")
	}
}

func TestNotAskedIsStoredAndNotCounted(t *testing.T) {
	b := newBench(t)
	tuba, horn, trumpet := b.trio()
	horn.send(func(r *proto.Reading) { r.Hz = 440 }) // nothing is called
	b.call("Bb4")
	trumpet.send(func(r *proto.Reading) { r.Round = 0 }) // waits
	horn.send(func(r *proto.Reading) { r.Round = 99 })   // an earlier round
	tuba.send(func(r *proto.Reading) { r.Round = 0 })    // began before it was asked
	rs, err := b.store.Readings(t.Context(), b.hub.Section().ID, b.now.Add(-time.Hour))
	if err != nil || len(rs) != 4 {
		t.Fatalf("%d readings stored (%v), want 4", len(rs), err)
	}
	for i, want := range []string{"not-asked", "not-asked", "late", "not-asked"} {
		if rs[i].Counted || string(rs[i].Why) != want || rs[i].Answer != nil {
			t.Errorf("reading %d: counted %v because %q, want %q", i, rs[i].Counted, rs[i].Why, want)
		}
	}
	tuba.wants("play")
}

func TestNeighboursTailIsOverheard(t *testing.T) {
	b := newBench(t)
	tuba, horn, trumpet := b.trio()
	b.call("Bb4")
	wrong := tuba.view().Target.Shift(498)
	tuba.send(func(r *proto.Reading) { r.Hz = wrong })
	b.do(hub.Command{Do: hub.DoNext})
	horn.send(func(r *proto.Reading) { r.Hz, r.Level = wrong.Shift(2), -35 }) // still the tuba
	horn.wants("play")
	horn.send(func(r *proto.Reading) { r.Hz = r.Hz.Shift(12) })
	horn.wants("wait")
	trumpet.wants("play")
	trumpet.send(func(r *proto.Reading) { // begun before it was asked, and soft
		r.Hz, r.Level, r.Onset = horn.hz(12), -40, r.End-20
	})
	if n := trumpet.row(); n.Cents != nil || n.Headline != "That was another player." {
		t.Errorf("the horn's tail was taken for the trumpet's note: %+v", n)
	}
	trumpet.send(func(r *proto.Reading) { r.Hz = horn.hz(12) * 2 }) // the same pitch, an octave up: a real note
	if trumpet.row().Headline == "" {
		t.Error("the trumpet's note was taken for the horn's")
	}
	rs, err := b.store.Readings(t.Context(), b.hub.Section().ID, time.Time{})
	if err != nil || rs[1].Why != "overheard" || rs[1].Counted || rs[3].Why != "overheard" {
		t.Errorf("stored as %q and %q (%v), want overheard", rs[1].Why, rs[3].Why, err)
	}
}

func TestUnisonIsNoNeighboursTail(t *testing.T) {
	b := newBench(t)
	a, c := b.join("Ann", "trumpet_bb"), b.join("Ben", "trumpet_bb")
	b.call("Bb4")
	a.play(0.4)
	early := func(r *proto.Reading) { r.Hz, r.Level, r.Onset = a.hz(0.4), -40, r.End-20 }
	c.send(early)
	c.wants("play") // the other one's long breath
	c.send(func(r *proto.Reading) { r.Hz = a.hz(0.4) })
	c.wants("answer") // the same pitch by themselves
}

// hz is where the player's last counted reading stood.
func (p *player) hz(cents pitch.Cents) pitch.Hertz {
	return p.view().Target.Shift(cents)
}

func TestRepeatsAreHarmless(t *testing.T) {
	b := newBench(t)
	tuba, horn, _ := b.trio()
	b.call("Bb4")
	tuba.play(0)
	horn.wants("play")
	before := tuba.view()
	tuba.seq--
	tuba.play(-30) // the same sequence again
	if after := tuba.view(); after.Answer.ID != before.Answer.ID || len(tuba.row().History) != 1 {
		t.Errorf("a repeat changed the answer: %+v, then %+v", before.Answer, after.Answer)
	}
	b.restart(tuba, horn)
	tuba.seq--
	tuba.play(-30) // and after a restart
	if n := len(tuba.row().History); n != 1 {
		t.Errorf("%d readings after a repeat over a restart, want 1", n)
	}
}

func TestMoveIsMadeAndFollowed(t *testing.T) {
	for _, c := range []struct {
		name    string
		second  pitch.Cents // cents in the second round, after 20 in the first
		says    bool        // the player says that the move was made
		follow  string
		kind    string
		verdict string
	}{
		{"the pitch went along", 0.2, true, "went with the slide", "stay", "set"},
		{"the player says nothing", 0, false, "went with the slide", "stay", "set"},
		{"the lips held the pitch", 19, true, "held", "rest", "out"},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := newBench(t)
			tuba, _, _ := b.trio()
			b.call("Bb4")
			tuba.play(20)
			mv := tuba.view().Answer.Moves[0]
			if c.says {
				err := b.hub.Setting(t.Context(), tuba.chair, proto.Setting{Slide: mv.ID, MM: mv.ToMM})
				if err != nil {
					t.Fatal(err)
				}
				if got := tuba.view().Slides[0].FromMM; got != mv.ToMM {
					t.Errorf("the slide stands at %g, want %g", got, mv.ToMM)
				}
			}
			b.call("Bb4")
			if !c.says && tuba.view().Answer != nil {
				t.Error("while playing an answer shows")
			}
			tuba.play(c.second)
			row := tuba.row()
			if !strings.Contains(row.FollowThrough, c.follow) || row.Verdict != c.verdict {
				t.Errorf("row: %q, %q, want %q, %q", row.FollowThrough, row.Verdict, c.follow, c.verdict)
			}
			if c.kind == "rest" { // a fresh attack is asked for straight away
				if v := tuba.wants("play"); v.Why != "held" {
					t.Errorf("told %q, want that the pitch was held", v.Say)
				}
			} else if a := tuba.view().Answer; a.Kind != c.kind {
				t.Errorf("answer %+v, want kind %s", a, c.kind)
			}
			set, err := b.store.Settings(t.Context(), b.hub.Section().ID, time.Time{})
			if err != nil || len(set) != 1 || set[0].MM != mv.ToMM {
				t.Fatalf("settings %v (%v), want one at %g", set, err, mv.ToMM)
			}
			if want := map[bool]string{true: "player", false: "move"}[c.says]; set[0].Source != want {
				t.Errorf("setting by %q, want %q", set[0].Source, want)
			}
		})
	}
}

func TestLateArrivalAndAbsence(t *testing.T) {
	b := newBench(t)
	tuba, horn, trumpet := b.trio()
	b.do(hub.Command{Do: hub.DoAbsent, Chair: horn.chair})
	b.call("Bb4")
	horn.wants("absent")
	tuba.play(0)
	trumpet.wants("play") // the absent horn is left out
	late := b.join("Dee", "tenor_trombone_bb")
	late.wants("wait")
	trumpet.play(0)
	late.wants("play")
	b.do(hub.Command{Do: hub.DoPresent, Chair: horn.chair})
	horn.wants("wait")
	late.play(0)
	horn.wants("play")
	horn.play(0)
	if r := b.row(); !r.Round.Done || r.SayKind != "done" {
		t.Errorf("not done: %+v %s", r.Round, r.Say)
	}
	later := b.join("Eve", "trumpet_bb") // even after the end
	later.wants("play")
	if b.row().Round.Done {
		t.Error("the round is done although somebody came")
	}
}

func TestAwayIsPassedOverAndComesBack(t *testing.T) {
	b := newBench(t)
	tuba, horn, trumpet := b.trio()
	b.hub.Leave(tuba.chair, tuba.node)
	b.call("Bb4")
	horn.wants("play")
	tuba.rejoin(tuba.instrument)
	horn.wants("play") // whoever has the turn keeps it
	tuba.wants("wait")
	horn.play(0)
	tuba.wants("play")
	tuba.play(0)
	trumpet.wants("play")
}

func TestRoundWaitsAMomentForALaptop(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := newBench(t)
		b.now = time.Time{} // the bubble's own clock
		b.start()
		ctx, cancel := context.WithCancel(t.Context())
		done := make(chan error)
		h := b.hub
		go func() { done <- h.Run(ctx) }()
		tuba, horn, trumpet := b.trio()
		b.call("Bb4")
		tuba.play(0)
		horn.play(0)
		b.hub.Leave(trumpet.chair, trumpet.node)
		time.Sleep(5 * time.Second)
		if r := b.row(); r.Round.Done || !strings.Contains(r.Say, "away") {
			t.Errorf("after 5 s: done %v, %q", r.Round.Done, r.Say)
		}
		feed := b.hub.FollowRow()
		<-feed.C()
		time.Sleep(15 * time.Second)
		synctest.Wait()
		if !b.row().Round.Done {
			t.Error("not done although the laptop stayed away")
		}
		select {
		case <-feed.C():
		default:
			t.Error("the pages were not told")
		}
		cancel()
		if err := <-done; !errors.Is(err, context.Canceled) {
			t.Errorf("run ended with %v", err)
		}
	})
}

func TestAnswerAfterAnOutageCounts(t *testing.T) {
	b := newBench(t)
	tuba, horn, _ := b.trio()
	b.call("Bb4")
	round := tuba.view().Round
	b.hub.Leave(tuba.chair, tuba.node)
	horn.wants("play")
	tuba.rejoin(tuba.instrument)
	horn.wants("play")
	tuba.send(func(r *proto.Reading) { r.Round = round })
	tuba.wants("answer")
	horn.wants("play")
}

func TestSwappedLaptopTakesOver(t *testing.T) {
	b := newBench(t)
	tuba, horn, _ := b.trio()
	b.call("Bb4")
	old := b.hub.Follow(tuba.chair)
	<-old.C()
	j, err := b.hub.Join(t.Context(), hub.Peer{Node: "spare", Boot: "1", Chair: " cy ", Instrument: "tuba_bbb"})
	if err != nil || j.Chair != tuba.chair || j.Replaced != tuba.node {
		t.Fatalf("joined %+v (%v), want the tuba's chair", j, err)
	}
	if _, open := <-old.C(); open {
		t.Error("the replaced laptop's feed goes on")
	}
	was := *tuba
	tuba.node, tuba.boot, tuba.seq = "spare", "1", 0
	was.send(func(r *proto.Reading) { r.Hz *= 1.01 }) // from the laptop that was replaced
	tuba.wants("play")
	b.hub.Leave(tuba.chair, was.node) // its connection ends late
	tuba.wants("play")
	tuba.play(0)
	tuba.wants("answer")
	horn.wants("play")
}

func TestTwoChairsFromOneLaptop(t *testing.T) {
	b := newBench(t)
	a := b.join("Ann", "trumpet_bb")
	c := b.join("Ben", "trumpet_bb")
	if a.chair == c.chair {
		t.Fatal("two players were given one chair")
	}
	if x, y := a.row().Label, c.row().Label; x != "Trumpet 1" || y != "Trumpet 2" {
		t.Errorf("labels %s and %s", x, y)
	}
	b.call("Bb4")
	a.play(0)
	c.wants("play")
}

func TestLeaderNextSkipEndAgain(t *testing.T) {
	b := newBench(t)
	tuba, horn, trumpet := b.trio()
	b.call("Bb4")
	b.do(hub.Command{Do: hub.DoNext})
	horn.wants("play")
	tuba.wants("idle")
	b.do(hub.Command{Do: hub.DoSkip, Chair: trumpet.chair})
	horn.play(0)
	if !b.row().Round.Done {
		t.Error("not done after the last one")
	}
	b.do(hub.Command{Do: hub.DoAgain}) // all that are not set
	tuba.wants("play")
	if v := horn.view(); v.Phase != "idle" {
		t.Errorf("the horn is set, but in phase %s", v.Phase)
	}
	b.do(hub.Command{Do: hub.DoEnd})
	tuba.wants("idle")
	if b.row().Round != nil {
		t.Error("the round shows after its end")
	}
	b.do(hub.Command{Do: hub.DoAgain, Chair: trumpet.chair})
	trumpet.wants("play")
}

func TestUndo(t *testing.T) {
	b := newBench(t)
	tuba, horn, trumpet := b.trio()
	if b.row().CanUndo != "" {
		t.Error("there is something to undo from the start")
	}
	b.call("Bb4")
	b.do(hub.Command{Do: hub.DoSkip, Chair: horn.chair})
	tuba.play(0) // heard since
	trumpet.wants("play")
	b.do(hub.Command{Do: hub.DoUndo})
	tuba.wants("answer") // stays heard
	horn.wants("wait")   // is back
	trumpet.wants("play")

	b.do(hub.Command{Do: hub.DoAbsent, Chair: horn.chair})
	late := b.join("Dee", "euphonium_bb_bc")
	b.do(hub.Command{Do: hub.DoUndo})
	horn.wants("wait")
	late.wants("wait") // joined since, stays

	b.call("F4")
	b.do(hub.Command{Do: hub.DoUndo})
	tuba.wants("answer")

	b.do(hub.Command{Do: hub.DoFresh})
	if n := len(tuba.row().History); n != 0 {
		t.Errorf("%d readings in a fresh tune-up", n)
	}
	b.do(hub.Command{Do: hub.DoUndo})
	if n := len(tuba.row().History); n != 1 {
		t.Errorf("%d readings after taking the fresh tune-up back, want 1", n)
	}

	b.do(hub.Command{Do: hub.DoRemove, Chair: horn.chair})
	if n := len(b.row().Chairs); n != 3 {
		t.Fatalf("%d chairs, want 3", n)
	}
	b.do(hub.Command{Do: hub.DoUndo})
	if got := horn.row().State; got != "away" {
		t.Errorf("the removed horn came back as %s, want away until its node is back", got)
	}
	b.restart(tuba, horn, trumpet, late)
	if n := len(b.row().Chairs); n != 4 {
		t.Errorf("%d chairs after a restart, want 4", n)
	}
}

func TestCommandsThatCannotBe(t *testing.T) {
	b := newBench(t)
	tuba, _, _ := b.trio()
	for _, c := range []hub.Command{
		{Do: "dance"}, {Do: hub.DoUndo}, {Do: hub.DoNext}, {Do: hub.DoEnd}, {Do: hub.DoAgain}, {Do: hub.DoCall}, {Do: hub.DoMoves},
		{Do: hub.DoSkip, Chair: 999}, {Do: hub.DoEdit}, {Do: hub.DoOpen},
		{Do: hub.DoEdit, Section: &hub.Section{Name: "x", Good: 5, Near: 1}},
		{Do: hub.DoCall, Call: &hub.Call{Kind: hub.CallNote, Note: 400}},
		{Do: hub.DoCall, Call: &hub.Call{Kind: hub.CallChord, Chord: "X major"}},
		{Do: hub.DoCall, Call: &hub.Call{Kind: "song"}},
		{Do: hub.DoSetting, Chair: tuba.chair, Slide: "nose", MM: 3},
		{Do: hub.DoSetting, Chair: tuba.chair, Slide: instrument.Main, MM: -3},
	} {
		if err := b.hub.Command(t.Context(), c); err == nil {
			t.Errorf("%+v was accepted", c)
		}
	}
	if b.row().CanUndo != "" {
		t.Error("a refused command can be undone")
	}
}

func TestRestartLosesNothing(t *testing.T) {
	b := newBench(t)
	tuba, horn, trumpet := b.trio()
	b.call("Bb4")
	tuba.play(20)
	mv := tuba.view().Answer.Moves[0]
	if err := b.hub.Setting(t.Context(), tuba.chair, proto.Setting{Slide: mv.ID, MM: mv.ToMM}); err != nil {
		t.Fatal(err)
	}
	horn.send(unsettled("moving"))
	before := map[*player]proto.View{tuba: tuba.view(), horn: horn.view(), trumpet: trumpet.view()}
	row, sum := b.row(), b.hub.Summary()
	id, code := b.hub.ID(), b.hub.JoinCode()

	b.restart(horn, tuba, trumpet)
	for p, v := range before {
		if got := p.view(); !equal(got, v) {
			t.Errorf("%s sees\n%+v, before\n%+v", p.name, got, v)
		}
	}
	got := b.row()
	got.Version, row.Version = 0, 0
	row.CanUndo = "" // what was done before a restart is not undone after it
	if !equal(got, row) {
		t.Errorf("row\n%+v\nbefore\n%+v", got, row)
	}
	if s := b.hub.Summary(); !equal(s, sum) {
		t.Errorf("summary %+v, before %+v", s, sum)
	}
	if b.hub.ID() != id || b.hub.JoinCode() != code {
		t.Error("the hub has another identity")
	}
	horn.play(0)
	trumpet.play(0)
	tuba.play(0)
	if !b.row().Round.Done {
		t.Error("the round cannot be finished after a restart")
	}
}

func TestNextDayBeginsFresh(t *testing.T) {
	b := newBench(t)
	tuba, horn, trumpet := b.trio()
	b.call("Bb4")
	tuba.play(20)
	b.now = b.now.Add(20 * time.Hour)
	b.restart(tuba, horn, trumpet)
	if r := b.row(); r.Round != nil || len(tuba.row().History) != 0 {
		t.Errorf("yesterday's round goes on: %+v", r.Round)
	}
	tuba.wants("idle")
}

func TestSeveralSections(t *testing.T) {
	b := newBench(t)
	b.trio()
	b.do(hub.Command{Do: hub.DoOpen, Name: "Sunday"})
	if n := len(b.row().Chairs); n != 0 || b.row().Section.Name != "Sunday" {
		t.Errorf("%d chairs in a new section %q", n, b.row().Section.Name)
	}
	b.do(hub.Command{Do: hub.DoOpen, Name: session.DefaultSection})
	if n := len(b.row().Chairs); n != 3 {
		t.Errorf("%d chairs in the section that was left, want 3", n)
	}
	ss, err := b.hub.Sections(t.Context())
	if err != nil || len(ss) != 2 {
		t.Errorf("%d sections (%v), want 2", len(ss), err)
	}
}
