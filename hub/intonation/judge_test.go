package intonation_test

import (
	"math"
	"strings"
	"testing"

	"bellrow/hub/intonation"
	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

func mustFind(t testing.TB, id instrument.ID) *instrument.Instrument {
	t.Helper()
	in, err := instrument.Find(id)
	if err != nil {
		t.Fatal(err)
	}
	return in
}

// player is a seat of an invented group and how far off its target it plays.
type player struct {
	name  string
	in    instrument.ID
	note  string
	cents pitch.Cents
}

// question seats players and lets each sound its just target off by cents,
// with the whole group shifted.
func question(t testing.TB, chord string, shift pitch.Cents, players ...player) intonation.Question {
	q := intonation.Question{Chord: mustChord(t, chord), Tuning: intonation.Just, Anchor: intonation.AnchorConsensus, Good: 5, Watch: 10}
	tones := map[intonation.Chair]pitch.Note{}
	for i, p := range players {
		tones[intonation.Chair(i+1)] = mustNote(t, p.note)
	}
	aim := intonation.Targets(q.Chord, tones, q.Tuning, intonation.AnchorReference, nil, q.Reference)
	for i, p := range players {
		chair := intonation.Chair(i + 1)
		q.Seats = append(q.Seats, intonation.Seat{
			Chair: chair, Name: p.name, Note: tones[chair], Instrument: mustFind(t, p.in),
			Reading: &slide.Reading{Hz: aim.Targets[chair].Hz.Shift(shift + p.cents), CI95: 1.5, Level: -30, Settled: true},
		})
	}
	return q
}

func quintetPlayers(third, trumpet pitch.Cents) []player {
	return []player{
		{"tuba", "tuba_bbb", "Bb1", 0}, {"first trombone", "tenor_trombone_bb", "F3", 0},
		{"second trombone", "tenor_trombone_bb", "D3", third}, {"horn", "horn_f", "Bb3", 0},
		{"third trumpet", "trumpet_bb", "D4", trumpet}, {"first trumpet", "trumpet_bb", "F4", 0}, {"second trumpet", "trumpet_bb", "Bb4", 0},
	}
}

func TestJudgeSaysWhatIsWrong(t *testing.T) {
	tests := []struct {
		name  string
		chord string
		shift pitch.Cents
		in    []player
		want  string
	}{
		{"all right", "Bb major", 0, quintetPlayers(0, 0), "The chord rings."},
		{"flat as one still rings", "Bb major", -8, quintetPlayers(0, 0), "The chord rings, 8 cents flat as one."},
		// 12 cents in fourth position are 12.2 mm of hand slide: (L_p/2)(2^(12/1200)-1)
		// with L_p = 2.945 m · 2^(3/12), by the formula of UNSW and HyperPhysics for a tube of c/(2 f1).
		{"a trombone third", "Bb major", 0, quintetPlayers(12, 0), "One third is high: second trombone out 12 mm."},
		// 11 cents on 1-2 are 5.5 mm: L/2·(2^(11/1200)-1) with L = 1.472 m · 1.182.
		{"thirds high", "Bb major", 0, quintetPlayers(12, 11), "Thirds are high: second trombone out 12 mm, third trumpet first valve slide out 6 mm."},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			q := question(t, tt.chord, tt.shift, tt.in...)
			if tt.shift == 0 {
				q.Anchor = intonation.AnchorReference // so that millimetres are those of the formula
			}
			j := intonation.Judge(q)
			if !strings.HasPrefix(j.Sentence, tt.want) {
				t.Errorf("said %q, want %q", j.Sentence, tt.want)
			}
			if rings := strings.Contains(tt.want, "rings"); j.Rings != rings {
				t.Errorf("rings is %v, want %v", j.Rings, rings)
			}
			if j.Rings && len(j.Beats) > 0 {
				t.Errorf("a ringing chord beats: %+v", j.Beats)
			}
			t.Log(j.Sentence)
		})
	}
}

func TestJudgeSeats(t *testing.T) {
	j := intonation.Judge(question(t, "Bb major", 0, quintetPlayers(14, 0)...))
	s := j.Seats[2]
	if s.Verdict != intonation.Out || math.Abs(float64(s.Offset)-14) > 1.5 || !strings.HasPrefix(s.Words, "the third, 1") {
		t.Errorf("second trombone: %+v, want a third out by about 14 cents", s)
	}
	if s.Path.Position != 4 || len(s.Alternates) == 0 && len(mustFind(t, "tenor_trombone_bb").Paths(mustNote(t, "D3"))) > 1 {
		t.Errorf("second trombone in %s with alternates %v", s.Path, s.Alternates)
	}
	if s.Advice.Kind != slide.Move || s.Advice.Steps[0].Slide != instrument.Hand {
		t.Errorf("second trombone is told %+v, want the hand slide", s.Advice)
	}
	for _, other := range j.Seats {
		for _, st := range other.Advice.Steps {
			if st.Slide == instrument.Main {
				t.Errorf("chair %d is sent to the main slide in a chord", other.Chair)
			}
		}
	}
	if len(j.Beats) == 0 || j.Beats[0].Low != 3 && j.Beats[0].High != 3 {
		t.Errorf("beats %+v, want the second trombone in the first", j.Beats)
	}
}

func TestJudgeBeatsAtThePredictedRate(t *testing.T) {
	// A unison on B flat 3 with one chair 5 cents high beats at the difference
	// of the two: 233.08·(2^(5/1200)-1) = 0.674 Hz by arithmetic.
	q := question(t, "Bb major", 0, player{"a", "trumpet_bb", "Bb3", 0}, player{"b", "trumpet_bb", "Bb3", 5})
	q.Anchor = intonation.AnchorReference
	j := intonation.Judge(q)
	if len(j.Beats) != 1 || math.Abs(j.Beats[0].PerSecond-0.674) > 0.002 {
		t.Errorf("beats %+v, want one of 0.674 Hz", j.Beats)
	}
}

func TestJudgeIsHonestAboutOpenNotes(t *testing.T) {
	q := question(t, "Bb major", 0, quintetPlayers(0, 0)...)
	q.Anchor = intonation.AnchorReference
	q.Seats[6].Reading.Hz = q.Seats[6].Reading.Hz.Shift(14) // Bb4, written C5: open
	j := intonation.Judge(q)
	s := j.Seats[6]
	if s.Advice.Kind == slide.Move {
		t.Fatalf("an open note is told to move: %+v", s.Advice)
	}
	if s.Advice.Kind == slide.Nothing && len(s.Instead) == 0 {
		t.Error("nothing to move, and no alternative")
	}
	t.Log(j.Sentence, s.Instead)
	if !strings.Contains(j.Sentence, "second trumpet has nothing to move") && !strings.Contains(j.Sentence, "second trumpet try") {
		t.Errorf("said %q, want it to be honest about the second trumpet", j.Sentence)
	}
}

// TestJudgeSaysTheWayOut: what is wrong and what to do, in words a leader says.
func TestJudgeSaysTheWayOut(t *testing.T) {
	for _, tt := range []struct {
		name   string
		change func(q *intonation.Question)
		says   string
		not    string
	}{
		{"another note", func(q *intonation.Question) { off(q, 6, 100) }, "A wrong note: second trumpet sounds B4 in place of B♭4", "high"},
		{"two of them", func(q *intonation.Question) { off(q, 6, 100); off(q, 2, -100) }, "Wrong notes: ", "low"},
		{"all of it small", func(q *intonation.Question) { off(q, 2, 7) }, "One third is a little high: second trombone out 7 mm", ""},
		// B♭4, written C5, is open or 1-3 on the trumpet, and 1-3 has slides
		// (J. B. Arban, Grande méthode, 1864, fingering chart).
		{"an open note that is high", func(q *intonation.Question) { off(q, 6, 14) }, "second trumpet ", "second trumpet first valve"},
		// The hand slide in first position cannot go in.
		{"a first position that is flat", func(q *intonation.Question) { off(q, 1, -12) }, "first trombone ", "first trombone in"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			q := question(t, "Bb major", 0, quintetPlayers(0, 0)...)
			q.Anchor = intonation.AnchorReference
			tt.change(&q)
			j := intonation.Judge(q)
			t.Log(j.Sentence)
			if !strings.Contains(j.Sentence, tt.says) || tt.not != "" && strings.Contains(j.Sentence, tt.not) {
				t.Errorf("said %q, want %q and not %q", j.Sentence, tt.says, tt.not)
			}
		})
	}
}

// off moves what a seat was heard at.
func off(q *intonation.Question, seat int, cents pitch.Cents) {
	r := q.Seats[seat].Reading
	r.Hz = r.Hz.Shift(cents)
}

func TestJudgeDoesNotBelieveEverything(t *testing.T) {
	q := question(t, "Bb major", 0, quintetPlayers(0, 0)...)
	q.Seats[0].Reading = nil
	q.Seats[1].Reading.Settled, q.Seats[1].Reading.Reason = false, "vibrato"
	q.Seats[2].Reading.Overheard = true
	q.Seats[3].Reading.Hz = 0
	q.Seats[4].Reading.Hz = q.Seats[4].Reading.Hz.Shift(200)
	j := intonation.Judge(q)
	for i := range 4 {
		if j.Seats[i].Heard || j.Seats[i].Verdict != "" {
			t.Errorf("seat %d is judged by a reading that is not believed: %+v", i, j.Seats[i])
		}
	}
	if j.Seats[4].Verdict != intonation.Out {
		t.Errorf("a tone too high is %q, want out", j.Seats[4].Verdict)
	}
	if j.Rings || !strings.Contains(j.Sentence, "third trumpet") || !strings.Contains(j.Sentence, "still to be heard: tuba") {
		t.Errorf("said %q", j.Sentence)
	}
	if empty := intonation.Judge(intonation.Question{}); empty.Rings || empty.Sentence == "" {
		t.Errorf("no chord at all: %+v", empty)
	}
}

func TestJudgeStrangerIsNamed(t *testing.T) {
	q := question(t, "Bb major", 0, append(quintetPlayers(0, 0), player{"flugelhorn", "trumpet_bb", "E4", 0})...)
	j := intonation.Judge(q)
	if j.Rings || !strings.Contains(j.Sentence, "Not in the chord: flugelhorn") {
		t.Errorf("said %q, want the stranger named", j.Sentence)
	}
}

func TestJudgeWithAKeyboardStaysAtTheReference(t *testing.T) {
	q := question(t, "Bb major", -8, quintetPlayers(0, 0)...)
	q.Tuning = intonation.Keyboard
	j := intonation.Judge(q)
	if j.Aim.Shift != 0 || j.Rings {
		t.Errorf("shift %v, rings %v: 8 cents flat beside a keyboard is out", j.Aim.Shift, j.Rings)
	}
}

func BenchmarkJudgeTwelveChairs(b *testing.B) {
	in := []player{
		{"tuba", "tuba_bbb", "Bb1", 3}, {"euphonium", "euphonium_bb_bc", "Bb2", -7}, {"bass trombone", "bass_trombone_bb", "F2", 4},
		{"second trombone", "tenor_trombone_bb", "D3", 12}, {"first trombone", "tenor_trombone_bb", "F3", -3},
		{"horn 4", "horn_double", "Bb3", 9}, {"horn 3", "horn_double", "D4", 6}, {"horn 2", "horn_double", "F3", -2}, {"horn 1", "horn_double", "Bb3", 2},
		{"third trumpet", "trumpet_bb", "D4", 11}, {"second trumpet", "trumpet_bb", "F4", 1}, {"first trumpet", "trumpet_bb", "Bb4", 14},
	}
	for i := range in {
		if _, err := instrument.Find(in[i].in); err != nil {
			in[i].in = "horn_f"
		}
	}
	q := question(b, "Bb major", -6, in...)
	for b.Loop() {
		intonation.Judge(q)
	}
}
