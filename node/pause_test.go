package node

import (
	"context"
	"slices"
	"testing"

	"bellrow/node/capture"
	"bellrow/proto"
)

// TestPauseIsTold: a node whose player pauses says so and sends no reading.
func TestPauseIsTold(t *testing.T) {
	hub := &asking{listen: true}
	n, err := New(Config{Uplink: hub, Open: func(context.Context) (capture.Source, error) { return capture.Slice(siren(3), keepRate), nil }})
	if err != nil {
		t.Fatal(err)
	}
	n.Pause(true)
	if err := n.Run(t.Context()); err != nil {
		t.Fatal(err)
	}
	if len(hub.got) > 0 || !slices.Contains(hub.states, proto.Paused) || slices.ContainsFunc(hub.states, func(s string) bool { return s != proto.Paused }) {
		t.Errorf("while paused the node sent %d readings and the states %q, need none and %q only", len(hub.got), hub.states, proto.Paused)
	}
}

// TestMuteGoesWithTheReading: what the player ticks goes with the next notes, until
// it is taken out.
func TestMuteGoesWithTheReading(t *testing.T) {
	hub := &asking{listen: true}
	n, err := New(Config{Uplink: hub, Open: func(context.Context) (capture.Source, error) { return capture.Slice(siren(3), keepRate), nil }})
	if err != nil {
		t.Fatal(err)
	}
	for _, mute := range []string{"cup", ""} {
		hub.got = nil
		n.SetMute(mute)
		if err := n.Run(t.Context()); err != nil {
			t.Fatal(err)
		}
		if len(hub.got) == 0 || hub.got[0].Mute != mute {
			t.Errorf("%+v was sent, need the mute %q", hub.got, mute)
		}
	}
}
