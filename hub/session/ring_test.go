package session_test

import (
	"strings"
	"testing"
	"time"

	"bellrow/proto"
	"bellrow/proto/pitch"
)

// The next player waits until the note before has ended, two seconds at most.
func TestNextPlayerWaitsForTheNoteBefore(t *testing.T) {
	b := newBench(t)
	tuba, horn, trumpet := b.trio()
	b.call("Bb4")
	b.hub.State(tuba.chair, proto.State{State: "resting", Level: -20})
	tuba.play(0)
	horn.wants("wait")
	b.hub.State(tuba.chair, proto.State{State: "quiet", Level: -60})
	horn.wants("play")

	b.hub.State(horn.chair, proto.State{State: "resting", Level: -20})
	horn.play(0)
	b.now = b.now.Add(1900 * time.Millisecond)
	trumpet.wants("wait")
	b.now = b.now.Add(200 * time.Millisecond)
	trumpet.wants("play")
}

// What the section did as a whole is taken from chairs whose own slides stood
// still: those who moved theirs between their own two notes say nothing.
func TestOtherPlayersMovesAreNotTheRoom(t *testing.T) {
	b := newBench(t)
	ps := []*player{b.join("Cy", "tuba_bbb"), b.join("Di", "euphonium_bb_bc"), b.join("Ed", "tenor_trombone_bbf"), b.join("Ada", "trumpet_bb")}
	b.call("Bb4")
	first := map[*player]pitch.Cents{ps[0]: 14, ps[1]: -14, ps[2]: 16, ps[3]: -15}
	for !b.row().Round.Done {
		p := b.playing(ps)
		p.play(first[p])
		delete(first, p) // and in tune from then on
	}
	for _, p := range ps {
		if got := p.row().FollowThrough; !strings.Contains(got, "went with the slide") {
			t.Errorf("%s: %q, want that the pitch went with the slide", p.name, got)
		}
	}
}

// In the middle of a turn the note is asked for again once the one before has
// ended: a note that breaks is no fresh attack.
func TestSameNoteIsNoFreshAttack(t *testing.T) {
	b := newBench(t)
	tuba, horn, _ := b.trio()
	b.call("Bb4")
	tuba.play(0)
	b.hub.State(horn.chair, proto.State{State: "resting", Level: -20})
	horn.play(-11)
	if v := horn.wants("wait"); v.Round != 0 || v.Answer == nil || v.Answer.Kind != "move" {
		t.Errorf("while the note goes on the horn sees %+v", v)
	}
	b.hub.State(horn.chair, proto.State{State: "quiet", Level: -60})
	if v := horn.wants("answer"); v.Round == 0 || !v.Listen {
		t.Errorf("once it has ended the horn sees %+v", v)
	}
	horn.play(-11) // three seconds later: nobody has moved a slide by then
	horn.wants("answer")
	if f := horn.row().FollowThrough; f != "" {
		t.Errorf("a broken note is taken for a fresh one: %q", f)
	}
}
