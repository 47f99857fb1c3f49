package session_test

import (
	"encoding/json"
	"testing"

	"bellrow/hub"
	"bellrow/proto/pitch"
)

// FuzzCommand sends whatever decodes as commands to a hub in the midst of a
// round: nothing may panic, and the hub must open again on what it stored.
func FuzzCommand(f *testing.F) {
	for _, c := range []hub.Command{
		{Do: hub.DoCall, Call: &hub.Call{Note: 70}}, {Do: hub.DoCall, Call: &hub.Call{Note: 65, Together: true}},
		{Do: hub.DoCall, Call: &hub.Call{Kind: hub.CallChord, Chord: "Bb7", Tones: map[hub.ChairID]pitch.Note{1: 58}}},
		{Do: hub.DoAgain}, {Do: hub.DoAgain, Chair: 1}, {Do: hub.DoNext}, {Do: hub.DoSkip, Chair: 2}, {Do: hub.DoAbsent, Chair: 3},
		{Do: hub.DoPresent, Chair: 3}, {Do: hub.DoEnd}, {Do: hub.DoFresh}, {Do: hub.DoUndo}, {Do: hub.DoSeat, Chair: 1, SeatRow: 2, Place: 3},
		{Do: hub.DoListen}, {Do: hub.DoChoose}, {Do: hub.DoOpen, Name: "x"}, {Do: hub.DoSetting, Chair: 1, Slide: "main", MM: 3}, {Do: hub.DoTone, Chair: 1, Note: 60}, {Do: hub.DoFingering, Chair: 1, Name: "1-3"},
		{Do: hub.DoRemove, Chair: 1}, {Do: hub.DoMoves},
		{Do: hub.DoEdit, Section: &hub.Section{Name: "y", Good: 5, Near: 10, Chairs: []hub.Chair{{Instrument: "horn_f"}, {ID: 2, Instrument: "tuba_f"}}}},
	} {
		b, err := json.Marshal([]hub.Command{c, {Do: hub.DoUndo}, c})
		if err != nil {
			f.Fatal(err)
		}
		f.Add(b)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		var cs []hub.Command
		if json.Unmarshal(data, &cs) != nil || len(cs) > 20 {
			return
		}
		b := newBench(t)
		tuba, horn, trumpet := b.trio()
		b.call("Bb4")
		tuba.play(14)
		for _, c := range cs {
			_ = b.hub.Command(t.Context(), c)
			for _, p := range []*player{tuba, horn, trumpet} {
				if b.hub.View(p.chair).Phase == "play" {
					p.play(3)
					break
				}
			}
			if _, err := json.Marshal(b.hub.Row()); err != nil {
				t.Fatalf("after %+v the row cannot be sent: %v", c, err)
			}
			b.hub.Summary()
		}
		b.start()
	})
}
