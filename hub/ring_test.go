package hub_test

import (
	"strings"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/proto"
	"bellrow/proto/pitch"
)

// The next player waits until the note before has ended, two seconds at most.
func TestNextPlayerWaitsForTheNoteBefore(t *testing.T) {
	b := newBench(t)
	tuba, horn, trumpet := b.trio()
	b.call("Bb4")
	b.hub.State(tuba.chair, proto.State{State: "resting", Level: -20})
	tuba.play(12)
	horn.wants("wait")
	b.hub.State(tuba.chair, proto.State{State: "quiet", Level: -60})
	horn.wants("play")

	b.hub.State(horn.chair, proto.State{State: "resting", Level: -20})
	horn.play(-11)
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
	offsets := []float64{14, -14, 16, -15}
	play := func(cents ...float64) {
		for range ps {
			for i, p := range ps {
				if p.view().Phase == "play" {
					p.play(pitch.Cents(cents[i]))
					break
				}
			}
		}
	}
	play(offsets...)
	b.do(hub.Command{Do: hub.DoAgain})
	play(0, 0, 0, 0)
	for _, p := range ps {
		if got := p.row().FollowThrough; !strings.Contains(got, "went with the slide") {
			t.Errorf("%s: %q, want that the pitch went with the slide", p.name, got)
		}
	}
}
