package web

import (
	"math"
	"testing"

	"bellrow/hub"
	"bellrow/hub/show"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

func ptr(x float64) *float64 { return &x }

func moving(from, to float64) []proto.Slide {
	return []proto.Slide{{ID: instrument.Main, Name: "main slide", FromMM: from, ToMM: to, TravelMM: 50}}
}

func hand(from, to float64) []proto.Slide {
	return []proto.Slide{{ID: instrument.Hand, Name: "hand slide", FromMM: from, ToMM: to, TravelMM: 600}}
}

// TestMark checks that a slide that has to be pulled stands left of the line,
// one to be pushed right of it, as far as the ruler says, and that its doubt
// has the move's own rate.
func TestMark(t *testing.T) {
	for _, tt := range []struct {
		name  string
		row   show.ChairRow
		scale float64
		want  *Mark
	}{
		{"pull 6 of 10", show.ChairRow{Verdict: "out", Cents: ptr(14), CI: ptr(7), Moves: moving(13, 19)}, 10,
			&Mark{At: 50 - 48*0.6, Low: 50 - 48*0.9, High: 50 - 48*0.3, Go: true}},
		{"push 5 of 20", show.ChairRow{Verdict: "out", Cents: ptr(-10), CI: ptr(2), Moves: moving(13, 8)}, 20,
			&Mark{At: 50 + 48*0.25, Low: 50 + 48*0.2, High: 50 + 48*0.3, Go: true}},
		{"set is flush", show.ChairRow{Verdict: "set", Cents: ptr(3), CI: ptr(2)}, 10, &Mark{At: 50, Low: 50, High: 50}},
		{"beyond the ruler", show.ChairRow{Verdict: "out", Cents: ptr(200), CI: ptr(1), Moves: moving(0, 90)}, 80,
			&Mark{At: 1, Low: 1, High: 1, Go: true, Over: true}},
		{"moved, not quite as far", show.ChairRow{Moved: true, Cents: ptr(14), CI: ptr(1), Moves: moving(13, 19), Slides: moving(18.5, 18.5)}, 10,
			&Mark{At: 50 - 48*0.05, Low: 50 - 48*0.05, High: 50 - 48*0.05, Unheard: true}},
		{"moved", show.ChairRow{Moved: true, Cents: ptr(14), CI: ptr(1), Moves: moving(13, 19), Slides: moving(19, 19)}, 10, &Mark{At: 50, Low: 50, High: 50, Unheard: true}},
		{"of a hand slide in fourth position nobody has moved anything", show.ChairRow{Verdict: "out", Cents: ptr(10), CI: ptr(0), Moves: hand(279, 289), Slides: hand(0, 0)}, 20,
			&Mark{At: 50 - 48*0.5, Low: 50 - 48*0.5, High: 50 - 48*0.5, Go: true}},
		{"nor of one that is noted where another position had it", show.ChairRow{Moved: true, Cents: ptr(10), CI: ptr(0), Moves: hand(279, 289), Slides: hand(12, 12)}, 20, nil},
		{"a hand slide moved", show.ChairRow{Moved: true, Cents: ptr(10), CI: ptr(0), Moves: hand(279, 289), Slides: hand(284, 284)}, 20,
			&Mark{At: 50 - 48*0.25, Low: 50 - 48*0.25, High: 50 - 48*0.25, Unheard: true}},
		{"in doubt", show.ChairRow{Verdict: "doubt", Cents: ptr(9), CI: ptr(9), Moves: moving(13, 19)}, 10, nil},
		{"not heard", show.ChairRow{State: "wait"}, 10, nil},
	} {
		t.Run(tt.name, func(t *testing.T) {
			got := standingOf(tt.row, hub.Chair{Instrument: "trumpet_bb"}).on(tt.scale)
			if (got == nil) != (tt.want == nil) {
				t.Fatalf("mark %+v, need %+v", got, tt.want)
			}
			if got == nil {
				return
			}
			const tol = 0.06 // percent; places are rounded to a tenth
			if math.Abs(got.At-tt.want.At) > tol || math.Abs(got.Low-tt.want.Low) > tol || math.Abs(got.High-tt.want.High) > tol ||
				got.Go != tt.want.Go || got.Unheard != tt.want.Unheard || got.Over != tt.want.Over {
				t.Errorf("mark %+v, need %+v", *got, *tt.want)
			}
		})
	}
}

// TestMarkWithoutMove places a chair that is off but stays. The length of
// tube per cent is L ln 2 / 2400 on a two-legged slide, with L = c / (2 f1):
// 0.425 mm for a trumpet in B flat, 1.70 mm for a tuba in B flat, at
// c = 343.2 m/s (arithmetic; the resonances of a trumpet as multiples of
// 116.5 Hz: Wolfe, Music Acoustics, UNSW).
func TestMarkWithoutMove(t *testing.T) {
	for id, perCent := range map[instrument.ID]float64{"trumpet_bb": 0.425, "tuba_bbb": 1.70} {
		got := standingOf(show.ChairRow{Verdict: "out", Cents: ptr(-10), CI: ptr(2)}, hub.Chair{Instrument: id})
		if !got.known || got.moves {
			t.Fatalf("%s: %+v, need a place and no move", id, got)
		}
		const tol = 0.05 // relative; temperature and the settings of the catalogue
		if want := 10 * perCent; math.Abs(got.past-want) > tol*want {
			t.Errorf("%s, 10 cents flat, stands %.2f mm past the line, need %.2f", id, got.past, want)
		}
	}
}

// TestScale takes the smallest ruler that holds the farthest slide.
func TestScale(t *testing.T) {
	for past, want := range map[float64]float64{0: 10, 10: 10, -11: 20, 39: 40, 41: 80, 500: 80} {
		s := scaleFor([]standing{{known: true, past: past}, {known: true, past: 1}})
		if s.MM != want {
			t.Errorf("farthest slide %g mm: ruler of %g, need %g", past, s.MM, want)
		}
		if first, last := s.Ticks[0].At, s.Ticks[len(s.Ticks)-1].At; first+last != 100 {
			t.Errorf("ruler of %g: from %g to %g percent, need it even about 50", s.MM, first, last)
		}
	}
}

// TestWords checks large type and small print.
func TestWords(t *testing.T) {
	for d, want := range map[float64]string{0.5: "½", -1: "1", 1.6: "1½", 2.9: "3", -6.4: "6", 14.5: "14"} {
		if got := distance(d); got != want {
			t.Errorf("%g mm is written %q, need %q", d, got, want)
		}
	}
	for _, tt := range []struct {
		row  show.ChairRow
		want string
	}{
		{show.ChairRow{State: "absent", Verdict: "set", Cents: ptr(1)}, "absent"},
		{show.ChairRow{State: "turn", Verdict: "set", Cents: ptr(1)}, "plays now"},
		{show.ChairRow{State: "heard", Verdict: "set", Cents: ptr(1)}, "set"},
		{show.ChairRow{State: "heard", Verdict: "near", Cents: ptr(-7)}, "a little flat"},
		{show.ChairRow{State: "heard", Verdict: "out", Cents: ptr(17)}, "sharp"},
		{show.ChairRow{State: "heard", Verdict: "near", Cents: ptr(-6), Nature: -14}, "a little sharp"},
		{show.ChairRow{State: "unsettled", Verdict: "doubt"}, "in doubt"},
		{show.ChairRow{State: "away"}, "no laptop"},
		{show.ChairRow{State: "heard", Moved: true, Cents: ptr(14), Moves: moving(13, 19), Slides: moving(19, 19)}, "moved"},
		{show.ChairRow{State: "heard", Moved: true, Cents: ptr(14), Moves: hand(279, 289), Slides: hand(0, 0)}, "moved"},
	} {
		if got := newChair(tt.row, phrase.Tongue{}).Word; got != tt.want {
			t.Errorf("%+v: %q, need %q", tt.row, got, tt.want)
		}
	}
	half := newChair(show.ChairRow{State: "heard", Moved: true, Cents: ptr(14), CI: ptr(2), Moves: moving(13, 19), Slides: moving(16.2, 16.2)}, phrase.Tongue{})
	if fifth := newChair(show.ChairRow{State: "heard", Verdict: "set", Cents: ptr(-14), CI: ptr(2), Nature: -13.7}, phrase.Tongue{}); fifth.Small != "−14 ±2 cents, −14 by nature" {
		t.Errorf("a fifth partial: small print %q", fifth.Small)
	}
	if half.Small != "pulled 3 mm; was +14 ±2 cents" {
		t.Errorf("half a move: small print %q", half.Small)
	}
	if got := centsText(3, ptr(2.2), phrase.Tongue{}); got != "+3 ±3 cents" { // the player's page says "give or take 3"
		t.Errorf("got %q", got)
	}
	if got := centsText(-11.6, ptr(0.4), phrase.Tongue{}); got != "−12 ±1 cents" {
		t.Errorf("small print %q, need −12 ±1 cents", got)
	}
	for text, want := range map[string]string{
		"hub: no round is running; call a note first":                                 "No round is running; call a note first.",
		"command next: hub: no round is running":                                      "No round is running.",
		"command call: intonation: chord \"X\": no root A to G; write it as Bb major": "Chord \"X\": no root A to G; write it as Bb major.",
		"": "That did not work.",
	} {
		if got := plainSentence(text); got != want {
			t.Errorf("%q becomes %q, need %q", text, got, want)
		}
	}
}

// TestTones offers only notes of the chord, within the instrument's range.
func TestTones(t *testing.T) {
	r := show.Row{Round: &show.RoundRow{Chord: "B♭ major"}, Chairs: []show.ChairRow{{ID: 1, Note: 62, Concert: "D4"}}}
	s := hub.Section{Chairs: []hub.Chair{{ID: 1, Instrument: "trumpet_bb"}}}
	got := tonesOf(r, s, phrase.Tongue{})[1]
	if len(got) < 3 {
		t.Fatalf("%d tones for a trumpet, need several", len(got))
	}
	now := 0
	for _, c := range got {
		if class := pitch.Note(c.Note).Class(); class != 10 && class != 2 && class != 5 {
			t.Errorf("%s is no tone of B flat major", c.Note)
		}
		if c.Now {
			now++
		}
	}
	if now != 1 {
		t.Errorf("%d tones are the present one, need 1", now)
	}
	r.Round.Done = true
	if len(tonesOf(r, s, phrase.Tongue{})) != 0 {
		t.Error("tones are offered after the round")
	}
}

// TestBoardLeavesTheRow: laying out must not change the hub's own row, which
// is shared.
func TestBoardLeavesTheRow(t *testing.T) {
	row := show.Row{Section: show.SectionRow{Present: 1}, Chairs: []show.ChairRow{{ID: 1, Name: "Ada", Label: "Horn 1"}}}
	b := NewBoard(row, hub.Section{})
	b.HideNames()
	if row.Chairs[0].Name != "Ada" || b.Chairs[0].Name != "" {
		t.Errorf("row %q, board %q; need the name in the row alone", row.Chairs[0].Name, b.Chairs[0].Name)
	}
}

// TestHideNames leaves no name in any sentence, and no half of one.
func TestHideNames(t *testing.T) {
	row := show.Row{
		Say: "Žofie: pull the main slide 6 mm. Ada Lark plays written F4; Adagio follows.", CanUndo: "skipping Ada",
		Round: &show.RoundRow{Sentence: "Ada is 9 cents flat, (Ada Lark) is right."},
		Chairs: []show.ChairRow{
			{ID: 1, Name: "Ada", Label: "Horn 1", Words: "its microphone heard Žofie"},
			{ID: 2, Name: "Ada Lark", Label: "Horn 2"}, {ID: 3, Name: "Žofie", Label: "Trumpet 1"},
		},
	}
	b := NewBoard(row, hub.Section{})
	b.HideNames()
	for got, want := range map[string]string{
		b.Say:             "Trumpet 1: pull the main slide 6 mm. Horn 2 plays written F4; Adagio follows.",
		b.CanUndo:         "skipping Horn 1",
		b.Round.Sentence:  "Horn 1 is 9 cents flat, (Horn 2) is right.",
		b.Chairs[0].Words: "its microphone heard Trumpet 1",
	} {
		if got != want {
			t.Errorf("%q, need %q", got, want)
		}
	}
	if row.Round.Sentence != "Ada is 9 cents flat, (Ada Lark) is right." {
		t.Error("the hub's own row was changed")
	}
}

// TestBesides says nothing twice.
func TestBesides(t *testing.T) {
	for _, tt := range []struct{ say, common, sentence, want string }{
		{"Call a note to begin.", "", "", ""},
		{"Tuba first: push 14 mm.", "the section agrees within 7 cents", "", "The section agrees within 7 cents."},
		{"The section is 14 cents flat as one: leave the slides.", "the section is 14 cents flat as one",
			"The section is 14 cents flat as one: leave the slides. A at 438 Hz is within reach.", "A at 438 Hz is within reach."},
		{"All hold.", "the third is high", "The third is high. It beats twice a second.", "The third is high. It beats twice a second."},
	} {
		r := show.Row{Say: tt.say, Section: show.SectionRow{Common: tt.common}, Round: &show.RoundRow{Sentence: tt.sentence}}
		if got := besides(r); got != tt.want {
			t.Errorf("beside %q: %q, need %q", tt.say, got, tt.want)
		}
	}
}

func TestSpread(t *testing.T) {
	for _, c := range []struct {
		cents        float64
		beside, want string
	}{
		{1.2, "", "spread 1 cent"}, {0.4, "", "spread 0 cents"}, {16, "", "spread 16 cents"},
		{16, "The chairs differ by about 16 cents either way.", ""},
	} {
		if got := spreadOf(c.cents, c.beside, phrase.Tongue{}); got != c.want {
			t.Errorf("%g cents beside %q: %q, want %q", c.cents, c.beside, got, c.want)
		}
	}
}
