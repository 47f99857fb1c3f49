package piece_test

import (
	"os"
	"reflect"
	"strings"
	"testing"

	"bellrow/hub/piece"
	"bellrow/hub/score"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// quay opens an invented chorale of six bars: trumpet, horn, trombone, tuba.
func quay(t *testing.T) *piece.Piece {
	t.Helper()
	f, err := os.Open("../testdata/quay.musicxml")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	p, err := piece.Read(f)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

var quartet = []piece.Chair{
	{ID: 11, Label: "Trumpet 1", Instrument: "trumpet_bb"},
	{ID: 12, Label: "Horn 1", Instrument: "horn_f"},
	{ID: 13, Label: "Trombone 1", Instrument: "tenor_trombone_bb"},
	{ID: 14, Label: "Tuba 1", Instrument: "tuba_bbb"},
}

// TestNothingChanges: what is handed out stays as it is, whatever is done with
// the piece afterwards.
func TestNothingChanges(t *testing.T) {
	p := quay(t).Guess(quartet)
	before, state := p.View(quartet, pitch.Style{}), mustState(t, p)
	if _, err := p.Seat(11, 3); err != nil {
		t.Fatal(err)
	}
	if _, _, err := p.Call(4, "", quartet); err != nil {
		t.Fatal(err)
	}
	p.Guess(nil)
	if after := p.View(quartet, pitch.Style{}); !reflect.DeepEqual(before, after) || mustState(t, p) != state {
		t.Errorf("the piece became %+v, was %+v", after, before)
	}
}

func mustState(t *testing.T, p *piece.Piece) string {
	t.Helper()
	s, err := p.State()
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// TestPackedIsThePiece: what is kept gives the same piece again, also its plan.
func TestPackedIsThePiece(t *testing.T) {
	p, err := quay(t).Guess(quartet).Seat(12, -1)
	if err != nil {
		t.Fatal(err)
	}
	_, p, err = p.Call(2, "", quartet)
	if err != nil {
		t.Fatal(err)
	}
	q, err := piece.Unpack(p.Packed(), mustState(t, p))
	if err != nil {
		t.Fatal(err)
	}
	if a, b := p.View(quartet, pitch.Style{}), q.View(quartet, pitch.Style{}); !reflect.DeepEqual(a, b) || b.Next != 3 {
		t.Errorf("unpacked it is %+v, want %+v", b, a)
	}
	ask := piece.Question{Players: p.AsBuilt(quartet, pitch.A4+1), Note: pitch.A4 + 1, Good: 5}
	a, errA := p.Plan(ask)
	b, errB := q.Plan(ask)
	if errA != nil || errB != nil || !reflect.DeepEqual(a, b) || len(a.Players) != 3 {
		t.Errorf("plans %+v (%v) and %+v (%v), want the same of three players", a, errA, b, errB)
	}
	for _, kept := range []string{"", "{}", "no json", `{"seats":{"11":99,"12":-4},"next":-3}`} {
		q, err := piece.Unpack(p.Packed(), kept)
		if q == nil || (err != nil) != (kept == "no json") {
			t.Fatalf("state %q: %v", kept, err)
		}
		if _, plays := q.Part(11); plays || q.Next() != 0 {
			t.Errorf("state %q seats somebody, or goes on at %d", kept, q.Next())
		}
	}
	if q, err := piece.Unpack("bm90aGluZw==", ""); q != nil || err == nil {
		t.Error("a damaged score is a piece")
	}
}

// TestKeysMoveWithTheirParts: players of another instrument than the part was
// written for read the key that their notes stand in: the same concert key for
// all, and the part's own clef only where the notes are the part's own (written
// keys of B flat, F and E flat instruments are 2, 1 and 3 sharps from concert
// pitch; any primer of instrumentation has them, from memory).
func TestKeysMoveWithTheirParts(t *testing.T) {
	const trombone = `<score-partwise><part-list><score-part id="P1"><part-name>Trombone</part-name></score-part><score-part id="P2"><part-name>Tuba</part-name></score-part></part-list>
<part id="P1"><measure><attributes><divisions>1</divisions><key><fifths>KEY</fifths></key><clef><sign>C</sign><line>4</line></clef></attributes>
<note><pitch><step>B</step><alter>-1</alter><octave>3</octave></pitch><duration>4</duration></note></measure></part>
<part id="P2"><measure><attributes><divisions>1</divisions></attributes><note><pitch><step>D</step><octave>3</octave></pitch><duration>4</duration></note></measure></part></score-partwise>`
	for _, tt := range []struct {
		concert    string
		instrument instrument.ID
		key        int
		clef       string
	}{
		{"-2", "tenor_trombone_bb", -2, "tenor"}, {"-2", "trumpet_bb", 0, ""}, {"-2", "horn_f", -1, ""}, {"-3", "tenor_horn_eb", 0, ""},
		{"0", "trumpet_bb", 2, ""}, {"5", "trumpet_bb", -5, ""}, {"-6", "trumpet_bb", -4, ""},
	} {
		p, err := piece.Read(strings.NewReader(strings.Replace(trombone, "KEY", tt.concert, 1)))
		if err != nil {
			t.Fatal(err)
		}
		chair := []piece.Chair{{ID: 1, Label: "One", Instrument: tt.instrument}}
		if p, err = p.Seat(1, 0); err != nil {
			t.Fatal(err)
		}
		c, _, err := p.Call(0, "", chair)
		if err != nil {
			t.Fatal(err)
		}
		if h := c.Heads[1]; h.Key == nil || *h.Key != tt.key || h.Clef != tt.clef {
			t.Errorf("%s in concert %s: %+v, want %d sharps and the clef %q", tt.instrument, tt.concert, h, tt.key, tt.clef)
		}
	}
}

// TestCallGivesEachItsNote: everybody who plays in a chord gets a note of it,
// who is away and who has no part gets none.
func TestCallGivesEachItsNote(t *testing.T) {
	here := append([]piece.Chair{}, quartet...)
	here[3].Absent = true
	p := quay(t).Guess(quartet)
	c, next, err := p.Call(0, "", here)
	if err != nil {
		t.Fatal(err)
	}
	if _, asked := c.Tones[14]; asked || len(c.Tones) != 3 || c.Where != "bar 1" || c.Chord != "B♭ major" || next.Next() != 1 {
		t.Errorf("call %+v, next %d; want bar 1 of three, then the second", c, next.Next())
	}
	for id, n := range c.Tones {
		if k := (n.Class() - 10 + 12) % 12; k != 0 && k != 4 && k != 7 { // B flat, D, F
			t.Errorf("chair %d is asked for %s", id, n.Display())
		}
	}
	if c, _, err := p.Call(4, "", here); err != nil || c.Chord != "" || c.Note.Class() != 5 {
		t.Errorf("bar 4: %+v, %v; want the note F", c, err)
	}
	for _, k := range []int{-1, 5, 99} {
		if _, _, err := p.Call(k, "", here); err == nil {
			t.Errorf("chord %d is called", k)
		}
	}
	if _, _, err := p.Call(0, "", nil); err == nil {
		t.Error("a chord for nobody is called")
	}
}

// divided is one trombone part in two notes over a tuba.
const divided = `<score-partwise><part-list><score-part id="A"><part-name>Trombone</part-name></score-part><score-part id="B"><part-name>Tuba</part-name></score-part></part-list>
<part id="A"><measure number="1"><attributes><divisions>1</divisions></attributes>
<note><pitch><step>D</step><octave>3</octave></pitch><duration>4</duration></note><note><chord/><pitch><step>F</step><octave>3</octave></pitch><duration>4</duration></note></measure></part>
<part id="B"><measure number="1"><attributes><divisions>1</divisions></attributes><note><pitch><step>B</step><alter>-1</alter><octave>1</octave></pitch><duration>4</duration></note></measure></part>
<part id="P2"><measure><attributes><divisions>1</divisions></attributes><note><pitch><step>D</step><octave>3</octave></pitch><duration>4</duration></note></measure></part></score-partwise>`

// TestDividedPart: its players take the notes from the top, whoever is one too
// many the lowest; the plan gives each their own notes, too.
func TestDividedPart(t *testing.T) {
	p, err := piece.Read(strings.NewReader(divided))
	if err != nil {
		t.Fatal(err)
	}
	var chairs []piece.Chair
	for i := range 3 {
		chairs = append(chairs, piece.Chair{ID: int64(i), Label: "Trombone", Instrument: "euphonium_bb_bc"}) // no slide but the main one
		if p, err = p.Seat(int64(i), 0); err != nil {
			t.Fatal(err)
		}
	}
	c, _, err := p.Call(0, "", chairs)
	if err != nil {
		t.Fatal(err)
	}
	for id, want := range map[int64]string{0: "F3", 1: "D3", 2: "D3"} {
		if got := c.Tones[id].String(); got != want {
			t.Errorf("desk %d plays %s, want %s", id, got, want)
		}
	}
	plan, err := p.Plan(piece.Question{Players: p.AsBuilt(chairs, pitch.A4+1), Note: pitch.A4 + 1, Good: 5})
	if err != nil {
		t.Fatal(err)
	}
	mm := plan.Figures.Players
	// The third of a just major triad is lower than the fifth against the
	// tempered scale by 386.31-400-(701.96-700) = -15.6 cents (5:4 and 3:2), so
	// who plays it stands further out.
	if !(mm[1].MainMM > mm[0].MainMM && mm[1].MainMM == mm[2].MainMM) {
		t.Errorf("slides at %.0f, %.0f, %.0f mm; want the third's further out than the fifth's", mm[0].MainMM, mm[1].MainMM, mm[2].MainMM)
	}
}

// TestNothingHeld names the length that was asked for.
func TestNothingHeld(t *testing.T) {
	s, err := score.Read(strings.NewReader(divided))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := piece.New(s, piece.Quarters(4)); err != nil {
		t.Errorf("whole notes: %v", err)
	}
	if _, err := piece.New(s, piece.Quarters(5)); err == nil || !strings.Contains(err.Error(), "5 quarters") {
		t.Errorf("longer than whole notes: %v", err)
	}
}

// TestEveryPart seats the parts that it knows.
func TestEveryPart(t *testing.T) {
	p, chairs, err := quay(t).EveryPart(map[string]instrument.ID{"Tuba": "tuba_eb"})
	if err != nil {
		t.Fatal(err)
	}
	if len(chairs) != 4 || chairs[3].Instrument != "tuba_eb" || len(p.AsBuilt(chairs, pitch.A4)) != 4 {
		t.Errorf("chairs %+v", chairs)
	}
	if _, _, err := quay(t).EveryPart(map[string]instrument.ID{"Lute": "tuba_eb"}); err == nil {
		t.Error("a part that is not there is seated")
	}
}
