package piece_test

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"bellrow/hub/piece"
	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
	"bellrow/testdata/golden"
)

// groups that play the invented chorale: as it is scored, doubled, with gaps, with names that
// have to be guessed.
var groups = map[string][]piece.Chair{
	"quartet": quartet,
	"doubled": append([]piece.Chair{{ID: 1, Label: "Cornet 1", Instrument: "cornet_bb"}, {ID: 2, Label: "Trombone 2", Instrument: "tenor_trombone_bbf"}}, quartet...),
	"others":  {{ID: 21, Label: "II. Horn", Instrument: "horn_double"}, {ID: 22, Label: "Horn I", Instrument: "horn_f"}, {ID: 23, Label: "bass", Instrument: "tuba_cc"}, {ID: 24, Label: "Trompete iii", Instrument: "trumpet_c"}},
	"nobody":  nil,
}

// TestWalk writes down what is shown and reported of two pieces with several groups.
func TestWalk(t *testing.T) {
	var out strings.Builder
	show := func(what string, x any) {
		text, err := json.MarshalIndent(x, "", " ")
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(&out, "%s\n%s\n", what, text)
	}
	for _, name := range []string{"doubled", "others", "nobody"} {
		chairs := groups[name]
		p := quay(t).Guess(chairs)
		show(name, p.View(chairs, pitch.Style{}))
		show(name+" row", p.Row(phrase.Tongue{}))
		players := p.AsBuilt(chairs, pitch.A4+1)
		for i := range players {
			players[i].Offset = []pitch.Cents{11, -9, 3, 0, 6, -14}[i]
			players[i].Measured = i%2 == 0
		}
		for _, good := range []pitch.Cents{3} {
			plan, err := p.Plan(piece.Question{Players: players, Note: pitch.A4 + 1, Good: good})
			fmt.Fprintf(&out, "%s within %g: %v\n", name, float64(good), err)
			if err == nil {
				show("plan", plan)
				show("report", p.Report(chairs, &plan))
			}
		}
		if len(chairs) > 1 {
			call, q, err := p.Call(3, "", chairs)
			fmt.Fprintf(&out, "call %+v %v next %d\n", call, err, q.Next())
			if q, err = q.Seat(chairs[0].ID, 3); err != nil {
				t.Fatal(err)
			}
			show("seated anew", q.View(chairs, pitch.Style{}).Parts)
			if _, err := q.Seat(chairs[0].ID, 99); err == nil {
				t.Error("part 99 is taken")
			}
		}
	}
	p := lengths(t)
	p = p.Guess(groups["others"])
	show("lengths", p.View(groups["others"], pitch.Style{}))
	show("lengths row", p.Row(phrase.Tongue{}))
	every, chairs, err := quay(t).EveryPart(map[string]instrument.ID{"Horn": "horn_double"})
	fmt.Fprintf(&out, "every part %v %v\n", chairs, err)
	if err == nil {
		show("every", every.View(chairs, pitch.Style{}))
	}
	odd := scored(t, "Horn", "Ocarina", "Tuba")
	q, seats, err := odd.EveryPart(nil)
	fmt.Fprintf(&out, "unknown part: %v %v\n", seats, err)
	if err == nil {
		show("unknown", q.View(seats, pitch.Style{}))
	}
	low := odd.Guess([]piece.Chair{{ID: 1, Label: "Horn", Instrument: "piccolo_trumpet_bb", Part: "Horn"}, {ID: 2, Label: "Tuba", Instrument: "piccolo_trumpet_bb", Part: "Tuba"}})
	beyond, err := low.Plan(piece.Question{Players: low.AsBuilt([]piece.Chair{{ID: 1, Label: "Horn", Instrument: "piccolo_trumpet_bb"}, {ID: 2, Label: "Tuba", Instrument: "piccolo_trumpet_bb"}}, pitch.A4+1), Note: pitch.A4 + 1, Good: 3})
	fmt.Fprintf(&out, "out of reach: %q %v\n", beyond.Remarks, err)
	golden.Lines(t, "walk.txt", out.String())
}
