package slide

import (
	"math"
	"strings"
	"testing"

	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

func catalogue(t testing.TB, id instrument.ID) *instrument.Instrument {
	t.Helper()
	in, err := instrument.Find(id)
	if err != nil {
		t.Fatal(err)
	}
	return in
}

func noteOf(t testing.TB, s string) pitch.Note {
	t.Helper()
	n, err := pitch.ParseNote(s)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// heard is a settled reading x cents from the equal-tempered note.
func heard(n pitch.Note, x, ci pitch.Cents) Reading {
	return Reading{Hz: pitch.Reference{}.Frequency(n).Shift(x), CI95: ci, Settled: true, Level: -20}
}

// ask is an input for a note read x cents out.
func ask(t testing.TB, id instrument.ID, note string, x pitch.Cents, change ...func(*Input)) Input {
	t.Helper()
	n := noteOf(t, note)
	in := Input{Instrument: catalogue(t, id), Note: n, Reading: heard(n, x, 1.5)}
	for _, f := range change {
		f(&in)
	}
	return in
}

func main(mm float64) func(*Input) {
	return func(in *Input) { in.Settings = instrument.Settings{instrument.Main: mm} }
}

func path(p instrument.Path) func(*Input) { return func(in *Input) { in.Path = p } }

func chord(in *Input) { in.Purpose = Balance }

func TestAdviseMoves(t *testing.T) {
	for _, c := range []struct {
		name string
		in   Input
		id   instrument.SlideID
		mm   float64 // of travel, from s = (L/2)(2^(-x/1200) - 1), rounded
		code string
		want string
	}{
		{"sharp: pull", ask(t, "trumpet_bb", "Bb4", 14, main(12)), "main", 6, "move", "Pull the main slide 6 mm."},
		{"flat: push", ask(t, "trumpet_bb", "Bb4", -14, main(12)), "main", -6, "move", "Push in the main slide 6 mm."},
		{"a tuba moves further for the same cents", ask(t, "tuba_bbb", "Bb2", 10, main(25)), "main", 17, "move", "Pull the main slide 17 mm."},
		{"a shank moves twice as far", ask(t, "flugelhorn_bb", "Bb4", 10, main(5)), "main", 9, "move", "Pull the lead-pipe shank 9 mm."},
		{"a trombone's bell slide", ask(t, "tenor_trombone_bb", "Bb3", 10), "main", 9, "move", "Pull the bell slide 9 mm."},
		{"what is left before the end", ask(t, "trumpet_bb", "Bb4", 33, main(27)), "main", 8, "limit", "Pull the main slide 8 mm."},
		{"what is left before closed", ask(t, "trumpet_bb", "Bb4", -30, main(6)), "main", -6, "limit", "Push in the main slide 6 mm."},
		{"a sharp combination: its own slide", ask(t, "trumpet_bb", "C4", 25, path(instrument.Path{Valves: "1-3"})), "third", 14, "valve-slide", "Pull the third valve slide 14 mm."},
		{"1-2: the first valve slide", ask(t, "trumpet_bb", "D4", 12, path(instrument.Path{Valves: "1-2"})), "first", 6, "valve-slide", "Pull the first valve slide 6 mm."},
		{"the F attachment's own slide", ask(t, "tenor_trombone_bbf", "F2", 10), "f", 11, "move", "Pull the F-attachment slide 11 mm."},
		{"low C on the attachment", ask(t, "tenor_trombone_bbf", "C2", 24), "f", 36, "attachment-low", "Pull the F-attachment slide 36 mm."},
		{"a horn whose main slide is at its end", ask(t, "horn_double", "F4", 12, main(34)), "bb", 10, "move", "Pull the B♭ slide 10 mm."},
		{"chord: hand slide in", ask(t, "tenor_trombone_bb", "A3", -12, chord), "hand", -11, "balance", "Bring in the hand slide 11 mm."},
		{"chord: hand slide out", ask(t, "tenor_trombone_bb", "Bb3", 14, chord), "hand", 12, "balance", "Move out the hand slide 12 mm."},
		{"chord: third valve slide", ask(t, "trumpet_bb", "C4", 14, chord), "third", 8, "balance", "Pull the third valve slide 8 mm."},
	} {
		t.Run(c.name, func(t *testing.T) {
			a := Advise(c.in)
			if a.Kind != Move || len(a.Steps) != 1 {
				t.Fatalf("%+v, want one move", a)
			}
			st := a.Steps[0]
			if st.Slide != c.id || math.Abs(st.MM()-c.mm) > 1e-9 || a.Code != c.code || Say(a).Headline != c.want {
				t.Errorf("%s %+.3f mm, %q %q; want %s %+.0f mm, %q %q", st.Slide, st.MM(), a.Code, Say(a).Headline, c.id, c.mm, c.code, c.want)
			}
			if (st.MM() > 0) != (st.Expected < 0) {
				t.Errorf("%+.0f mm is expected to change %+.1f cents", st.MM(), float64(st.Expected))
			}
			if a.Code != "limit" && math.Abs(float64(st.Expected+a.Offset)) > 3 {
				t.Errorf("expected %+.1f cents for an offset of %+.1f", float64(st.Expected), float64(a.Offset))
			}
		})
	}
}

func TestAdviseLimitInWords(t *testing.T) {
	a := Advise(ask(t, "trumpet_bb", "Bb4", 33, main(27)))
	if Say(a).Detail != "14 mm are needed, 8 are left." {
		t.Errorf("says %q", Say(a).Detail)
	}
	st := a.Steps[0]
	if st.TravelMM-st.ToMM < 10 {
		t.Errorf("only %g mm stay engaged", st.TravelMM-st.ToMM)
	}
	if x := float64(st.Expected + st.ShortBy); math.Abs(x+33) > 1e-9 {
		t.Errorf("expected and short by add up to %.2f, want -33", x)
	}
	// A longer slide, once measured, has it all.
	long := Advise(ask(t, "trumpet_bb", "Bb4", 33, main(27), func(in *Input) { in.Travel = instrument.Settings{"main": 60} }))
	if long.Code != "move" || long.Steps[0].MM() != 14 {
		t.Errorf("with 60 mm of travel: %+v", long)
	}
}

func TestAdviseWithoutAMove(t *testing.T) {
	for _, c := range []struct {
		name string
		in   Input
		kind Kind
		code string
		want string // in any of the words
	}{
		{"in tune", ask(t, "trumpet_bb", "Bb4", 1), Stay, "in-band", "Leave the slides"},
		{"just within the dead band", ask(t, "trumpet_bb", "Bb4", 2.9), Stay, "in-band", ""},
		{"within the reading's own doubt", ask(t, "trumpet_bb", "Bb4", 7, func(in *Input) { in.Reading.CI95 = 11 }), Stay, "in-doubt", "doubt"},
		{"within a school's band", ask(t, "trumpet_bb", "Bb4", 7, func(in *Input) { in.Good = 10 }), Stay, "in-band", ""},
		{"closed and flat", ask(t, "trumpet_bb", "Bb4", -12, main(0)), Nothing, "limit", "Then play another note"},
		{"out and sharp", ask(t, "trumpet_bb", "Bb4", 12, main(35)), Nothing, "limit", "Measure once how far your main slide goes"},
		{"chord on an open note", ask(t, "trumpet_bb", "Bb4", 9, chord), Nothing, "nothing-moves", "Let the others come to it."},
		{"chord, horn sharp", ask(t, "horn_double", "F4", 9, chord), Finger, "bell", "Cover the bell"},
		{"chord, horn flat", ask(t, "horn_double", "F4", -9, chord), Finger, "bell", "Open the hand"},
		{"first position flat, slide closed", ask(t, "tenor_trombone_bb", "Bb3", -9, chord), Nothing, "slide-closed", "bell slide a little further in"},
		{"first position flat with an alternate", ask(t, "tenor_trombone_bb", "D4", -12, chord), Finger, "alternate", "Try 4th position instead of 1st position."},
		{"low B on the attachment", ask(t, "tenor_trombone_bbf", "B1", 55), Nothing, "attachment-low", "cents sharp"},
		{"low note without compensation", ask(t, "tuba_cc", "F1", 45), Nothing, "non-compensating", "the fingering, not your slide"},
		{"low note with a better fingering", ask(t, "tuba_cc", "E1", 55, path(instrument.Path{Valves: "1-2-4"})), Finger, "non-compensating", "Try 3-4 instead of 1-2-4."},
	} {
		t.Run(c.name, func(t *testing.T) {
			a := Advise(c.in)
			words := strings.Join([]string{Say(a).Headline, Say(a).Detail, Say(a).Next}, " ")
			if a.Kind != c.kind || a.Code != c.code || !strings.Contains(words, c.want) || len(a.Steps) != 0 {
				t.Errorf("%s %q %q, want %s %q %q and no move", a.Kind, a.Code, words, c.kind, c.code, c.want)
			}
		})
	}
}

func TestAdviseNamesAnotherNote(t *testing.T) {
	bb, f := instrument.Path{Side: "Bb"}, instrument.Path{Side: "F"}
	for _, c := range []struct {
		name  string
		in    Input
		code  string
		heard string
		want  string
	}{
		{"trumpet read the concert name", ask(t, "trumpet_bb", "Bb4", -200), "transposition", "Ab4", "your B♭4"},
		{"horn read the concert name", ask(t, "horn_f", "F4", -700), "transposition", "Bb3", "your F4"},
		{"alto horn read the concert name", ask(t, "tenor_horn_eb", "Bb3", -900), "transposition", "Db3", "your B♭3"},
		{"E flat bass read the concert name", ask(t, "bass_eb_tc", "Bb2", 300), "transposition", "Db3", ""},
		{"an octave", ask(t, "tenor_trombone_bb", "Bb3", -1205), "octave", "Bb2", "another octave"},
		{"F side for B flat side", ask(t, "horn_double", "F4", -498, path(bb)), "wrong-side", "C4", "other side of the horn"},
		{"B flat side for F side", ask(t, "horn_double", "C4", 502, path(f)), "wrong-side", "F4", "other side of the horn"},
		{"the partial above", ask(t, "tenor_trombone_bb", "Bb3", 386), "wrong-partial", "D4", "neighbouring partial"},
		{"61 cents are another note", ask(t, "tenor_trombone_bb", "Bb3", 61), "other-note", "B3", "another note"},
		{"three semitones out", ask(t, "tenor_trombone_bb", "Bb3", -295), "other-note", "G3", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			a := Advise(c.in)
			words := strings.Join([]string{Say(a).Headline, Say(a).Detail, Say(a).Next}, " ")
			if a.Kind != Note || a.Code != c.code || a.Heard != noteOf(t, c.heard) || !strings.Contains(words, c.want) || len(a.Steps) != 0 {
				t.Errorf("%s %q, heard %v, %q; want %q, %s, %q", a.Kind, a.Code, a.Heard, words, c.code, c.heard, c.want)
			}
		})
	}
	if a := Advise(ask(t, "tenor_trombone_bb", "Bb3", 59)); a.Kind == Note {
		t.Errorf("59 cents are answered with %+v", a)
	}
}

// Chord tones never touch a main slide, and no answer ever goes outside a
// slide's limits or speaks of lips as the remedy, whatever is read.
func TestAdviseAlways(t *testing.T) {
	for _, in := range instrument.Catalogue() {
		for n := in.Low; n <= in.High; n += 3 {
			for _, x := range []pitch.Cents{-60, -25, -8, 0, 8, 25, 60} {
				for _, purpose := range []Purpose{Tuning, Balance} {
					a := Advise(Input{Instrument: in, Note: n, Reading: heard(n, x, 2), Purpose: purpose})
					check(t, in, n, x, purpose, a)
				}
			}
		}
	}
}

func check(t *testing.T, in *instrument.Instrument, n pitch.Note, x pitch.Cents, purpose Purpose, a Advice) {
	t.Helper()
	words := strings.ToLower(Say(a).Headline + Say(a).Detail + Say(a).Next)
	if Say(a).Headline == "" || a.Code == "" || strings.Contains(words, "lip it") || strings.Contains(words, "lip up") || strings.Contains(words, "nan") {
		t.Errorf("%s %v %+.0f: %+v", in.ID, n, float64(x), a)
	}
	for _, st := range a.Steps {
		s, _ := in.Slide(st.Slide)
		lo, hi := Limits(s)
		if st.ToMM < lo-1e-9 || st.ToMM > hi+1e-9 && st.ToMM > st.FromMM {
			t.Errorf("%s %v %+.0f: %s to %g mm, limits %g to %g", in.ID, n, float64(x), st.Name, st.ToMM, lo, hi)
		}
		if purpose == Balance && st.Slide == instrument.Main {
			t.Errorf("%s %v %+.0f: a chord tone moves the main slide", in.ID, n, float64(x))
		}
		if mm := st.MM(); mm == 0 || math.Abs(mm-math.Round(mm)) > 1e-9 || (mm > 0) != (x > 0) {
			t.Errorf("%s %v %+.0f: moves %g mm", in.ID, n, float64(x), mm)
		}
	}
}

// What a player's own moves have taught changes the distance, not the sense.
func TestAdviseUsesWhatIsLearned(t *testing.T) {
	own := Advise(ask(t, "tuba_eb", "Bb2", 20, func(in *Input) { in.Learned = Learned{Ratio: 1.2, SD: 0.03} }))
	model := Advise(ask(t, "tuba_eb", "Bb2", 20))
	if r := own.Steps[0].MM() / model.Steps[0].MM(); math.Abs(r-1.2) > 0.03 {
		t.Errorf("moves %g mm instead of %g", own.Steps[0].MM(), model.Steps[0].MM())
	}
	if math.Abs(float64(own.Steps[0].Expected)+20) > 1 {
		t.Errorf("expects %+.1f cents", float64(own.Steps[0].Expected))
	}
}

// A reading is weighed with what earlier readings and moves lead to expect.
func TestAdviseWeighsThePrior(t *testing.T) {
	n := noteOf(t, "Bb4")
	prior := Belief{}.Read(1, heard(n, 1, 1.5)).Read(0, heard(n, 0, 1.5))
	if a := Advise(ask(t, "trumpet_bb", "Bb4", 5.5, func(in *Input) { in.Prior = prior })); a.Kind != Stay {
		t.Errorf("one reading of 5.5 cents after two of 1 and 0: %+v", a)
	}
	if a := Advise(ask(t, "trumpet_bb", "Bb4", 25, func(in *Input) { in.Prior = prior })); a.Kind != Move || a.Steps[0].MM() < 9 {
		t.Errorf("something has changed by 25 cents: %+v", a)
	}
}

func TestAdviseTargetsTheChord(t *testing.T) {
	in := ask(t, "tenor_trombone_bb", "D4", 0, chord, path(instrument.Path{Position: 4}))
	third := (pitch.Ratio{Num: 5, Den: 4}).Offset(4)
	in.Target = pitch.Reference{}.Frequency(in.Note).Shift(third)
	a := Advise(in)
	if a.Kind != Move || a.Steps[0].Slide != instrument.Hand || a.Steps[0].MM() < 12 {
		t.Errorf("a tempered third over a just target: %+v", a)
	}
}

func TestSmallPrint(t *testing.T) {
	for _, c := range []struct {
		x, ci pitch.Cents
		want  string
	}{
		{11.4, 1.6, "11 cents sharp, give or take 2"}, {-1, 2, "1 cent flat, give or take 2"}, {0.3, 1, "in tune, give or take 1 cent"},
	} {
		if got := (phrase.Tongue{}).Within(c.x, c.ci); got != c.want {
			t.Errorf("%v ± %v is %q, want %q", c.x, c.ci, got, c.want)
		}
	}
}

// One answer for each of 120 chairs.
func BenchmarkAdvise120(b *testing.B) {
	var ins []Input
	all := instrument.Catalogue()
	for i := range 120 {
		in := all[i%len(all)]
		n := in.TuningNote(10)
		ins = append(ins, Input{Instrument: in, Note: n, Reading: heard(n, pitch.Cents(i%40-20), 1.5)})
	}
	b.ReportAllocs()
	for b.Loop() {
		for _, in := range ins {
			_ = Advise(in)
		}
	}
}
