package tuneup_test

import (
	"fmt"
	"time"

	"bellrow/hub"
	"bellrow/hub/show"
	"bellrow/hub/tuneup"
	"bellrow/proto"
)

// A player joins, the leader calls a note, the note comes in sharp: what is to
// be stored, and what is shown then.
func Example() {
	now := time.Date(2030, 3, 2, 19, 0, 0, 0, time.UTC)
	state, _ := tuneup.New(tuneup.Records{Section: hub.Section{ID: 1, Name: "Quay", Good: 5, Near: 10}}, now)
	step := func(e tuneup.Event) tuneup.Outcome {
		now = now.Add(5 * time.Second)
		out, err := state.Step(now, e)
		if err != nil {
			fmt.Println(err)
		}
		return out
	}
	chair := step(tuneup.Joined{Peer: hub.Peer{Node: "n", Boot: "b", Chair: "Ada", Instrument: "trumpet_bb"}}).Joined.Chair
	step(tuneup.Command{Do: hub.DoCall, Call: &hub.Call{Kind: hub.CallNote, Note: 70}})
	asked := state.Standing(now)
	note := proto.Reading{
		Sequence: 1, Round: int64(asked.Round.ID), Hz: asked.Chairs[0].Target.Shift(12), CI95: 0.5, Settled: true,
		Played: 600, End: 1,
	}
	out := step(tuneup.Reading{Chair: chair, Node: "n", Boot: "b", Wire: note})
	for _, c := range out.Changes {
		fmt.Printf("%T\n", c)
	}
	st := state.Standing(now)
	told := show.NewView(st, &st.Chairs[0]).Answer
	fmt.Println(told.Kind, told.Moves[0].Name, told.Moves[0].ToMM > told.Moves[0].FromMM)
	// Output:
	// hub.ReadingChange
	// hub.MoveChange
	// move main slide true
}
