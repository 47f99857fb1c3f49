package slide

import (
	"math"
	"strings"
	"testing"

	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// between says how far a second way of playing lies above a first by the lengths of
// the air column alone.
func between(in *instrument.Instrument, first, second instrument.Path) pitch.Cents {
	return pitch.Between(in.Pitch(first, nil, instrument.Air{}), in.Pitch(second, nil, instrument.Air{}))
}

// A chord tone that no slide reaches is brought nearer by what is said instead: the hand
// in the bell lowers when it covers more, and another way of playing lies higher for a
// flat note and lower for a sharp one, by as much as the tubes say.
func TestWithoutASlideTheOtherWayHelps(t *testing.T) {
	bell, tried := 0, 0
	for _, in := range instrument.Catalogue() {
		for n := in.Low; n <= in.High; n++ {
			for _, p := range in.Paths(n) {
				for _, x := range []pitch.Cents{-30, -14, 14, 30} {
					a := Advise(Input{Instrument: in, Note: n, Path: p, Purpose: Balance, Reading: heard(n, x, 1.5)})
					if a.Kind != Finger {
						continue
					}
					if a.Code == "bell" {
						bell++
						if more := strings.Contains(Say(a).Headline, "more"); more != (x > 0) || a.Facts.Out != more {
							t.Errorf("%s %v %+g cents: %s", in.ID, n, float64(x), Say(a).Headline)
						}
						continue
					}
					tried++
					gain := between(in, p, *a.Try)
					if math.Abs(float64(gain-a.Facts.Gain)) > 0.5 {
						t.Errorf("%s %v: %v instead of %v is said to gain %.1f cents, by the tubes %.1f", in.ID, n, *a.Try, p, float64(a.Facts.Gain), float64(gain))
					}
					if left := math.Abs(float64(x + gain)); left > math.Abs(float64(x))-betterCents {
						t.Errorf("%s %v %+g cents: %v leaves %.1f", in.ID, n, float64(x), *a.Try, left)
					}
					word := "higher"
					if gain < 0 {
						word = "lower"
					}
					if !strings.Contains(Say(a).Detail, word) {
						t.Errorf("%s %v: gains %.1f cents, told %q", in.ID, n, float64(gain), Say(a).Detail)
					}
				}
			}
		}
	}
	if bell < 50 || tried < 50 {
		t.Errorf("%d answers for the hand and %d for another way, need more of each", bell, tried)
	}
}

// Who needs more millimetres for a cent than the model is sent as much further, by one
// note or by several.
func TestLearnedMillimetresGoIntoTheMove(t *testing.T) {
	in := catalogue(t, "trumpet_bb")
	names := []string{"Bb4", "F4", "D5", "Bb3"}
	solve := func(l Learned, x pitch.Cents) float64 {
		p := Problem{Instrument: in, Settings: instrument.Settings{"main": 20}, Learned: l}
		for _, s := range names {
			n := noteOf(t, s)
			way := usualPath(in, instrument.Path{}, n)
			p.Heard = append(p.Heard, Heard{Note: n, Reading: heard(n, x+in.Tendency(way), 1)})
		}
		s, err := Solve(p)
		if err != nil {
			t.Fatal(err)
		}
		return step(s.Advice, instrument.Main)
	}
	one := func(l Learned, x pitch.Cents) float64 {
		in := ask(t, "trumpet_bb", "Bb4", x, main(20))
		in.Learned = l
		return step(Advise(in), instrument.Main)
	}
	for _, x := range []pitch.Cents{-20, 20} {
		for name, mm := range map[string]func(Learned, pitch.Cents) float64{"several notes": solve, "one note": one} {
			plain := mm(Learned{}, x)
			for _, ratio := range []float64{0.8, 1.25} {
				got := mm(Learned{Ratio: ratio, SD: 0.03, Moves: 3}, x)
				if math.Abs(got-ratio*plain) > 1 || plain == 0 {
					t.Errorf("%s, %+g cents: %g mm by the model, %g mm at %g times that", name, float64(x), plain, got, ratio)
				}
			}
		}
	}
}

// What the whole section has done meanwhile is nobody's embouchure: a pitch that went with
// the slide while the room rose is not held, and one that was carried by a falling
// room alone did not follow.
func TestTheCommonChangeIsTakenOut(t *testing.T) {
	for _, c := range []struct {
		after, common pitch.Cents
		want          Verdict
	}{{1, 0, Went}, {9, 8, Went}, {-7, -8, Went}, {14, 0, Held}, {22, 8, Held}, {1, -13, Held}} {
		d := newDesk(t)
		a, _ := d.read(14)
		d.obey(a)
		r := heard(d.note, c.after, 1)
		_, f := d.memory.Answer(Input{Instrument: d.in, Note: d.note, Reading: r, Settings: d.set, CommonChange: c.common})
		if f == nil || f.Verdict != c.want {
			t.Errorf("14 cents, moved, %+g read while the section went %+g: %v, want %s", float64(c.after), float64(c.common), f, c.want)
		}
		if f != nil && math.Abs(float64(f.Measured-(c.after-14-c.common))) > 1e-9 {
			t.Errorf("measured %g, want %g", float64(f.Measured), float64(c.after-14-c.common))
		}
	}
}

// Everything that a memory knows goes along with the reference: at A a few cents higher
// each note stands as many cents lower.
func TestMemoryFollowsTheReference(t *testing.T) {
	in, n := catalogue(t, "tuba_bbb"), noteOf(t, "Bb2")
	for _, up := range []pitch.Cents{-12, 5} {
		var m Memory
		r := pitch.Reference{}
		read := func(ref pitch.Reference, x, ci pitch.Cents) {
			target := ref.Frequency(n)
			m.Answer(Input{Instrument: in, Note: n, Target: target, Settings: instrument.Settings{"main": 25},
				Reading: Reading{Hz: target.Shift(x), CI95: ci, Settled: true, Level: -20}})
		}
		read(r, 2, 1)
		was := m.Belief(n)
		higher := pitch.Reference{A4: r.Frequency(pitch.A4).Shift(up)}
		other := noteOf(t, "F3") // asks at the new reference, and says nothing of the old note
		m.Answer(Input{Instrument: in, Note: other, Target: higher.Frequency(other), Reading: Reading{Settled: true, Hz: higher.Frequency(other), CI95: 1, Level: -20}})
		if now := m.Belief(n); math.Abs(float64(now.Offset-(was.Offset-up))) > 1e-6 || now.SD != was.SD {
			t.Errorf("A rose by %g cents: %+v became %+v", float64(up), was, now)
		}
	}
}

// A small move that cannot be judged counts with the next one of the same way, and not
// with one of the other: together they are one story.
func TestSmallMovesAddUp(t *testing.T) {
	for _, c := range []struct {
		second float64
		judged bool
	}{{3, true}, {-3, false}} {
		d := newDesk(t)
		d.read(14)
		expected := pitch.Cents(0)
		x := pitch.Cents(14)
		var f *Follow
		for _, mm := range []float64{3, c.second} {
			from := d.set["main"]
			e := Expect(d.in, d.in.Paths(d.note)[0], d.set, instrument.Main, from, from+mm, Learned{})
			d.memory.Moved(d.in, d.set, instrument.Main, from, from+mm)
			d.set = instrument.Settings{"main": from + mm}
			expected, x = expected+e, x+e
			_, f = d.read(x)
		}
		if f == nil || (f.Verdict == Went) != c.judged {
			t.Errorf("3 mm and %+g mm, the pitch with them: %v, judged as one %v", c.second, f, c.judged)
		}
		if c.judged && math.Abs(float64(f.Measured-expected)) > 1e-9 {
			t.Errorf("both bring %.2f cents, measured %.2f", float64(expected), float64(f.Measured))
		}
	}
}

// What belongs to a partial or a fingering is named and told with what theory says of it;
// intervals are those of 95 in 100.
func TestSharesOfNature(t *testing.T) {
	in := catalogue(t, "trumpet_bb")
	var p Problem
	p.Instrument, p.Settings = in, instrument.Settings{"main": 20}
	for _, s := range []string{"Bb4", "F4", "D5", "C4", "Bb3"} {
		n := noteOf(t, s)
		way := usualPath(in, instrument.Path{}, n)
		p.Heard = append(p.Heard, Heard{Note: n, Reading: heard(n, in.Tendency(way), 1)})
	}
	sol, err := Solve(p)
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]bool{}
	for _, s := range sol.Shares {
		seen[s.Name] = true
		// A perfect instrument: everything is where theory has it.
		if math.Abs(float64(s.Cents-s.Theory)) > 0.01 || s.CI95 <= 0 {
			t.Errorf("%s: %.2f cents, theory %.2f, ± %.2f", s.Name, float64(s.Cents), float64(s.Theory), float64(s.CI95))
		}
		if s.Partial == 5 && math.Abs(float64(s.Theory)+13.7) > 0.1 { // 1200 log2(5/4) - 400
			t.Errorf("the fifth partial lies at %.1f cents by theory, need -13.7", float64(s.Theory))
		}
		if s.Slide == instrument.Main && s.CI95 > 1.96*mainPrior {
			t.Errorf("the main slide is known to %.1f cents, less than before anything was heard", float64(s.CI95))
		}
		if s.MM != 0 && math.Signbit(s.MM) != math.Signbit(float64(s.Cents)) {
			t.Errorf("%s: %+g cents are %+g mm", s.Name, float64(s.Cents), s.MM)
		}
	}
	for _, want := range []string{"partial 5", "fingering 1-3", "main slide"} {
		if !seen[want] {
			t.Errorf("no share is called %q: %v", want, seen)
		}
	}
}

// The offer's range is looked through to both of its ends.
func TestCommonPitchReachesTheEnds(t *testing.T) {
	for hz, x := range map[pitch.Hertz]pitch.Cents{438: -8, 446: 24} {
		var seats []Seat
		for _, s := range [][2]string{{"trumpet_bb", "Bb4"}, {"horn_f", "F4"}, {"tenor_trombone_bb", "Bb3"}} {
			one := seat(t, instrument.ID(s[0]), s[1], 14, 0)
			one.Offset = x + one.Instrument.Nature(one.Path)
			seats = append(seats, one)
		}
		if o := CommonPitch(pitch.Reference{}, seats, nil); o.Reference.A4 != hz {
			t.Errorf("all %+g cents: A at %v is offered, want %v", float64(x), float64(o.Reference.A4), float64(hz))
		}
	}
}

// A section that is off as one has each choice said with its own way: out for sharp, in for
// flat, and who is above the others is told so.
func TestAsOneSaysTheWay(t *testing.T) {
	for _, x := range []pitch.Cents{12, -12} {
		seats := section(t, bFlats, [4]pitch.Cents{x, x + 4, x - 4, x})
		a := Together(pitch.Reference{}, seats, 5, false)
		way, off, all := "Everybody out:", "sharp", 1.0
		if x < 0 {
			way, off, all = "Everybody in:", "flat", -1
		}
		if !strings.Contains(a.Words, off) {
			t.Errorf("%+g: %s", float64(x), a.Words)
		}
		for _, c := range a.Choices {
			if c.Do == AllMove && !strings.Contains(c.Words, way) {
				t.Errorf("%+g: %s", float64(x), c.Words)
			}
			for _, st := range c.Steps {
				if st.MM()*all <= 0 {
					t.Errorf("%+g: a step of %+g mm", float64(x), st.MM())
				}
			}
			if c.Do == TuneThere && (c.Reference.A4 > 440) != (x > 0) {
				t.Errorf("%+g: A at %v", float64(x), float64(c.Reference.A4))
			}
			if c.Do == HearAgain && strings.Contains(c.Words, "mezzo-forte") != (x > 0) {
				t.Errorf("%+g: %s", float64(x), c.Words)
			}
		}
		for i, own := range a.Own {
			said := Say(a.Answer(i))
			word := "above"
			if own <= 0 {
				word = "below"
			}
			if math.Abs(float64(own)) >= 1 && !strings.Contains(said.Detail, word) {
				t.Errorf("own %+g: %q", float64(own), said.Detail)
			}
		}
	}
}

// A reading is trusted less the more it still moved, whichever way it went.
func TestReadingDoubt(t *testing.T) {
	still := heard(70, 0, 2)
	last := still.sd()
	if want := math.Hypot(2/1.96/math.Sqrt2, repeatCents); math.Abs(last-want) > 1e-12 {
		t.Errorf("a still note is known to %g cents, want %g", last, want)
	}
	for _, drift := range []float64{0.5, 1, 2, 4} {
		up, down := still, still
		up.Drift, down.Drift = drift, -drift
		if up.sd() <= last || math.Abs(up.sd()-down.sd()) > 1e-12 {
			t.Errorf("%g cents a second: %g up, %g down, after %g", drift, up.sd(), down.sd(), last)
		}
		last = up.sd()
	}
	falling := still
	falling.Early, falling.Drift = 10, -4
	gliding := still
	gliding.Drift = -4
	if falling.sd() <= gliding.sd() {
		t.Errorf("a note that fell all along is known to %g cents, one that only glides to %g", falling.sd(), gliding.sd())
	}
}

// A move that was made widens what is believed by how well a hand sets a slide and how
// well the instrument is known, the same for in and out.
func TestBeliefOfAMove(t *testing.T) {
	was := Belief{Offset: 10, SD: 1}
	out, in := was.Moved(-10, 5, Learned{}), was.Moved(10, -5, Learned{})
	if out.Offset != 0 || in.Offset != 20 || out.SD != in.SD || out.SD <= was.SD {
		t.Errorf("out %+v, in %+v", out, in)
	}
	// 8 % of 10 cents, half a millimetre of 2 cents each, and 1 cent.
	if want := math.Sqrt(0.8*0.8 + 1 + 1); math.Abs(out.SD-want) > 1e-12 {
		t.Errorf("known to %g cents, want %g", out.SD, want)
	}
	if known := was.Moved(-10, 5, Learned{Ratio: 1, SD: 0.02, Moves: 3}); known.SD >= out.SD {
		t.Errorf("an instrument that is known leaves %g cents, an unknown one %g", known.SD, out.SD)
	}
	if (Belief{}).Moved(-10, 5, Learned{}) != (Belief{}) {
		t.Error("a move tells where a note stands that was never heard")
	}
}

// Two readings that agree are the mean by their weights, known better than either; an old one
// alone does not outvote a new one; one that is strange begins anew.
func TestBeliefReads(t *testing.T) {
	r := heard(70, 0, 1.96) // 1 cent
	sd := r.sd()
	first := Belief{}.Read(4, r)
	if first != (Belief{Offset: 4, SD: sd}) {
		t.Errorf("first %+v", first)
	}
	both := first.Read(6, r)
	if both.Offset <= 5 || both.Offset >= 5.5 || both.SD >= sd {
		t.Errorf("4 and 6 are %+v, need a little over 5 and under %g", both, sd)
	}
	for _, x := range []pitch.Cents{4 + 20, 4 - 20} {
		if anew := first.Read(x, r); anew != (Belief{Offset: x, SD: sd}) {
			t.Errorf("after 4 comes %g: %+v", float64(x), anew)
		}
	}
}

// A reading that asks for another is asked for again while the turn lasts, and gets a
// rest after it.
func TestAgainOrRest(t *testing.T) {
	wait := Advise(ask(t, "trumpet_bb", "Bb4", 4, with(pinched)))
	if wait.Kind != Again {
		t.Fatalf("%+v", wait)
	}
	if on := wait.Again(true); on.Kind != Again || on.Code != wait.Code {
		t.Errorf("asked again: %+v", on)
	}
	if off := wait.Again(false); off.Kind != Rest || off.Code != "tries" || off.Facts.Because != wait.Code {
		t.Errorf("not asked again: %+v", off)
	}
	cold := wait
	cold.Code = "cold"
	if off := cold.Again(false); off.Kind != Again {
		t.Errorf("a cold instrument is sent to rest: %+v", off)
	}
	stay := Advise(ask(t, "trumpet_bb", "Bb4", 1, main(12)))
	if on, off := stay.Again(true), stay.Again(false); on.Code != "once-more" || off.Code != stay.Code {
		t.Errorf("in the band: %q and %q", on.Code, off.Code)
	}
}

// A pitch that stays where it was is called held at the first attack after one move, and at the second after two small
// ones that are judged together: that the first did little may be chance, too.
func TestTwoSmallMovesAccuseAtTheSecondAttack(t *testing.T) {
	for _, c := range []struct {
		moves []float64
		want  []Verdict
	}{{[]float64{7}, []Verdict{Held, Held}}, {[]float64{3, 4}, []Verdict{Unsure, Held}}} {
		d := newDesk(t)
		d.read(14)
		for i, mm := range c.moves {
			from := d.set["main"]
			d.memory.Moved(d.in, d.set, instrument.Main, from, from+mm)
			d.set = instrument.Settings{"main": from + mm}
			if i < len(c.moves)-1 {
				d.read(14)
			}
		}
		for k, want := range c.want {
			if _, f := d.read(14); f == nil || f.Verdict != want {
				t.Errorf("%v mm, attack %d, the pitch where it was: %+v, want %s", c.moves, k+1, f, want)
			}
		}
	}
}
