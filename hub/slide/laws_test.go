package slide

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"regexp"
	"strings"
	"testing"

	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// longTravel lets every slide go as far as any answer asks.
func longTravel(in *instrument.Instrument) instrument.Settings {
	set := instrument.Settings{}
	for _, s := range in.Slides {
		if s.Legs > 0 && s.ID != instrument.Hand {
			set[s.ID] = 400
		}
	}
	return set
}

// Sharp and flat by the same amount are answered alike on a note that tells: the same
// slide the other way, and by the factor between 2^(x/1200)-1 and 1-2^(-x/1200)
// less far.
func TestMirror(t *testing.T) {
	for _, in := range instrument.Catalogue() {
		for _, n := range in.Telling() {
			set := instrument.Settings{instrument.Main: 150}
			for _, e := range []pitch.Cents{1, 4.5, 8, 20, 50} {
				answer := func(x pitch.Cents) Advice {
					return Advise(Input{Instrument: in, Note: n, Reading: heard(n, x, 1.5), Settings: set, Travel: longTravel(in)})
				}
				up, down := answer(e), answer(-e)
				if up.Kind != down.Kind || up.Code != down.Code {
					t.Errorf("%s %v: %g cents sharp %s %s, flat %s %s", in.ID, n, float64(e), up.Kind, up.Code, down.Kind, down.Code)
					continue
				}
				if up.Kind != Move {
					continue
				}
				out, inward := up.Steps[0].MM(), -down.Steps[0].MM()
				if d := out - inward*math.Exp2(float64(e)/1200); math.Abs(d) > 1 || inward <= 0 {
					t.Errorf("%s %v: %g cents are %g mm out and %g in", in.ID, n, float64(e), out, inward)
				}
			}
		}
	}
}

// Another reference shifts targets and readings alike: the answer is the same,
// and what was heard before it changed still counts.
func TestAnotherReference(t *testing.T) {
	for _, id := range []instrument.ID{"trumpet_bb", "horn_double", "tenor_trombone_bb", "tuba_cc"} {
		in := catalogue(t, id)
		for _, hz := range []pitch.Hertz{415, 438, 442.5, 446} {
			r := pitch.Reference{A4: hz}
			n := in.Telling()[0]
			for _, x := range []pitch.Cents{-30, -7, 2, 12} {
				here := Advise(Input{Instrument: in, Note: n, Target: r.Frequency(n), Reading: Reading{Hz: r.Frequency(n).Shift(x), CI95: 1.5, Settled: true}})
				plain := Advise(Input{Instrument: in, Note: n, Reading: heard(n, x, 1.5)})
				if Say(here).Headline != Say(plain).Headline || here.Code != plain.Code || math.Abs(float64(here.Offset-plain.Offset)) > 1e-6 {
					t.Errorf("%s at %g Hz: %q, at 440 %q", id, float64(hz), Say(here).Headline, Say(plain).Headline)
				}
			}
		}
		// In tune at 440, then A is 442: 7.85 cents flat of it (1200 log2 442/440).
		var m Memory
		n := in.Telling()[0]
		m.Answer(Input{Instrument: in, Note: n, Reading: heard(n, 0, 1.5)})
		other := in.Telling()[1]
		r := pitch.Reference{A4: 442}
		m.Answer(Input{Instrument: in, Note: other, Target: r.Frequency(other), Reading: heard(other, 0, 1.5)})
		if b := m.Belief(n); math.Abs(float64(b.Offset)+7.85) > 0.01 {
			t.Errorf("%s: in tune at 440 Hz is believed %+.2f cents off at 442", id, float64(b.Offset))
		}
	}
}

// Pull further, go flatter; and millimetres and cents are each other's inverse.
func TestLever(t *testing.T) {
	for _, in := range instrument.Catalogue() {
		for n := in.Low; n <= in.High; n += 5 {
			for _, p := range in.Paths(n) {
				for _, s := range in.Slides {
					for _, l := range []Learned{{}, {Ratio: 1.15, SD: 0.03}} {
						v := LeverOf(in, p, s.ID, nil, l)
						if v.Serves() != (in.Serves(s.ID, p) && s.Legs > 0) {
							t.Fatalf("%s %v: lever of the %s serves %v", in.ID, p, s.Name, v.Serves())
						}
						if !v.Serves() {
							continue
						}
						last := math.Inf(1)
						for mm := -10.0; mm <= 30; mm += 2.5 {
							x := v.Cents(mm)
							if float64(x) >= last || math.Abs(v.MM(x)-mm) > 1e-9 {
								t.Fatalf("%s %v: the %s by %g mm is %g cents after %g; back it is %g mm", in.ID, p, s.Name, mm, float64(x), last, v.MM(x))
							}
							last = float64(x)
						}
						if slope := (v.Cents(1e-4) - v.Cents(-1e-4)) / 2e-4; math.Abs(float64(slope-v.PerMM())) > 1e-6 {
							t.Fatalf("%s %v: slope %g, want %g", in.ID, p, float64(v.PerMM()), float64(slope))
						}
					}
				}
			}
		}
	}
}

// Theory is taken out exactly once: an instrument in which nothing is wrong but
// the main slide, by so many millimetres, is put right by as many, whatever
// notes were heard in whatever order, however flat or sharp they are by nature.
func TestTheoryGoesOutOnce(t *testing.T) {
	for _, in := range instrument.Catalogue() {
		var notes []pitch.Note
		for _, class := range []pitch.Note{10, 5, 9, 2, 0} {
			notes = append(notes, in.TuningNote(class))
		}
		usual := in.MM(nil, instrument.Main)
		for _, wrong := range []float64{-0.9 * usual, 8, 14} {
			at := instrument.Settings{instrument.Main: usual + wrong} // in tune by nature at its usual place
			for first := range notes {
				var m Memory
				var last Advice
				for k := range notes {
					n := notes[(first+k)%len(notes)]
					p := in.Paths(n)[0]
					last, _ = m.Answer(Input{Instrument: in, Note: n, Travel: longTravel(in), Settings: at,
						Reading: Reading{Hz: in.Pitch(p, at, instrument.Air{}), CI95: 1, Settled: true}})
				}
				mm := 0.0
				if len(last.Steps) > 0 && last.Steps[0].Slide == instrument.Main {
					mm = last.Steps[0].MM()
				}
				v := LeverOf(in, last.Facts.Path, instrument.Main, at, Learned{})
				left := math.Abs(float64(v.Cents(mm) - v.Cents(-wrong)))
				// What the band allows may be left, and what is moved is right to the dead
				// band and half a millimetre.
				most := float64(DefaultGood)
				if mm != 0 {
					most = float64(DeadBand) + 0.5*math.Abs(float64(v.PerMM()))
				}
				if last.Code != "valve-slide" && last.Code != "by-ear" && left > most {
					t.Errorf("%s, %g mm wrong, ending with %v: moves %+g mm, %q", in.ID, wrong, notes[(first+len(notes)-1)%len(notes)], mm, last.Code)
				}
			}
		}
	}
}

// A perfect instrument is left alone, whatever is called: theory blames nobody.
func TestAPerfectInstrumentIsLeftAlone(t *testing.T) {
	for _, in := range instrument.Catalogue() {
		var m Memory
		for class := range pitch.Note(12) {
			n := in.TuningNote(class)
			p := in.Paths(n)[0]
			for _, a := range []Advice{
				Advise(Input{Instrument: in, Note: n, Reading: heard(n, in.Tendency(p), 1.5)}),
				first(m.Answer(Input{Instrument: in, Note: n, Reading: heard(n, in.Tendency(p), 1.5)})),
			} {
				for _, st := range a.Steps {
					if st.Slide != instrument.First && st.Slide != instrument.Third {
						t.Errorf("%s in tune, called %v: %s", in.ID, n, Say(a).Headline)
					}
				}
			}
		}
	}
}

func first(a Advice, _ *Follow) Advice { return a }

// One note that does not tell never moves a main slide, however far it is out.
func TestOneNoteThatDoesNotTell(t *testing.T) {
	for k, in := range instrument.Catalogue() {
		for n := in.Low + pitch.Note(k%2); n <= in.High; n += 2 {
			for _, p := range in.Paths(n) {
				if in.Tells(p) {
					continue
				}
				for _, x := range []pitch.Cents{-55, -20, -7, 7, 20, 55} {
					a := Advise(Input{Instrument: in, Note: n, Path: p, Reading: heard(n, x, 1.5)})
					for _, st := range a.Steps {
						s, _ := in.Slide(st.Slide)
						if !s.WhilePlaying && a.Code != "attachment-low" {
							t.Errorf("%s %v with %v, %+g cents: %s", in.ID, n, p, float64(x), Say(a).Headline)
						}
					}
				}
			}
		}
	}
}

// What several notes say does not depend on their order, and a note that says
// nothing new changes little: its theory has its doubt.
func TestPool(t *testing.T) {
	in := catalogue(t, "trumpet_bb")
	known := func(name string, x pitch.Cents) Known {
		n := noteOf(t, name)
		return Known{n, in.Paths(n)[0], Belief{}.Read(x, heard(n, x, 1.5))}
	}
	a, b, c, d := known("Bb4", 9), known("F4", 14), known("A4", 10), known("D5", -14)
	for _, other := range [][]Known{{a, c, b}, {a, b, c}} {
		if x, y := pool(in, nil, a.Path, other), pool(in, nil, a.Path, []Known{a, b, c}); math.Abs(float64(x.Offset-y.Offset)) > 1e-3 || math.Abs(x.SD-y.SD) > 1e-3 {
			t.Errorf("%+v and %+v", x, y)
		}
	}
	three, four := pool(in, nil, a.Path, []Known{a, b, c}), pool(in, nil, a.Path, []Known{a, b, c, d})
	// D was read as if nothing were wrong: 10.4 cents of doubt against the others' 5.
	if move := float64(three.Offset - four.Offset); move < 0.3 || move > 2.5 {
		t.Errorf("%+v with three notes, %+v with a D that disagrees", three, four)
	}
	if p := pool(in, nil, d.Path, []Known{d, known("D4", 14)}); p.tells {
		t.Errorf("two notes that do not tell tell %+v", p)
	}
	if p := pool(in, nil, d.Path, []Known{d}); p.tells || math.Abs(float64(p.Offset)+0.3) > 0.1 {
		t.Errorf("one fifth partial: %+v, want -0.3 that does not tell", p)
	}
	if p := pool(in, nil, a.Path, nil); p.notes != 0 || p.tells {
		t.Errorf("nothing says %+v", p)
	}
}

// All sentences come from the facts and from nothing else, are whole, count
// rightly, accuse nobody and never send pitch to the lips.
func TestSay(t *testing.T) {
	said, tongues := map[string]bool{}, map[string]bool{}
	for k, in := range instrument.Catalogue() {
		for n := in.Low + pitch.Note(k%3); n <= in.High; n += 3 {
			for _, p := range append(in.Paths(n), instrument.Path{}) {
				for j, x := range []pitch.Cents{-200, -33, -7, 0, 4, 12, 62, 700} {
					if (j+k+int(n)/3)%3 > 0 {
						continue // each with every third note
					}
					for _, purpose := range []Purpose{Tuning, Balance} {
						for i, change := range []func(*Input){
							func(*Input) {}, func(in *Input) { in.Reading.CI95 = 12 }, func(in *Input) { in.Mute = Cup }, func(in *Input) { in.Mute = Stopped },
							func(in *Input) { in.Settings = instrument.Settings{"main": 0, "third": 0} },
						} {
							if i > 0 && n%2 != 0 {
								continue
							}
							q := Input{Instrument: in, Note: n, Path: p, Reading: heard(n, x, 1.5), Purpose: purpose}
							change(&q)
							a := Advise(q)
							said[string(a.Kind)+"/"+a.Code] = true
							if form := fmt.Sprint(a.Kind, a.Code, in.Transposition, q.Mute, p.Side, x > 0); !tongues[form] {
								tongues[form] = true // its other figures make no other sentence
								wrongTongue(t, a)
							}
							if bad := wrongWords(a); bad != "" {
								t.Fatalf("%s %v %v %+g cents: %s: %q %q %q", in.ID, n, p, float64(x), bad, Say(a).Headline, Say(a).Detail, Say(a).Next)
							}
						}
					}
				}
			}
		}
	}
	if len(said) < 25 {
		t.Errorf("only %d kinds of answer: %v", len(said), said)
	}
}

// keyed is a key in place of its text.
var keyed = regexp.MustCompile(`\b(again|finger|measure|move|note|nothing|number|path|rest|slide|stay|tells|unit)\.[a-z]`)

// wrongTongue checks that an answer is said in every language, whole.
func wrongTongue(t *testing.T, a Advice) {
	for _, l := range phrase.Player.Offered() {
		w := SayIn(phrase.Player.In(l.Tag, pitch.Style{}), a)
		english := Say(a)
		for part, s := range map[string][2]string{"headline": {w.Headline, english.Headline}, "detail": {w.Detail, english.Detail}, "next": {w.Next, english.Next}, "small": {w.Small, english.Small}} {
			if (s[0] == "") != (s[1] == "") || strings.Contains(s[0], "%") || strings.Contains(s[0], "  ") || keyed.MatchString(s[0]) {
				t.Fatalf("%s: the %s of %s/%s is %q, in English %q", l.Tag, part, a.Kind, a.Code, s[0], s[1])
			}
		}
	}
}

func wrongWords(a Advice) string {
	w := Say(a)
	data, err := json.Marshal(a)
	if err != nil {
		return err.Error()
	}
	var kept Advice
	if err := json.Unmarshal(data, &kept); err != nil || Say(kept) != w {
		return "once stored it says " + Say(kept).Headline
	}
	all := strings.ToLower(strings.Join([]string{w.Headline, w.Detail, w.Next, w.Small}, "\n"))
	for _, s := range []string{w.Headline, w.Detail, w.Next} {
		if s != "" && (!strings.ContainsAny(s[len(s)-1:], ".?!") || strings.ToUpper(s[:1]) != s[:1]) {
			return "no whole sentence"
		}
	}
	if w.Headline == "" {
		return "nothing is said"
	}
	for _, bad := range []string{"%!", "nan", "inf", "1 notes", " 1 are", "slide 0 mm", "\n0 mm are", "all, 0 are", "  ", "..", "lip it", "lip up", "you pinch", "your fault", "<nil>", "in tune flat"} {
		if strings.Contains(all, bad) {
			return fmt.Sprintf("holds %q", bad)
		}
	}
	return ""
}

// Whatever comes in, figures stay figures, moves are whole millimetres within
// reach, and every answer says something.
func TestAnythingComesIn(t *testing.T) {
	r := rand.New(rand.NewPCG(21, 22))
	all := instrument.Catalogue()
	odd := []float64{0, -1, 1, 3, 12, 60, 200, 1e6, -1e6, math.NaN(), math.Inf(1), math.Inf(-1)}
	pick := func() float64 {
		if r.IntN(4) > 0 {
			return 40 * r.NormFloat64()
		}
		return odd[r.IntN(len(odd))]
	}
	for range 8000 {
		in := all[r.IntN(len(all))]
		n := in.Low + pitch.Note(r.IntN(int(in.High-in.Low)+1))
		q := Input{Instrument: in, Note: n, Reading: heard(n, pitch.Cents(pick()), pitch.Cents(math.Abs(pick())))}
		q.Reading.Vibrato, q.Reading.Drift, q.Reading.Early = pitch.Cents(pick()), pick(), pitch.Cents(pick())
		q.Reading.Settled, q.Reading.Reason = r.IntN(4) > 0, []string{"", "wide", "vibrato", "moving"}[r.IntN(4)]
		q.Settings = instrument.Settings{instrument.Main: math.Abs(pick()), instrument.Hand: math.Abs(pick())}
		q.Travel = instrument.Settings{instrument.Main: pick()}
		q.Mute, q.Played, q.Good = Mutes[r.IntN(len(Mutes))], pick(), pitch.Cents(pick())
		q.Purpose = []Purpose{Tuning, Balance}[r.IntN(2)]
		other := in.Telling()[0]
		q.Others = []Known{{other, in.Paths(other)[0], Belief{pitch.Cents(pick()), pick()}}}
		a := Advise(q)
		text, err := json.Marshal(a)
		if err != nil {
			t.Fatalf("%+v: %v", q, err)
		}
		if bad := wrongWords(a); bad != "" || strings.Contains(string(text), "null") {
			t.Fatalf("%+v\n%s: %s", q, bad, text)
		}
		for _, st := range a.Steps {
			if mm := st.MM(); mm == 0 || math.Abs(mm-math.Round(mm)) > 1e-6 {
				t.Fatalf("%+v\nmoves %g mm", q, mm)
			}
		}
	}
}
