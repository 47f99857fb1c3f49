package tuneup_test

import (
	"fmt"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/hub/show"
	"bellrow/hub/tuneup"
	"bellrow/proto"
)

// BenchmarkStep is one note of 120 chairs in the midst of a tune-up, from its
// arrival to the leader's row: Step, Standing and the row.
func BenchmarkStep(b *testing.B) { benchmarkStep(b, hub.OrderLowToHigh) }

// BenchmarkStepByWorth is the same where notes are asked for by what they tell.
func BenchmarkStepByWorth(b *testing.B) { benchmarkStep(b, hub.OrderByWorth) }

func benchmarkStep(b *testing.B, order hub.Order) {
	const chairs = 120
	r := newRig(b)
	ids := make([]hub.ChairID, chairs)
	for i := range chairs {
		out, err := r.state.Step(r.now, tuneup.Joined{Peer: hub.Peer{Node: fmt.Sprint(i), Boot: "b", Chair: fmt.Sprint("P", i), Instrument: players[i%len(players)].in}})
		if err != nil {
			b.Fatal(err)
		}
		ids[i] = out.Joined.Chair
	}
	s := r.state.Section()
	s.Order = order
	if _, err := r.state.Step(r.now, tuneup.Command{Do: hub.DoEdit, Section: &s}); err != nil {
		b.Fatal(err)
	}
	seq := uint64(0)
	call := func() {
		if _, err := r.state.Step(r.now, tuneup.Command{Do: hub.DoCall, Call: &hub.Call{Note: 70}}); err != nil {
			b.Fatal(err)
		}
	}
	note := func() {
		r.now = r.now.Add(5 * time.Second)
		seq++
		st := r.state.Standing(r.now)
		if st.Round == nil || st.Round.Asked == 0 {
			call()
			st = r.state.Standing(r.now)
		}
		for i := range st.Chairs {
			if c := &st.Chairs[i]; c.ID == st.Round.Asked {
				node, boot := r.state.Node(c.ID)
				w := proto.Reading{Sequence: seq, Round: int64(st.Round.ID), Hz: c.Target.Shift(1), CI95: 0.5, Settled: true, Played: 600, End: 1}
				if _, err := r.state.Step(r.now, tuneup.Reading{Chair: c.ID, Node: node, Boot: boot, Wire: w}); err != nil {
					b.Fatal(err)
				}
			}
		}
	}
	for range 3 * chairs / 2 { // a round and a half lie behind
		note()
	}
	b.ReportAllocs()
	for b.Loop() {
		note() // with a Standing of its own to see who is asked
		show.NewRow(r.state.Standing(r.now), 1, nil)
	}
}
