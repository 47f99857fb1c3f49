package node

import (
	"testing"

	"bellrow/node/capture"
	"bellrow/node/listen"
)

// TestEatenNotesAreTold: what a program does to held notes is the microphone's trouble
// once it did so to two, until a note that is as long comes through.
func TestEatenNotesAreTold(t *testing.T) {
	e := ear{info: capture.Info{Rate: 100}}
	note := func(from, to int64) listen.Event {
		return listen.Event{Reading: &listen.Reading{Onset: from, End: to, Settled: true}}
	}
	for i, step := range []struct {
		event listen.Event
		eaten int
	}{
		{note(0, 400), 0},
		{listen.Event{Eaten: true, Sample: 700}, 1},
		{listen.Event{Eaten: true, Sample: 710}, 1},
		{note(450, 850), 1}, // the same note's reading
		{note(900, 1100), 1},
		{listen.Event{Eaten: true, Sample: 1150}, eatenTwice},
		{note(1200, 1600), 0},
	} {
		if e.processed(step.event); e.eaten != step.eaten {
			t.Errorf("step %d: %d eaten, want %d", i, e.eaten, step.eaten)
		}
	}
}
