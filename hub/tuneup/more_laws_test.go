package tuneup_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/hub/intonation"
	"bellrow/hub/slide"
	"bellrow/hub/tuneup"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// five is a section of five with slides that go far enough.
var five = []struct {
	name string
	in   instrument.ID
}{{"Cy", "tuba_bbb"}, {"Dee", "euphonium_bb_bc"}, {"Bo", "horn_f"}, {"Ada", "trumpet_bb"}, {"Eli", "trumpet_bb"}}

// seatFive seats them, each main slide in its middle.
func seatFive(t *testing.T) *rehearsal {
	h := room(t, 440)
	for _, p := range five {
		h.lines(fmt.Sprintf("join %s %s", p.name, p.in))
	}
	s := h.state.Section()
	for i := range s.Chairs {
		s.Chairs[i].Travel = instrument.Settings{instrument.Main: 150}
		s.Chairs[i].Settings = instrument.Settings{instrument.Main: 70}
	}
	h.event(tuneup.Command{Do: hub.DoEdit, Section: &s})
	return h
}

// playAll plays a round to its end: whoever is asked plays as far out as place says.
func (h *rehearsal) playAll(place map[string]float64) {
	h.t.Helper()
	for range 60 {
		run := h.state.Standing(h.now).Round
		if run == nil || run.Phase == tuneup.Done {
			return
		}
		if run.Asked == 0 {
			h.do([]string{"wait", "5s"})
			continue
		}
		for name, l := range h.nodes {
			if l.chair == run.Asked {
				h.do([]string{"play", name, fmt.Sprint(place[name])})
				break
			}
		}
	}
	h.t.Fatal("the round never ends")
}

// TestAMirroredSectionIsToldTheMirror: players who stand as far below as others stand above are
// heard in the same order, stand together or not alike, and are sent as far in as the
// others out (by the factor between 2^(x/1200)-1 and 1-2^(-x/1200) less far).
func TestAMirroredSectionIsToldTheMirror(t *testing.T) {
	for _, order := range []string{"low-to-high", "seating"} {
		for name, place := range map[string]map[string]float64{
			"each for himself": {"Cy": 14, "Dee": -9, "Bo": 1, "Ada": -20, "Eli": 8},
			"off as one":       {"Cy": 14, "Dee": 15, "Bo": 17, "Ada": 13, "Eli": 16},
			"one beside":       {"Cy": 14, "Dee": 15, "Bo": 17, "Ada": -13, "Eli": 16},
			"two beside":       {"Cy": 14, "Dee": 15, "Bo": 17, "Ada": -13, "Eli": 1},
			"in tune":          {"Cy": 1, "Dee": -2, "Bo": 0.5, "Ada": 2, "Eli": -1},
		} {
			mirror := map[string]float64{}
			for k, x := range place {
				mirror[k] = -x
			}
			a, b := seatFive(t), seatFive(t)
			for h, place := range map[*rehearsal]map[string]float64{a: place, b: mirror} {
				h.lines("edit order="+order, "call Bb4")
				h.playAll(place)
			}
			as, bs := a.state.Standing(a.now), b.state.Standing(b.now)
			if as.Round.AsOne != bs.Round.AsOne || as.Set != bs.Set || as.Heard != bs.Heard || math.Abs(float64(as.Common.Offset+bs.Common.Offset)) > 1e-9 || !slices.Equal(as.Round.Queue, bs.Round.Queue) {
				t.Errorf("%s %s: as one %v, %d set, %d heard, %+.2f in common; mirrored %v, %d, %d, %+.2f", order, name, as.Round.AsOne, as.Set, as.Heard, float64(as.Common.Offset), bs.Round.AsOne, bs.Set, bs.Heard, float64(bs.Common.Offset))
			}
			if want := name == "off as one" || name == "one beside"; as.Round.AsOne != want {
				t.Errorf("%s %s: as one %v, want %v", order, name, as.Round.AsOne, want)
			}
			for i := range as.Chairs {
				x, y := as.Chairs[i], bs.Chairs[i]
				if x.State != y.State || (x.Open == nil) != (y.Open == nil) || x.Notes != y.Notes || x.Holds.Verdict != mirrored(y.Holds.Verdict) {
					t.Errorf("%s %s: %s stands %d, open %v after %d notes, %s; mirrored %d %v %d %s", order, name, x.Name, x.State, x.Open != nil, x.Notes, x.Holds.Verdict, y.State, y.Open != nil, y.Notes, y.Holds.Verdict)
				}
				if x.Open == nil || y.Open == nil {
					continue
				}
				p, q := x.Open.Answer.Steps[0], y.Open.Answer.Steps[0]
				e := math.Abs(place[x.Name])
				if out, in := math.Abs(p.MM()), math.Abs(q.MM()); p.MM()*q.MM() >= 0 || (p.MM() > 0) != (place[x.Name] > 0) || math.Abs(out/in-math.Exp2(e/1200*sign(p.MM()))) > 1.2/in {
					t.Errorf("%s %s: %s at %+g moves %+g mm, mirrored %+g", order, name, x.Name, place[x.Name], p.MM(), q.MM())
				}
			}
		}
	}
}

func sign(x float64) float64 { return math.Copysign(1, x) }

// mirrored is a verdict the other way round.
func mirrored(v string) string {
	return strings.NewReplacer("sharp", "flat", "flat", "sharp", "high", "low", "low", "high").Replace(v)
}

// TestBoundsOfASetUp: what lies on a bound is taken, what lies beyond is refused and changes nothing.
func TestBoundsOfASetUp(t *testing.T) {
	many := func(n int) []hub.Chair {
		all := make([]hub.Chair, n)
		for i := range all {
			all[i] = hub.Chair{Instrument: "trumpet_bb"}
		}
		return all
	}
	for _, c := range []struct {
		name string
		ok   bool
		set  func(*hub.Section)
	}{
		{"lowest A", true, func(s *hub.Section) { s.Reference.A4 = pitch.MinA4 }},
		{"A below", false, func(s *hub.Section) { s.Reference.A4 = pitch.MinA4 - 0.01 }},
		{"highest A", true, func(s *hub.Section) { s.Reference.A4 = pitch.MaxA4 }},
		{"A above", false, func(s *hub.Section) { s.Reference.A4 = pitch.MaxA4 + 0.01 }},
		{"A as usual", true, func(s *hub.Section) { s.Reference.A4 = 0 }},
		{"no A", false, func(s *hub.Section) { s.Reference.A4 = pitch.Hertz(math.NaN()) }},
		{"lowest note", true, func(s *hub.Section) { s.TuningNotes = []pitch.Note{pitch.MinNote} }},
		{"note below", false, func(s *hub.Section) { s.TuningNotes = []pitch.Note{70, pitch.MinNote - 1} }},
		{"highest note", true, func(s *hub.Section) { s.TuningNotes = []pitch.Note{pitch.MaxNote} }},
		{"note above", false, func(s *hub.Section) { s.TuningNotes = []pitch.Note{pitch.MaxNote + 1} }},
		{"24 notes", true, func(s *hub.Section) { s.TuningNotes = slices.Repeat([]pitch.Note{70}, 24) }},
		{"25 notes", false, func(s *hub.Section) { s.TuningNotes = slices.Repeat([]pitch.Note{70}, 25) }},
		{"band to 50", true, func(s *hub.Section) { s.Good, s.Near = 50, 50 }},
		{"band beyond", false, func(s *hub.Section) { s.Good, s.Near = 5, 50.1 }},
		{"bands crossed", false, func(s *hub.Section) { s.Good, s.Near = 10, 9 }},
		{"no band", false, func(s *hub.Section) { s.Good = 0 }},
		{"a band that is none", false, func(s *hub.Section) { s.Near = pitch.Cents(math.NaN()) }},
		{"1000 chairs", true, func(s *hub.Section) { s.Chairs = many(1000) }},
		{"1001 chairs", false, func(s *hub.Section) { s.Chairs = many(1001) }},
		{"no name", false, func(s *hub.Section) { s.Name = " " }},
		{"odd order", false, func(s *hub.Section) { s.Order = "odd" }},
		{"no order", true, func(s *hub.Section) { s.Order = "" }},
		{"odd horns", false, func(s *hub.Section) { s.HornOrder = "odd" }},
		{"F horns", true, func(s *hub.Section) { s.HornOrder = slide.FSideFirst }},
		{"odd tuning", false, func(s *hub.Section) { s.Tuning = "odd" }},
		{"just", true, func(s *hub.Section) { s.Tuning = string(intonation.Just) }},
		{"furnace", false, func(s *hub.Section) { s.TemperatureC = 90 }},
		{"row 1000", true, func(s *hub.Section) { s.Chairs[0].Row, s.Chairs[0].Place = 1000, 1000 }},
		{"row 1001", false, func(s *hub.Section) { s.Chairs[0].Row = 1001 }},
		{"place 1001", false, func(s *hub.Section) { s.Chairs[0].Place = 1001 }},
		{"row below", false, func(s *hub.Section) { s.Chairs[0].Row = -1 }},
		{"place below", false, func(s *hub.Section) { s.Chairs[0].Place = -1 }},
		{"chair twice", false, func(s *hub.Section) { s.Chairs = append(s.Chairs, s.Chairs[0]) }},
		{"no instrument", false, func(s *hub.Section) { s.Chairs[0].Instrument = "nose" }},
		{"slide closed", true, func(s *hub.Section) { s.Chairs[0].Settings = instrument.Settings{instrument.Main: 0} }},
		{"slide as far as any", true, func(s *hub.Section) { s.Chairs[0].Settings = instrument.Settings{instrument.Main: 2000} }},
		{"slide a little beyond", false, func(s *hub.Section) { s.Chairs[0].Travel = instrument.Settings{instrument.Main: 2001} }},
		{"slide beyond", false, func(s *hub.Section) { s.Chairs[0].Settings = instrument.Settings{instrument.Main: 1e5} }},
		{"slide before", false, func(s *hub.Section) { s.Chairs[0].Travel = instrument.Settings{instrument.Main: -1} }},
		{"no such slide", false, func(s *hub.Section) { s.Chairs[0].Settings = instrument.Settings{instrument.Hand: 1} }},
		{"long name", false, func(s *hub.Section) { s.Chairs[0].Part = strings.Repeat("x", 100) }},
	} {
		h := room(t, 440)
		h.lines("join Ada trumpet_bb", "call Bb4")
		before := h.state.Record()
		s := h.state.Section()
		c.set(&s)
		_, err := h.state.Step(h.now, tuneup.Command{Do: hub.DoEdit, Section: &s})
		if (err == nil) != c.ok {
			t.Errorf("%s: %v", c.name, err)
		}
		if err != nil && h.state.Record() != before {
			t.Errorf("%s: %v, and something changed", c.name, err)
		}
	}
}

// TestWhatCannotBeIsRefused: commands without what they need, or at the wrong time, say so.
func TestWhatCannotBeIsRefused(t *testing.T) {
	for _, c := range []struct {
		before string
		do     hub.Command
		says   string
	}{
		{"", hub.Command{Do: hub.DoCall}, "need one"},
		{"", hub.Command{Do: hub.DoEdit}, "need one"},
		{"", hub.Command{Do: hub.DoAgain}, "call a note first"},
		{"", hub.Command{Do: hub.DoEnd}, "call a note first"},
		{"", hub.Command{Do: hub.DoNext}, "call a note first"},
		{"", hub.Command{Do: hub.DoSkip, Chair: 1}, "call a note first"},
		{"", hub.Command{Do: hub.DoSkip, Chair: 77}, "77"},
		{"", hub.Command{Do: "odd", Chair: 1}, "not known"},
		{"", hub.Command{Do: hub.DoNextSonority}, "open one first"},
		{"watch", hub.Command{Do: hub.DoWatch}, "being watched"},
		{"call Bb4", hub.Command{Do: hub.DoMoves}, "held back"},
		{"call Bb4", hub.Command{Do: hub.DoAllMove}, "not off as one"},
		{"call Bb4", hub.Command{Do: hub.DoTone, Chair: 1, Note: pitch.MaxNote + 1}, "need 0 to"},
		{"call Bb4", hub.Command{Do: hub.DoTone, Chair: 1, Note: pitch.MinNote - 1}, "need 0 to"},
		{"call Bb4", hub.Command{Do: hub.DoFingering, Chair: 1, Name: "1"}, "no chord"},
		{"call Bb major", hub.Command{Do: hub.DoFingering, Chair: 1, Name: "nose"}, ""},
		{"call Bb4", hub.Command{Do: hub.DoCall, Call: &hub.Call{Note: pitch.MaxNote + 1}}, "need 0 to"},
		{"call Bb4", hub.Command{Do: hub.DoCall, Call: &hub.Call{Note: 70, Tones: map[hub.ChairID]pitch.Note{1: -3}}}, "need 0 to"},
		{"call Bb4", hub.Command{Do: hub.DoCall, Call: &hub.Call{Kind: "odd"}}, "need note, chord or listen"},
		{"call Bb4", hub.Command{Do: hub.DoCall, Call: &hub.Call{Kind: hub.CallChord, Chord: "Bb major", Anchor: "odd"}}, ""},
		{"call Bb4", hub.Command{Do: hub.DoCall, Call: &hub.Call{Kind: hub.CallChord, Chord: "Bb major", Shape: "odd"}}, ""},
		{"call Bb4", hub.Command{Do: hub.DoCall, Call: &hub.Call{Kind: hub.CallChord, Chord: "Bb major", Tuning: "odd"}}, ""},
		{"call Bb4", hub.Command{Do: hub.DoCall, Call: &hub.Call{Note: 70, Where: strings.Repeat("x", 200)}}, "at most"},
		{"", hub.Command{Do: hub.DoUndo}, "nothing to undo"},
		{"call Bb major", hub.Command{Do: hub.DoAgain, Chair: 77}, "not in this round"},
		{"watch", hub.Command{Do: hub.DoChoose}, "listen first"},
	} {
		h := room(t, 440)
		h.lines("join Ada trumpet_bb")
		if c.before != "" {
			h.lines(c.before)
		}
		record := h.state.Record()
		if _, err := h.state.Step(h.now, tuneup.Command(c.do)); err == nil || !strings.Contains(err.Error(), c.says) || h.state.Record() != record {
			t.Errorf("after %q %+v: %v", c.before, c.do, err)
		}
	}
}

// TestTwentyCommandsAreTakenBack: the last twenty, in their order, and none before.
func TestTwentyCommandsAreTakenBack(t *testing.T) {
	h := room(t, 440)
	h.lines("join Ada trumpet_bb")
	for i := range 25 {
		h.lines(fmt.Sprintf("edit a4=%d", 420+i))
	}
	for i := range 20 {
		h.lines("undo")
		if a4 := h.state.Section().Reference.A4; a4 != pitch.Hertz(443-i) {
			t.Fatalf("after %d undos A is %v", i+1, float64(a4))
		}
	}
	if _, err := h.state.Step(h.now, tuneup.Command{Do: hub.DoUndo}); err == nil {
		t.Error("a twenty-first command is taken back")
	}
}

// TestPlayersOfAPiece: what the set-up of slides for a piece knows of each player counts from the
// section's pitch, whatever A is: nothing for a player who was not heard, and what the tuning
// note showed beside the theory of the instrument where its slide stands.
func TestPlayersOfAPiece(t *testing.T) {
	for _, a4 := range []pitch.Hertz{440, 443} {
		h := room(t, a4)
		h.lines("join Ada trumpet_bb", "join Bo horn_f", "join Cy tuba_bbb", "join Flo flute", "join Gus trumpet_bb", "absent Gus")
		if _, _, err := h.state.PieceQuestion(); err != tuneup.ErrNoPiece {
			t.Fatalf("without a piece: %v", err)
		}
		h.event(tuneup.Opened{Piece: chorale(t)})
		h.lines("call Bb4", "play Cy 6", "play Bo -4", "call Bb major", "play Cy 20")
		p, q, err := h.state.PieceQuestion()
		if err != nil || p == nil || q.Note != 70 || q.Good != intonation.DefaultGood {
			t.Fatalf("%+v %v", q, err)
		}
		if got := h.state.Standing(h.now).Piece; got != p {
			t.Error("another piece is shown")
		}
		atA4 := float64(pitch.Between(a4, 440))
		want := map[string]struct {
			cents float64
			heard bool
		}{"Ada": {0, false}, "Bo": {-4, true}, "Cy": {6, true}}
		for _, pl := range q.Players {
			name, _, _ := strings.Cut(pl.Name, " ")
			w, ok := want[name]
			if !ok {
				t.Errorf("%s is asked for", pl.Name)
				continue
			}
			delete(want, name)
			usual := pl.Instrument.MM(nil, instrument.Main)
			// Slides stand where the instrument is built for 440; of that and the target's own
			// A the offset is what is left.
			x := atA4
			if w.heard {
				n := pl.Instrument.TuningNote(70)
				x = w.cents - float64(pitch.Between(pitch.Reference{A4: a4}.Frequency(n), pl.Instrument.Pitch(pl.Instrument.Paths(n)[0], instrument.Settings{instrument.Main: usual}, instrument.DefaultAir))) + atA4
			}
			if math.Abs(float64(pl.Offset)-x) > 1e-6 || pl.Measured != w.heard || pl.OneNote != pl.Instrument.TuningNote(70) {
				t.Errorf("A %v: %s stands %+.2f cents, heard %v; want %+.2f %v", float64(a4), pl.Name, float64(pl.Offset), pl.Measured, x, w.heard)
			}
		}
		if len(want) > 0 {
			t.Errorf("nobody asks for %v", want)
		}
		s := h.state.Section()
		s.TuningNotes = nil
		h.event(tuneup.Command{Do: hub.DoEdit, Section: &s})
		if _, q, _ := h.state.PieceQuestion(); q.Note != 70 {
			t.Errorf("without tuning notes %v is asked for", q.Note)
		}
	}
}

// TestAHeldChordOfAPiece: who plays in it gets what is written, at the page's place, the others rest;
// undo gives the piece back.
func TestAHeldChordOfAPiece(t *testing.T) {
	h := room(t, 440)
	h.lines("join Ada trumpet_bb", "join Bo horn_f", "join Dee tenor_trombone_bbf", "join Cy tuba_bbb", "join Flo flute")
	out := h.event(tuneup.Opened{Piece: chorale(t)})
	if out.Seen != tuneup.Leader {
		t.Errorf("an opened piece is seen by %d", out.Seen)
	}
	for k, want := range []map[string]string{{"Ada": "D5", "Bo": "F4", "Dee": "Bb3", "Cy": "Bb2"}, {"Ada": "Eb5", "Bo": "G4", "Dee": "Bb3", "Cy": "Eb2"}} {
		h.event(tuneup.Command{Do: hub.DoNextSonority})
		run := h.state.Standing(h.now).Round
		if run == nil || !run.Call.Only || !run.Call.Together || run.Call.Where != fmt.Sprint("bar ", k+1) || len(run.Call.Tones) != len(want) || len(run.Call.Heads) == 0 {
			t.Fatalf("chord %d: %+v", k, run)
		}
		for name, n := range want {
			if got := h.chair(name); fmt.Sprint(got.Note) != n {
				t.Errorf("chord %d: %s plays %v, want %s", k, name, got.Note, n)
			}
		}
		if next := h.state.Standing(h.now).Piece.Next(); next != k+1 {
			t.Errorf("after chord %d comes %d", k, next)
		}
	}
	h.event(tuneup.Command{Do: hub.DoSonority, Index: 2}) // all on F
	if run := h.state.Standing(h.now).Round; run.Call.Kind != hub.CallNote || run.Call.Note.Class() != 5 || run.Call.Spelled == "" {
		t.Errorf("a chord of one note is called %+v", run.Call)
	}
	if _, err := h.state.Step(h.now, tuneup.Command{Do: hub.DoSonority, Index: 99}); err == nil {
		t.Error("chord 99 is called")
	}
	h.event(tuneup.Command{Do: hub.DoDropPiece})
	if h.state.Standing(h.now).Piece != nil {
		t.Error("the piece is still there")
	}
	h.lines("undo")
	if h.state.Standing(h.now).Piece == nil {
		t.Error("the piece has not come back")
	}
}

// TestEarlierDays: who stood somewhere on earlier days and is heard far from there is asked once more;
// what the whole section had in common on those days was the weather, and does not count.
func TestEarlierDays(t *testing.T) {
	for _, c := range []struct {
		name        string
		own, common pitch.Cents // on the earlier days
		now         pitch.Cents
		unlike      bool
	}{
		{"as ever", 3, 0, 6, false}, {"far from it", 3, 0, 45, true}, {"far below", 3, 0, -45, true},
		{"the weather was warm", 2, 20, 25, false}, {"the weather was warm, and this is odd", 2, 20, 40, true},
	} {
		sec := hub.Section{ID: 1, Name: "Quay", Reference: pitch.Reference{A4: 440}, Good: 5, Near: 10, Order: hub.OrderLowToHigh, TuningNotes: []pitch.Note{70}}
		for i, id := range []instrument.ID{"trumpet_bb", "trumpet_bb", "cornet_bb", "trumpet_bb"} {
			sec.Chairs = append(sec.Chairs, hub.Chair{ID: hub.ChairID(i + 1), Name: string(rune('A' + i)), Label: fmt.Sprint("Trumpet ", i+1), Instrument: id, Row: i})
		}
		rec := tuneup.Records{Section: sec, NextID: 1000}
		id := int64(100)
		for day := range 5 {
			at := start.AddDate(0, 0, day-9)
			for i := range sec.Chairs {
				x := c.common
				if i == 0 {
					x += c.own
				}
				id++
				target := pitch.Reference{}.Frequency(70)
				r := hub.Reading{ID: id, Chair: hub.ChairID(i + 1), At: at.Add(time.Duration(i) * time.Minute), Note: 70, Target: target, Cents: x, Counted: true, Verdict: intonation.Set}
				r.Wire.Hz, r.Wire.CI95, r.Wire.Settled, r.Wire.Level, r.Wire.Played = target.Shift(x), 1, true, -20, 600
				rec.Readings = append(rec.Readings, r)
			}
		}
		s, out := tuneup.New(rec, start)
		h := &rehearsal{rig: newRig(t), nodes: map[string]*laptop{}, views: map[hub.ChairID]string{}}
		h.state = s
		h.take(out)
		h.lines("join A trumpet_bb", "join B trumpet_bb", "join C cornet_bb", "call Bb4", "play A "+fmt.Sprint(float64(c.now)))
		a := h.chair("A").InRound
		if unlike := a != nil && a.Answer != nil && a.Answer.Code == "unlike"; unlike != c.unlike {
			t.Errorf("%s: %+v", c.name, a.Answer)
		}
	}
}
