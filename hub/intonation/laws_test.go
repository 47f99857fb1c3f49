package intonation

import (
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// The simple ratio of an interval lies within a fifth of a semitone of the tempered one, and that of
// what is left to the octave is two over it.
func TestSimpleRatios(t *testing.T) {
	for semitones, r := range generic {
		if (r.Num == 0) != slices.Contains([]int{1, 2, 6, 10, 11}, semitones) {
			t.Errorf("%d semitones: %v", semitones, r)
		}
		if r.Num == 0 {
			continue
		}
		if d := 1200*math.Log2(float64(r.Num)/float64(r.Den)) - float64(100*semitones); math.Abs(d) > 20 {
			t.Errorf("%d semitones are %v, %.1f cents away", semitones, r, d)
		}
		if rest := generic[(12-semitones)%12]; semitones > 0 && (rest.Num != reduce(pitch.Ratio{Num: 2 * r.Den, Den: r.Num}).Num || rest.Den != reduce(pitch.Ratio{Num: 2 * r.Den, Den: r.Num}).Den) {
			t.Errorf("%d semitones are %v, the rest of the octave %v", semitones, r, rest)
		}
	}
}

// The faster a pair beats, the rougher it is called, and each rate is told in its own words.
func TestBeatsInWords(t *testing.T) {
	last := 0
	order := []BeatCode{BeatStill, BeatSlow, BeatCounted, BeatFast, BeatRough}
	for rate := 0.0; rate < 20; rate += 0.05 {
		k := slices.Index(order, beatCode(rate))
		if k < last {
			t.Fatalf("%g a second is called %s after %s", rate, order[k], order[last])
		}
		last = k
	}
	for rate, want := range map[float64]string{
		0: "rings", 0.29: "rings", 0.31: "rolls slowly, once in about 3 seconds", 1.1: "rolls slowly, once in about a second", 1.3: "beats about once a second", 1.6: "beats about 2 times a second",
		3.9: "beats about 4 times a second", 4.1: "beats fast, about 4 times a second", 11.9: "beats fast, about 12 times a second", 12.1: "is rough, too fast to count",
	} {
		if got := (Beat{PerSecond: rate, Code: beatCode(rate)}).words(); got != want {
			t.Errorf("%g a second %q, want %q", rate, got, want)
		}
	}
	q := Question{Chord: mustChord(t, "C major"), Seats: []Seat{{Chair: 1, Note: 48}, {Chair: 2, Note: 55}}}
	for i := range q.Seats {
		s := &q.Seats[i]
		s.Reading = &slide.Reading{Hz: pitch.Reference{}.Frequency(s.Note).Shift(pitch.Cents(12 * i)), CI95: 1, Settled: true}
	}
	beats := Judge(q).Beats
	if len(beats) != 1 || beats[0].Words != beats[0].words() || beats[0].Words == "" {
		t.Errorf("%+v", beats)
	}
}

func mustChord(t *testing.T, s string) Chord {
	t.Helper()
	c, err := ParseChord(s)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// What is said of sharp is said of flat the other way round.
func TestWordsMirror(t *testing.T) {
	opposite := strings.NewReplacer("high", "low", "low", "high", "sharp", "flat", "flat", "sharp", "more", "less", "less", "more")
	y := phrase.Tongue{}
	for _, c := range []Clause{
		{Code: ClauseTone, Tone: "third", Out: 1, Of: 1}, {Code: ClauseTone, Tone: "third", Out: 1, Of: 2}, {Code: ClauseTone, Tone: "root", Out: 2, Of: 3, Little: true},
		{Code: ClauseTone, Tone: "fifth", Out: 1, Of: 1, Little: true, Actions: []Action{{Name: "Ada", Code: ActBell}}},
		{Code: ClauseTone, Tone: "fifth", Out: 1, Of: 1, Actions: []Action{{Name: "Ada", Code: ActOff, Cents: -11}}},
	} {
		down, up := c, c
		up.High = true
		up.Actions = slices.Clone(c.Actions)
		for i := range up.Actions {
			up.Actions[i].High, up.Actions[i].Cents = true, -up.Actions[i].Cents
		}
		if a, b := up.words(y), opposite.Replace(down.words(y)); a != b || a == down.words(y) {
			t.Errorf("%q and %q", a, b)
		}
	}
	for _, x := range []pitch.Cents{5, 14.4} {
		for _, code := range []ClauseCode{ClauseRings, ClauseTempered, ClauseSoFar} {
			up, down := (Clause{Code: code, Shift: x}).words(y), (Clause{Code: code, Shift: -x}).words(y)
			if up != opposite.Replace(down) || up == down || (Clause{Code: code}).words(y)+", "+x.Off()+" as one" != up {
				t.Errorf("%q and %q", up, down)
			}
		}
		for _, code := range []TogetherCode{TogetherAsOne, TogetherAbout} {
			up, down := (Together{Code: code, Offset: x, Spread: 4}).Say(y), (Together{Code: code, Offset: -x, Spread: 4}).Say(y)
			if up != opposite.Replace(down) || up == down {
				t.Errorf("%q and %q", up, down)
			}
		}
		if up, down := place(y, x), place(y, -x); up != opposite.Replace(down) || up == down {
			t.Errorf("%q and %q", up, down)
		}
	}
	out := stepWords(y, []slide.Step{{Slide: instrument.Hand, ToMM: 12}, {Slide: instrument.Third, Name: "third valve slide", FromMM: 2, ToMM: 9, ShortBy: -3}})
	in := stepWords(y, []slide.Step{{Slide: instrument.Hand, FromMM: 12}, {Slide: instrument.Third, Name: "third valve slide", FromMM: 9, ToMM: 2, ShortBy: 3}})
	if out != "out 12 mm and third valve slide out 7 mm, as far as it goes" || in != strings.ReplaceAll(out, "out", "in") {
		t.Errorf("%q and %q", out, in)
	}
	for h, other := range map[Hint]Hint{MuchSofter: MuchStronger, Softer: Stronger} {
		if a, b := h.Say(y), strings.Replace(other.Say(y), "stronger", "softer", 1); a != b || a == "" {
			t.Errorf("%q and %q", a, b)
		}
	}
}

// Each clause, action and plan in its sentence.
func TestSentences(t *testing.T) {
	y := phrase.Tongue{}
	c := mustChord(t, "C major")
	for want, got := range map[string]string{
		"nothing has been heard yet that can be judged": Clause{Code: ClauseSilent}.words(y),
		"the chord rings":                             Clause{Code: ClauseRings}.words(y),
		"every tone is in its tempered place":         Clause{Code: ClauseTempered}.words(y),
		"every tone heard so far is where it belongs": Clause{Code: ClauseSoFar}.words(y),
		"still to be heard: a, b, c":                  Clause{Code: ClauseWaiting, Names: []string{"a", "b", "c"}}.words(y),
		"still to be heard: a, b, c and 2 more":       Clause{Code: ClauseWaiting, Names: []string{"a", "b", "c", "d", "e"}}.words(y),
		"not in the chord: a on D4":                   Clause{Code: ClauseStranger, Out: 1, Actions: []Action{{Name: "a", Code: ActOn, Note: c.Spell(62)}}}.words(y),
		"a wrong note: a sounds D4 in place of C4":    Clause{Code: ClauseWrong, Out: 1, Actions: []Action{{Name: "a", Code: ActSounds, Note: c.Spell(60), Heard: c.Spell(62)}}}.words(y),
		"wrong notes: a try 1-3, and 2 more":          Clause{Code: ClauseWrong, Out: 3, Actions: []Action{{Name: "a", Code: ActTry, Path: instrument.Path{Valves: "13"}}}, More: 2}.words(y),
		"thirds are high: a has nothing to move":      Clause{Code: ClauseTone, Tone: "third", Out: 2, Of: 2, High: true, Actions: []Action{{Name: "a", Code: ActResort}}}.words(y),
		"has nothing to move, let Bo take C4":         Resort{Code: ResortSwap, Name: "Bo", Note: c.Spell(60)}.short(y),
		"in place":                                    place(y, 0.4),
		"Set for the piece, 3.0 cents remain instead of 5.5 after tuning on one note.":         Plan{Code: PlanGains, RMS: 3, OneNoteRMS: 5.5}.words(),
		"Tuning on one note already serves this piece: 3.0 cents remain.":                      Plan{Code: PlanServes, RMS: 3, OneNoteRMS: 3}.words(),
		"the section agrees with the reference":                                                Together{Code: TogetherAgrees}.Say(y),
		"the section is right on the whole, but the chairs differ by about 9 cents either way": Together{Code: TogetherApart, Spread: 9}.Say(y),
		"no known chord fits what was heard":                                                   Say(nil, pitch.English),
		"C major":                                                                              Say([]Candidate{{Chord: c}}, pitch.English),
		"could be C major or C major":                                                          Say([]Candidate{{Chord: c}, {Chord: c}}, pitch.English),
		"could be C major; C major or C major":                                                 Say([]Candidate{{Chord: c}, {Chord: c}, {Chord: c}}, pitch.English),
	} {
		if got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	if got := (Judgement{Facts: []Clause{{Code: ClauseRings}, {Code: ClauseWaiting, Names: []string{"a"}}}}).SayIn(y); got != "The chord rings; still to be heard: a." {
		t.Errorf("%q", got)
	}
}

// What a section has in common goes along with the section, the other way round with its mirror, does
// not care for the order of its chairs, and is not moved by what is no figure.
func TestCommonLaws(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 9))
	for range 200 {
		var all []Offset
		for range 1 + r.IntN(9) {
			all = append(all, Offset{pitch.Cents(6 + one(r, 1.0, 5, 20)*r.NormFloat64()), one[pitch.Cents](r, 0.5, 2, 6)})
		}
		with := func(change func(Offset) Offset) Together {
			var xs []Offset
			for _, o := range all {
				xs = append(xs, change(o))
			}
			return Common(xs, 5)
		}
		near := func(a, b pitch.Cents) bool { return math.Abs(float64(a-b)) < 5e-3 }
		is := with(func(o Offset) Offset { return o })
		up := with(func(o Offset) Offset { return Offset{o.Cents + 31, o.CI95} })
		down := with(func(o Offset) Offset { return Offset{-o.Cents, o.CI95} })
		if !near(up.Offset, is.Offset+31) || !near(up.Spread, is.Spread) || !near(up.CI95, is.CI95) || up.Chairs != is.Chairs {
			t.Errorf("%v: %+v, all 31 higher %+v", all, is, up)
		}
		if !near(down.Offset, -is.Offset) || !near(down.Spread, is.Spread) || down.AsOne != is.AsOne || down.Code != is.Code {
			t.Errorf("%v: %+v, mirrored %+v", all, is, down)
		}
		twice := Common(append(slices.Clone(all), all...), 5)
		if twice.Chairs != 2*is.Chairs || len(all) > 2 && math.Abs(float64(twice.CI95)*math.Sqrt2-float64(is.CI95)) > 0.01+0.1*float64(is.CI95) {
			t.Errorf("%v: known to %g, twice as many to %g", all, float64(is.CI95), float64(twice.CI95))
		}
		given := slices.Clone(all)
		odd := append(slices.Clone(all), Offset{pitch.Cents(math.NaN()), 1}, Offset{pitch.Cents(math.Inf(1)), 1}, Offset{1, pitch.Cents(math.NaN())}, Offset{1, pitch.Cents(math.Inf(-1))}, Offset{pitch.Cents(math.Inf(-1)), 1})
		if got := Common(odd, 5); !near(got.Offset, is.Offset) || got.Chairs != is.Chairs {
			t.Errorf("%v: %+v, with what is no figure %+v", all, is, got)
		}
		slices.Reverse(all)
		if got := Common(all, 5); !near(got.Offset, is.Offset) || !near(got.Spread, is.Spread) {
			t.Errorf("%v: %+v, in the other order %+v", given, is, got)
		}
	}
	agree := []Offset{{6, 1}, {7, 1}, {5, 1}, {6, 1}}
	if a, b := Common(agree, 0), Common(agree, DefaultGood); a != b {
		t.Errorf("without a band %+v, with the usual one %+v", a, b)
	}
}

// The fewest chairs that are a section, and nothing said of fewer.
func TestCommonOfFew(t *testing.T) {
	for n := range 5 {
		x := Common(slices.Repeat([]Offset{{12, 1}}, n), 5)
		if x.Chairs != n || (x.Code != "") != (n >= MinCommon) || (x.Words != "") != (n >= MinCommon) || x.AsOne != (n >= MinCommon) || n > 0 && math.Abs(float64(x.Offset)-12) > 1e-9 {
			t.Errorf("%d chairs: %+v", n, x)
		}
	}
	// Chairs that agree and whose intervals are alike: n centres, each of a variance that is
	// half of its interval's.
	if x := Common(slices.Repeat([]Offset{{12, 3}}, 8), 5); math.Abs(float64(x.CI95)-3/math.Sqrt(2*8)) > 1e-9 {
		t.Errorf("eight chairs that agree: %+v", x)
	}
	if x := Common([]Offset{{10, 1}, {20, 1}}, 5); math.Abs(float64(x.Offset)-15) > 1e-9 {
		t.Errorf("two chairs: %+v", x)
	}
}

// The plan for a piece depends on what is told apart and not on how it is written down: the order of
// chords, a chord in two halves, all weights twice, chords of no weight; another A shifts all alike
// with the players.
func TestPlanLaws(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 4))
	for range 12 {
		var players []Player
		for i, id := range []instrument.ID{"trumpet_bb", "tenor_trombone_bbf", "horn_double", "tuba_cc"} {
			in := find(t, id)
			players = append(players, Player{Name: fmt.Sprint(i), Instrument: in, Settings: instrument.Settings{instrument.Main: 20}, Travel: instrument.Settings{instrument.Main: 60}, Offset: pitch.Cents(8 * r.NormFloat64()), OneNote: in.TuningNote(10)})
		}
		var chords []HeldChord
		for bar := range 8 {
			h := HeldChord{Bar: bar, Weight: one(r, 1.0, 2, 4)}
			for i, p := range players {
				h.Tones = append(h.Tones, HeldTone{i, p.OneNote + pitch.Note(r.IntN(11)-3), one[pitch.Cents](r, 0, -13.7, 2)})
			}
			chords = append(chords, h)
		}
		plan := func(players []Player, chords []HeldChord) Plan {
			p, err := Compromise(players, chords, 3, false)
			if err != nil {
				t.Fatal(err)
			}
			return p
		}
		is := plan(players, chords)
		same := func(name string, other Plan) {
			t.Helper()
			if math.Abs(other.RMS-is.RMS) > 1e-3 || math.Abs(other.OneNoteRMS-is.OneNoteRMS) > 1e-3 {
				t.Errorf("%s: %.4f of %.4f cents remain, otherwise %.4f of %.4f", name, is.RMS, is.OneNoteRMS, other.RMS, other.OneNoteRMS)
			}
			for i := range is.Players {
				if other.Players[i].MainMM != is.Players[i].MainMM || other.Players[i].OneNoteMM != is.Players[i].OneNoteMM {
					t.Errorf("%s: player %d stands at %g, otherwise %g", name, i, is.Players[i].MainMM, other.Players[i].MainMM)
				}
			}
		}
		if is.RMS > is.OneNoteRMS {
			t.Errorf("%.3f cents remain, %.3f after one note", is.RMS, is.OneNoteRMS)
		}
		turned := slices.Clone(chords)
		slices.Reverse(turned)
		same("backwards", plan(players, turned))
		var halves, heavy []HeldChord
		for _, c := range chords {
			double := c
			double.Weight *= 2
			heavy = append(heavy, double)
			c.Weight /= 2
			halves = append(halves, c, c)
		}
		same("in halves", plan(players, halves))
		same("twice the weight", plan(players, heavy))
		same("with chords of no weight", plan(players, append(slices.Clone(chords), HeldChord{Bar: 99, Tones: chords[0].Tones}, HeldChord{Bar: 98, Weight: -1, Tones: chords[1].Tones}, HeldChord{Bar: 97, Weight: math.Inf(1), Tones: chords[2].Tones})))
		for i, p := range is.Players {
			if p.MainMM != math.Round(p.MainMM) || p.FromMM != 20 || p.TravelMM != 60 {
				t.Errorf("player %d: %+v", i, p)
			}
		}
		for k, h := range is.Hurts {
			if math.Abs(float64(h.Left)) <= 3 || k > 0 && h.gravity() > is.Hurts[k-1].gravity() {
				t.Errorf("hurt %d: %+v", k, h)
			}
		}
	}
	in := find(t, "trumpet_bb")
	for _, player := range []int{-1, 1} {
		if _, err := Compromise([]Player{{Name: "a", Instrument: in}}, []HeldChord{{Weight: 1, Tones: []HeldTone{{player, 70, 0}}}}, 3, false); err == nil {
			t.Errorf("player %d of one plays", player)
		}
	}
	ch := []HeldChord{{Weight: 1, Tones: []HeldTone{{0, 70, 0}, {0, 74, 9}}}}
	a, _ := Compromise([]Player{{Name: "a", Instrument: in, OneNote: 70}}, ch, 0, true)
	if b, _ := Compromise([]Player{{Name: "a", Instrument: in, OneNote: 70}}, ch, DefaultGood, true); !reflect.DeepEqual(a, b) {
		t.Errorf("without a band %+v, with the usual one %+v", a, b)
	}
}

// A chord rings when everybody was heard and is set, be it one chair or many, and not when one is out,
// was not heard, or plays no tone of it.
func TestRings(t *testing.T) {
	c := mustChord(t, "Bb major")
	names := []pitch.Note{46, 53, 58, 62}
	for n := range len(names) + 1 {
		q := Question{Chord: c, Tuning: Equal}
		for i := range n {
			q.Seats = append(q.Seats, Seat{Chair: Chair(i + 1), Name: fmt.Sprint(i), Note: names[i], Reading: &slide.Reading{Hz: pitch.Reference{}.Frequency(names[i]), CI95: 0.5, Settled: true, Level: -20}})
		}
		if j := Judge(q); j.Rings != (n > 0) {
			t.Errorf("%d chairs in place: rings %v", n, j.Rings)
		}
		if n == 0 {
			continue
		}
		last := &q.Seats[n-1]
		r := last.Reading
		last.Reading = nil
		if Judge(q).Rings {
			t.Errorf("one of %d was not heard, and it rings", n)
		}
		off := *r
		off.Hz = off.Hz.Shift(30)
		last.Reading = &off
		if n > 2 && Judge(q).Rings {
			t.Errorf("one of %d is 30 cents out, and it rings", n)
		}
		last.Reading, last.Note = r, names[n-1]+1
		last.Reading.Hz = pitch.Reference{}.Frequency(last.Note)
		if Judge(q).Rings {
			t.Errorf("one of %d plays no tone, and it rings", n)
		}
	}
}

// Each inversion has one number whatever it is called, and a chord has as many as it has tones.
func TestInversionWords(t *testing.T) {
	for n, words := range [][]string{{"root position"}, {"first inversion", "1st inversion"}, {"second inversion", "2nd inversion"}, {"third inversion", "3rd inversion"}, {"fourth inversion", "4th inversion"}, {"fifth inversion", "5th inversion"}} {
		for _, w := range words {
			if got := inversionWords[w]; got != n {
				t.Errorf("%q is %d, want %d", w, got, n)
			}
			for _, name := range []string{"C major", "C7", "C9"} {
				tones := len(mustChord(t, name).Tones())
				c, err := ParseChord(name + " in " + w)
				if (err == nil) != (n < tones) || err == nil && c.Inversion != n {
					t.Errorf("%s in %s: inversion %d, %v; it has %d tones", name, w, c.Inversion, err, tones)
				}
			}
		}
	}
	c := mustChord(t, "C major")
	for n := -2; n < 6; n++ {
		c.Inversion = n
		if (c.Valid() == nil) != (n >= 0 && n < 3) {
			t.Errorf("inversion %d: %v", n, c.Valid())
		}
	}
}

// A root in words is that in signs, whichever way it is joined.
func TestRootsInWords(t *testing.T) {
	for sign, words := range map[string][]string{"#": {" sharp", "-sharp", "♯"}, "b": {" flat", "-flat", "♭"}} {
		for _, letter := range []string{"A", "C", "D", "E", "F", "G"} {
			want := mustChord(t, letter+sign+" major")
			for _, w := range words {
				if got := mustChord(t, letter+w+" major"); got != want {
					t.Errorf("%s%s major is %v, want %v", letter, w, got, want)
				}
				if got := mustChord(t, "C major/G"); got.Inversion != 2 {
					t.Errorf("C over G: %v", got)
				}
			}
		}
	}
	for _, c := range [][2]string{{"C", "C major"}, {"CM", "C major"}, {"Cm", "C minor"}, {"CM7", "C major seventh"}, {"Cm7", "C minor seventh"}} {
		if a, b := mustChord(t, c[0]), mustChord(t, c[1]); a != b {
			t.Errorf("%s is %v, %s is %v", c[0], a, c[1], b)
		}
	}
}

// The ratio of two tones of any chord is that of their interval, in whichever octaves they lie, and the same the other way
// round.
func TestRatiosInAnyOctave(t *testing.T) {
	seen := 0
	for _, k := range Kinds() {
		c := Chord{Root: 0, Quality: k.Quality}
		for _, a := range c.Tones() {
			for _, b := range c.Tones() {
				for low := range 3 {
					for high := range 3 {
						m, n := pitch.Note(36+12*low+a.Semitones%12), pitch.Note(36+12*high+b.Semitones%12)
						r, ok := c.Between(m, n)
						back, okBack := c.Between(n, m)
						if ok != okBack || r != back && m != n {
							t.Errorf("%s: %v and %v are %v, the other way round %v", c, m, n, r, back)
						}
						if !ok {
							continue
						}
						seen++
						if d := 1200*math.Log2(float64(r.Num)/float64(r.Den)) - 100*math.Abs(float64(n-m)); math.Abs(d) > 65 {
							t.Errorf("%s: %v and %v are %v, %.0f cents beside their interval", c, m, n, r, d)
						}
					}
				}
			}
		}
	}
	if seen < 500 {
		t.Errorf("%d pairs have a ratio", seen)
	}
}

// What stands beside a chord is named by its key, minor or major.
func TestStrangersOfAKey(t *testing.T) {
	for name, want := range map[string]map[pitch.Note]string{
		"C minor": {63: "Eb4", 68: "Ab4", 70: "Bb4"}, "E major": {66: "F#4", 61: "C#4", 63: "D#4"}, "F minor": {73: "Db5", 63: "Eb4"}, "A minor": {71: "B4", 64: "E4"},
	} {
		c := mustChord(t, name)
		for n, w := range want {
			if got := c.Spell(n); got.String() != w {
				t.Errorf("beside %s %d is %v, want %s", name, n, got, w)
			}
		}
	}
}

// A copy of a place shares nothing with it.
func TestAPlaceIsCopied(t *testing.T) {
	in := find(t, "trumpet_bb")
	p := Place{Tone: "third", Ways: in.Paths(70), Resort: &Resort{Name: "a", Steps: []slide.Step{{ToMM: 1}}}}
	c := p.Clone()
	if !reflect.DeepEqual(c, p) {
		t.Fatalf("%+v, copied %+v", p, c)
	}
	c.Ways[0], c.Resort.Name, c.Resort.Steps[0] = instrument.Path{Valves: "9"}, "b", slide.Step{}
	if p.Ways[0].Valves == "9" || p.Resort.Name != "a" || p.Resort.Steps[0] == (slide.Step{}) {
		t.Errorf("changed with its copy: %+v", p)
	}
	if (Place{}).Clone().Resort != nil {
		t.Error("a resort out of nothing")
	}
}

// A chord may be called by any name of its root, and by no other.
func TestNamesOfARoot(t *testing.T) {
	for fifths := -7; fifths <= 10; fifths++ {
		x := pitch.NameAt(fifths)
		for class := range 12 {
			c := Chord{Root: class, Quality: Major, Spelling: x}
			if (c.Valid() == nil) != (x.Class() == class) {
				t.Errorf("%v for %d: %v", x, class, c.Valid())
			}
			if named := (Chord{Root: class, Quality: Major}).Named(x); named.RootName().Class() != class || (named.RootName() == x) != (x.Class() == class) {
				t.Errorf("%d called %v is %v", class, x, named)
			}
		}
	}
	if (Chord{Quality: Major, Spelling: pitch.Name{Letter: 'H'}}).Valid() == nil {
		t.Error("H is taken")
	}
}

// The median has half the weight on either side, whatever the order; where the weight splits between two it lies
// halfway.
func TestWeightedMedian(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	for range 300 {
		n := 1 + r.IntN(7)
		var xs, ws []float64
		for range n {
			xs, ws = append(xs, float64(r.IntN(9))), append(ws, float64(1+r.IntN(4)))
		}
		m := weightedMedian(xs, ws)
		below, above, total := 0.0, 0.0, 0.0
		for i, x := range xs {
			total += ws[i]
			switch {
			case x < m:
				below += ws[i]
			case x > m:
				above += ws[i]
			}
		}
		if below > total/2 || above > total/2 {
			t.Errorf("%v with %v: %g", xs, ws, m)
		}
	}
	for _, c := range []struct {
		xs, ws []float64
		want   float64
	}{{[]float64{4}, []float64{2}, 4}, {[]float64{1, 2}, []float64{1, 1}, 1.5}, {[]float64{3, 1, 2}, []float64{2, 1, 1}, 2.5}, {[]float64{1, 2}, []float64{1, 3}, 2}, {[]float64{5, 1}, []float64{1, 3}, 1}} {
		if got := weightedMedian(c.xs, c.ws); got != c.want {
			t.Errorf("%v with %v: %g, want %g", c.xs, c.ws, got, c.want)
		}
	}
}

// A player's own way of playing a note counts in the plan for a piece: the usual way told is no other, another lies by as
// much off as its tube, and what cannot be played that way is left out.
func TestOwnWaysInAPlan(t *testing.T) {
	in := find(t, "trumpet_bb")
	usual := in.Paths(62)[0]
	for _, c := range []struct {
		path  instrument.Path
		plays bool
	}{{usual, true}, {instrument.Path{Valves: "3"}, in.Paths(62)[0].Valves == "3"}, {instrument.Path{Valves: "2"}, false}} {
		s, err := seat(Player{Name: "a", Instrument: in, Paths: map[pitch.Note]instrument.Path{62: c.path}})
		if err != nil {
			t.Fatal(err)
		}
		path, err := in.Resolve(c.path, 62)
		r := s.reach(62)
		if r.usable != (err == nil) {
			t.Errorf("%v: usable %v, %v", c.path, r.usable, err)
		}
		if !r.usable {
			continue
		}
		want := pitch.Reference{}.Offset(62, in.Pitch(path, nil, instrument.DefaultAir))
		if got := r.error + r.slope*s.from; math.Abs(got-float64(want)) > 1e-6 {
			t.Errorf("%v stands %.3f off, want %.3f", c.path, got, float64(want))
		}
	}
	for _, n := range []pitch.Note{61, 64, 66} {
		for _, p := range in.Paths(n)[1:] {
			s, _ := seat(Player{Name: "a", Instrument: in, Paths: map[pitch.Note]instrument.Path{n: p}})
			want := pitch.Reference{}.Offset(n, in.Pitch(p, nil, instrument.DefaultAir))
			if r := s.reach(n); math.Abs(r.error+r.slope*s.from-float64(want)) > 1e-6 {
				t.Errorf("%v by %v stands %.3f off, want %.3f", n, p, r.error+r.slope*s.from, float64(want))
			}
		}
	}
}
