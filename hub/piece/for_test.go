package piece_test

import (
	"strings"
	"testing"

	"bellrow/hub/piece"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// doubtful is an invented score of a trumpet and a horn in E flat, which is a brass
// band's tenor horn or an orchestra's horn on a crook.
const doubtful = `<score-partwise><movement-title>Slack Water</movement-title><part-list>
<score-part id="A"><part-name>Trumpet 1</part-name></score-part><score-part id="C"><part-name>Horn in Eb</part-name></score-part></part-list>
<part id="A"><measure number="1"><attributes><divisions>1</divisions><transpose><chromatic>-2</chromatic></transpose></attributes>
<note><pitch><step>G</step><alter>1</alter><octave>4</octave></pitch><duration>4</duration></note></measure></part>
<part id="C"><measure number="1"><attributes><divisions>1</divisions><transpose><chromatic>-9</chromatic></transpose></attributes>
<note><pitch><step>D</step><alter>1</alter><octave>5</octave></pitch><duration>4</duration></note></measure></part></score-partwise>`

// TestANameForTwoInstrumentsAsks: the leader is asked, the answer decides who plays
// the part and is kept, and who was seated by hand stays.
func TestANameForTwoInstrumentsAsks(t *testing.T) {
	p, err := piece.Read(strings.NewReader(doubtful))
	if err != nil {
		t.Fatal(err)
	}
	chairs := []piece.Chair{
		{ID: 1, Label: "Trumpet 1", Instrument: "trumpet_bb"}, {ID: 2, Label: "Tenor horn", Instrument: "tenor_horn_eb"},
		{ID: 3, Label: "Horn", Instrument: "horn_f"}, {ID: 4, Label: "Spare", Instrument: "tenor_horn_eb"},
	}
	p = p.Guess(chairs)
	parts := p.View(chairs, pitch.Style{}).Parts
	if len(parts[0].Could) != 0 || len(parts[1].Could) < 2 || parts[1].Said != "" {
		t.Fatalf("parts %+v, want the horn's alone in doubt", parts)
	}
	for _, id := range []instrument.ID{"tenor_horn_eb", "horn_f"} {
		family := map[instrument.ID]int64{"tenor_horn_eb": 2, "horn_f": 3}[id]
		q, err := p.For(1, id, chairs)
		if err != nil {
			t.Fatal(err)
		}
		if part, plays := q.Part(family); !plays || part != 1 {
			t.Errorf("for %s chair %d plays %d, %v", id, family, part, plays)
		}
		if v := q.View(chairs, pitch.Style{}).Parts[1]; v.Said != id {
			t.Errorf("%s was said, the page has %+v", id, v)
		}
		state, err := q.State()
		if err != nil {
			t.Fatal(err)
		}
		again, err := piece.Unpack(q.Packed(), state)
		if err != nil || again.View(chairs, pitch.Style{}).Parts[1].Said != id {
			t.Errorf("%s is not kept: %v", id, err)
		}
	}
	byHand, err := p.Seat(4, -1)
	if err == nil {
		byHand, err = byHand.For(1, "tenor_horn_eb", chairs)
	}
	if _, plays := byHand.Part(4); err != nil || plays {
		t.Errorf("who was taken out by hand plays again: %v", err)
	}
	if _, err := p.For(1, "kazoo", chairs); err == nil {
		t.Error("a kazoo is taken")
	}
	if _, err := p.For(7, "horn_f", chairs); err == nil {
		t.Error("an eighth part is taken")
	}
}

// TestAStrangePartAsks: who reads a part of which no instrument goes by the name is
// asked, of the instruments that are here, each once; one without notes is not asked about.
func TestAStrangePartAsks(t *testing.T) {
	text := strings.ReplaceAll(doubtful, "Horn in Eb", "Ocarina")
	text = strings.Replace(text, "</part-list>", `<score-part id="D"><part-name>Cimbalom</part-name></score-part></part-list>`, 1)
	text = strings.Replace(text, "</score-partwise>", `<part id="D"><measure number="1"><note><rest/><duration>4</duration></note></measure></part></score-partwise>`, 1)
	p, err := piece.Read(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	chairs := []piece.Chair{
		{ID: 1, Label: "Trumpet 1", Instrument: "trumpet_bb"}, {ID: 2, Label: "Trumpet 2", Instrument: "trumpet_bb"}, {ID: 3, Label: "Horn", Instrument: "horn_f"},
	}
	p = p.Guess(chairs)
	parts := p.View(chairs, pitch.Style{}).Parts
	if v := parts[1]; !v.Unknown || len(v.Could) != 2 || v.Could[0].ID != "trumpet_bb" || v.Could[1].ID != "horn_f" {
		t.Errorf("the ocarina's part: %+v", v)
	}
	if parts[0].Unknown || parts[2].Unknown || len(parts[2].Could) != 0 {
		t.Errorf("asked about %+v and %+v", parts[0], parts[2])
	}
	p, err = p.For(1, "horn_f", chairs)
	if err != nil {
		t.Fatal(err)
	}
	if part, plays := p.Part(3); !plays || part != 1 {
		t.Errorf("the horn plays %d, %v", part, plays)
	}
}
