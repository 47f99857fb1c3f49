package session_test

import (
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// allSet calls a note that everybody plays in tune.
func (b *bench) allSet(note string, ps ...*player) {
	b.t.Helper()
	b.call(note)
	for _, p := range ps {
		p.playOut()
	}
	if got := b.row().Section.Set; got != len(ps) {
		b.t.Fatalf("%d of %d are set after %s was played in tune", got, len(ps), note)
	}
}

// wantNobodySet checks the row's words against its counts.
func (b *bench) wantNobodySet(why string) {
	b.t.Helper()
	row := b.row()
	if row.Section.Set != 0 {
		b.t.Errorf("%s: %d count as set, need none", why, row.Section.Set)
	}
	for _, c := range row.Chairs {
		if c.Verdict != "" {
			b.t.Errorf("%s: %s is %q, need no verdict", why, c.Label, c.Verdict)
		}
	}
	if sum := b.hub.Summary(); sum.Set != 0 {
		b.t.Errorf("%s: the summary counts %d, need none", why, sum.Set)
	}
}

// TestVerdictGoesWithItsReference: after A 440 to 442 nothing is set until it
// is heard again, and back at 440 what was heard there holds again.
func TestVerdictGoesWithItsReference(t *testing.T) {
	b := newBench(t)
	tuba, horn, trumpet := b.trio()
	b.allSet("Bb4", tuba, horn, trumpet)
	edit := func(a4 float64) {
		sec := b.hub.Section()
		sec.Reference.A4 = pitch.Hertz(a4)
		b.do(hub.Command{Do: hub.DoEdit, Section: &sec})
	}
	edit(442)
	b.wantNobodySet("A 442")
	edit(440)
	if got := b.row().Section.Set; got != 3 {
		t.Errorf("back at A 440 %d are set, need 3", got)
	}
	edit(442)
	b.do(hub.Command{Do: hub.DoAgain})
	for _, p := range []*player{tuba, horn, trumpet} {
		p.playOut()
	}
	if got := b.row().Section.Set; got != 3 {
		t.Errorf("heard again at A 442 %d are set, need 3", got)
	}
}

// TestNoReferenceIsTheUsualOne: a field left empty in the set-up stands for 440 Hz,
// and is shown and sounded as that.
func TestNoReferenceIsTheUsualOne(t *testing.T) {
	b := newBench(t)
	sec := b.hub.Section()
	sec.Reference.A4 = 0
	b.do(hub.Command{Do: hub.DoEdit, Section: &sec})
	if row, sum := b.row().Section.A4, b.hub.Summary().A4; row != 440 || sum != 440 {
		t.Errorf("without a reference the row shows A %g, the summary %g, need 440", row, sum)
	}
}

// TestVerdictGoesWithItsCall: a new call asks everybody anew.
func TestVerdictGoesWithItsCall(t *testing.T) {
	b := newBench(t)
	tuba, horn, trumpet := b.trio()
	b.allSet("Bb4", tuba, horn, trumpet)
	b.call("F4")
	b.wantNobodySet("another note")
	tuba.playOut()
	if got := b.row().Section.Set; got != 1 {
		t.Errorf("%d set after the tuba was heard, need 1", got)
	}
	if c := tuba.row(); len(c.History) == 0 || len(c.History) > 4 {
		t.Errorf("the tuba's earlier readings are %v, need those of the F alone", c.History)
	}
}

// TestVerdictGoesWithItsSlide: who moves a slide by themselves is set no more.
func TestVerdictGoesWithItsSlide(t *testing.T) {
	b := newBench(t)
	tuba, horn, trumpet := b.trio()
	b.allSet("Bb4", tuba, horn, trumpet)
	if err := b.hub.Setting(t.Context(), tuba.chair, proto.Setting{Slide: instrument.Main, MM: 3}); err != nil {
		t.Fatal(err)
	}
	if c := tuba.row(); c.Verdict != "" || !c.Moved {
		t.Errorf("the tuba is %q, moved %v; need no verdict and moved", c.Verdict, c.Moved)
	}
	if got := b.row().Section.Set; got != 2 {
		t.Errorf("%d set, need 2", got)
	}
}

// TestSetAfterAChord: a chord says nothing of where slides stand: who was set
// before it is set after it.
func TestSetAfterAChord(t *testing.T) {
	b := newBench(t)
	ps := []*player{b.join("tuba", "tuba_bbb"), b.join("horn", "horn_f"), b.join("trombone", "tenor_trombone_bb"), b.join("trumpet", "trumpet_bb")}
	b.allSet("Bb4", ps...)
	b.do(hub.Command{Do: hub.DoCall, Call: &hub.Call{Kind: hub.CallChord, Chord: "Bb major"}})
	b.wantNobodySet("a chord that was not heard")
	b.playChord(ps, nil)
	b.do(hub.Command{Do: hub.DoEnd})
	if got := b.hub.Summary().Set; got != len(ps) {
		t.Errorf("after the chord %d are set, need %d", got, len(ps))
	}
}

// TestAgainAsksWhoWasNotHeard: "again" leaves out only who is set on this very
// call, not who was set before it.
func TestAgainAsksWhoWasNotHeard(t *testing.T) {
	b := newBench(t)
	tuba, horn, trumpet := b.trio()
	b.allSet("Bb4", tuba, horn, trumpet)
	b.call("F4")
	tuba.playOut()
	b.do(hub.Command{Do: hub.DoSkip, Chair: horn.chair})
	trumpet.playOut()
	b.do(hub.Command{Do: hub.DoAgain})
	horn.wants("play")
}

// TestPause: whoever pauses is said to, the turn goes on, and they are asked
// when they are back.
func TestPause(t *testing.T) {
	b := newBench(t)
	tuba, horn, trumpet := b.trio()
	b.call("Bb4")
	tuba.wants("play")
	b.hub.State(tuba.chair, proto.State{State: proto.Paused})
	if c := tuba.row(); c.State != "paused" {
		t.Errorf("the row has the tuba as %q, need paused", c.State)
	}
	horn.wants("play")
	horn.playOut()
	b.hub.State(tuba.chair, proto.State{State: "quiet"})
	trumpet.playOut()
	tuba.wants("play")
	tuba.playOut()
	if !b.row().Round.Done {
		t.Error("the round goes on after all were heard")
	}
}

// TestNobodyWaitsForAPause: a round is done when only paused players are left.
func TestNobodyWaitsForAPause(t *testing.T) {
	b := newBench(t)
	tuba, horn, trumpet := b.trio()
	b.call("Bb4")
	b.hub.State(tuba.chair, proto.State{State: proto.Paused})
	horn.playOut()
	trumpet.playOut()
	if !b.row().Round.Done {
		t.Error("the round waits for a player who pauses")
	}
	b.hub.State(tuba.chair, proto.State{State: "quiet"})
	tuba.wants("play")
}

// TestDeafLaptop: a called player whose laptop hears nothing while others do is
// told so, and so is the leader; a player who has not begun yet is not.
func TestDeafLaptop(t *testing.T) {
	b := newBench(t)
	tuba, horn, _ := b.trio()
	b.call("Bb4")
	silent := func() bool {
		return tuba.row().Trouble == "" && tuba.view().Say == "Play your B♭2, relaxed, and hold it."
	}
	b.now = b.now.Add(9 * time.Second)
	b.hub.State(horn.chair, proto.State{State: "quiet", Level: -70})
	if !silent() {
		t.Error("a silent room is taken for a broken microphone")
	}
	b.hub.State(horn.chair, proto.State{State: "sounding", Level: -40})
	if silent() || tuba.row().Trouble == "" {
		t.Errorf("the player reads %q, the leader %q; need both told", tuba.view().Say, tuba.row().Trouble)
	}
	b.hub.State(tuba.chair, proto.State{State: "sounding", Level: -30})
	if !silent() {
		t.Error("told although it hears by now")
	}
}

// TestChordSentenceGoesWithItsMoves: what was said of a chord goes once a
// slide is moved for it.
func TestChordSentenceGoesWithItsMoves(t *testing.T) {
	b := newBench(t)
	ps := b.fMajor(14)
	trumpet := ps[3]
	b.do(hub.Command{Do: hub.DoFingering, Chair: trumpet.chair, Name: "1-3"})
	trumpet.play(14)
	before := b.row().Say
	for _, m := range trumpet.row().Moves {
		if err := b.hub.Setting(t.Context(), trumpet.chair, proto.Setting{Slide: m.ID, MM: m.ToMM}); err != nil {
			t.Fatal(err)
		}
	}
	if got := b.row().Say; got == before || got != "One slide moved: hear the chord again." {
		t.Errorf("after the move the row says %q, before it %q", got, before)
	}
}

// TestWarmUpIsSeen: before the first call the leader sees who still warms up.
func TestWarmUpIsSeen(t *testing.T) {
	b := newBench(t)
	tuba, horn, trumpet := b.trio()
	for _, p := range []*player{tuba, horn, trumpet} {
		b.hub.State(p.chair, proto.State{State: "quiet", Played: 300})
	}
	if got := b.row().Say; got != "Call a note to begin." {
		t.Errorf("all warm: %q", got)
	}
	b.hub.State(horn.chair, proto.State{State: "sounding", Played: 20})
	if got := b.row().Say; got != "2 of 3 are warmed up. Call a note to begin, or let them play on." {
		t.Errorf("one cold: %q", got)
	}
	if c := horn.row(); c.State != "warming" {
		t.Errorf("the horn is %q, need warming", c.State)
	}
}

// TestWatchIsSeenToHear: while a rehearsal is watched the row counts who hears.
func TestWatchIsSeenToHear(t *testing.T) {
	b := newBench(t)
	tuba, horn, _ := b.trio()
	b.do(hub.Command{Do: hub.DoWatch})
	b.hub.State(tuba.chair, proto.State{State: "sounding", Level: -20})
	b.hub.State(horn.chair, proto.State{State: "resting", Level: -20})
	if got := b.row().Section.Hearing; got != 2 {
		t.Errorf("%d laptops hear, need 2", got)
	}
	b.hub.State(tuba.chair, proto.State{State: "quiet", Level: -60})
	if got := b.row().Section.Hearing; got != 1 {
		t.Errorf("%d laptops hear, need 1", got)
	}
}
