package node

import (
	"testing"

	"bellrow/node/capture"
	"bellrow/node/listen"
)

// TestEatenNotesAreTold: what a program does to held notes is the microphone's trouble
// until a note that is as long comes through.
func TestEatenNotesAreTold(t *testing.T) {
	e := ear{info: capture.Info{Rate: 100}}
	note := func(from, to int64) listen.Event {
		return listen.Event{Reading: &listen.Reading{Onset: from, End: to, Settled: true}}
	}
	for i, step := range []struct {
		event listen.Event
		eaten bool
	}{
		{note(0, 400), false},
		{listen.Event{Eaten: true, Sample: 700}, true},
		{note(450, 850), true}, // the same note's reading
		{note(900, 1100), true},
		{note(1200, 1600), false},
	} {
		if e.processed(step.event); e.eaten != step.eaten {
			t.Errorf("step %d: eaten %v, want %v", i, e.eaten, step.eaten)
		}
	}
}
