package instrument

import (
	"math"
	"testing"

	"bellrow/proto/pitch"
)

// isoSpeed is the speed of sound of ISO 9613-1 at 20 °C, in m/s, which the
// length tables of the published examples use.
const isoSpeed = 343.2

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s is %.4f, want %.4f ± %g", what, got, want, tol)
	}
}

func find(t testing.TB, id ID) *Instrument {
	t.Helper()
	in, err := Find(id)
	if err != nil {
		t.Fatal(err)
	}
	return in
}

func TestEffectiveLength(t *testing.T) {
	near(t, "B flat trumpet, m", EffectiveLength(isoSpeed, 116.541), 1.4724, 0.0002)  // arithmetic
	near(t, "tenor trombone, m", EffectiveLength(isoSpeed, 58.270), 2.9449, 0.0002)   // arithmetic
	near(t, "BBb tuba, m", EffectiveLength(isoSpeed, 29.135), 5.890, 0.001)           // arithmetic
	near(t, "horn in F, m", EffectiveLength(isoSpeed, 43.654), 3.931, 0.001)          // arithmetic
	near(t, "alto trombone, m", EffectiveLength(isoSpeed, 77.782), 2.206, 0.001)      // arithmetic
	near(t, "C trumpet, m", EffectiveLength(isoSpeed, 130.813), 1.312, 0.001)         // arithmetic
	near(t, "CC tuba, m", EffectiveLength(isoSpeed, 32.703), 5.247, 0.001)            // arithmetic
	near(t, "E flat tuba, m", EffectiveLength(isoSpeed, 38.891), 4.412, 0.001)        // arithmetic
	near(t, "horn, B flat side, m", EffectiveLength(isoSpeed, 58.270), 2.945, 0.0005) // arithmetic
}

// Published tubes are 5 to 10 % shorter than the effective length: Moore 2016;
// HyperPhysics, The Trombone; Yamaha, horn structure; Acta Acustica 2022,
// aacus220031, Table 1.
func TestPublishedTubesAreShorter(t *testing.T) {
	seen := 0
	for _, in := range Catalogue() {
		if in.TubeM == 0 {
			continue
		}
		seen++
		l := EffectiveLength(isoSpeed, in.Fundamental)
		if short := 1 - in.TubeM/l; short < 0.045 || short > 0.105 {
			t.Errorf("%s: tube %.2f m is %.1f %% shorter than %.3f m, want 5 to 10", in.ID, in.TubeM, 100*short, l)
		}
	}
	if seen < 15 {
		t.Errorf("%d instruments with a published tube, want most", seen)
	}
}

func TestTravel(t *testing.T) {
	near(t, "B flat trumpet, 10 cents flatter, mm", Travel(1.4724, 2, -10), 4.265, 0.005)              // arithmetic
	near(t, "BBb tuba, 10 cents flatter, mm", Travel(5.8898, 2, -10), 17.06, 0.01)                     // arithmetic
	near(t, "B flat trumpet, 5 cents, mm", Travel(1.4724, 2, -5), 2.13, 0.005)                         // arithmetic
	near(t, "B flat trumpet, 20 cents, mm", Travel(1.4724, 2, -20), 8.55, 0.01)                        // arithmetic
	near(t, "F horn, 20 cents, mm", Travel(3.931, 2, -20), 22.84, 0.01)                                // arithmetic
	near(t, "fifth partial of a trombone up to tempered D4, mm", Travel(2.9449, 2, 13.686), -11.6, .1) // arithmetic; partial_dev from 5/4

	// R. Denney, TubeNet post p=322044: an E flat tuba of 13 ft from 435 to 440
	// Hz needs 1.79 in of tube, about 0.9 in of travel.
	const foot, inch = 0.3048, 25.4
	mm := Travel(13*foot, 2, -pitch.Between(435, 440))
	near(t, "E flat tuba from 440 to 435 Hz, mm", mm, 22.8, 0.3)
	near(t, "the same as tube, in", 2*mm/inch, 1.79, 0.02)

	// The bell in the way: a shank has one leg and needs twice the travel.
	near(t, "shank over slide", Travel(1.4724, 1, -10)/Travel(1.4724, 2, -10), 2, 1e-12)
}

// The slide moves 0.5 % less inwards than outwards for the same interval, and
// +5 mm on a trumpet are -11.718 cents (arithmetic).
func TestTravelAndPitchAgree(t *testing.T) {
	in := find(t, "trumpet_bb")
	open := Path{Partial: 4}
	for _, mm := range []float64{-10, -3, 0, 5, 12} {
		set := Settings{Main: in.MM(nil, Main) + mm}
		x := pitch.Between(in.Pitch(open, nil, Air{}), in.Pitch(open, set, Air{}))
		near(t, "travel back from the pitch, mm", in.MoveMM(open, Main, nil, x), mm, 1e-9)
	}
	l := 1.4724
	near(t, "+5 mm, cents", -1200*math.Log2(1+2*0.005/l), -11.718, 0.005)
	in10 := Travel(l, 2, 10)
	out10 := Travel(l, 2, -10)
	near(t, "inwards over outwards", -in10/out10, math.Exp2(-10.0/1200), 1e-12)
}

// T. R. Moore, Acoustics Today, Winter 2016, p. 38: a trumpet of 140 cm.
func TestValveTubePublished(t *testing.T) {
	near(t, "one semitone, cm", ValveTube(140, 1), 8.3, 0.05)
	near(t, "two semitones, cm", ValveTube(140, 2), 17.2, 0.1)
	near(t, "three semitones, cm", ValveTube(140, 3), 26.5, 0.05)
	// The same page: valves 1 and 2 together give 25.5 cm of the 26.5, 10.4 cents.
	near(t, "1-2 together, cm", ValveTube(140, 1)+ValveTube(140, 2), 25.5, 0.1)
	if math.Abs(ValveTube(147, 2)-17.2) < 0.1 {
		t.Error("a tube of 147 cm passes as one of 140: the tolerance cannot fail")
	}
}

func TestValveCombinations(t *testing.T) {
	in := find(t, "trumpet_bb")
	four := find(t, "euphonium_bb_4v")
	for _, c := range []struct {
		valves string
		in     *Instrument
		factor float64
		sharp  float64 // arithmetic: each valve exact
		share  float64 // of an open-note pull that the combination feels
	}{
		{"", in, 1, 0, 1},
		{"2", in, 1.05946, 0, 0.9439},
		{"1", in, 1.12246, 0, 0.8909},
		{"3", in, 1.18921, 0, 0.8409},
		{"1-2", in, 1.18193, 10.63, 0.8461},
		{"2-3", in, 1.24867, 15.53, 0.8009},
		{"1-3", in, 1.31167, 30.32, 0.7624},
		{"1-2-3", in, 1.37113, 53.56, 0.7293},
		{"4", four, 1.33484, 0, 0.7492},
		{"2-4", four, 1.39430, 24.55, 0.7172},
		{"1-4", four, 1.45730, 48.04, 0.6862},
		{"1-2-4", four, 1.51676, 78.80, 0.6593},
		{"1-2-3-4", four, 1.70597, 175.29, 0.5862},
	} {
		p := Path{Partial: 2, Valves: c.valves}
		open := Path{Partial: 2}
		near(t, "length factor of "+p.String(), c.in.Length(p, nil, Air{})/c.in.Length(open, nil, Air{}), c.factor, 1e-5)
		near(t, "sharpness of "+p.String(), float64(c.in.Tendency(p)), c.sharp, 0.01)
		share := c.in.CentsPerMM(p, Main, nil) / c.in.CentsPerMM(open, Main, nil)
		near(t, "share of a pull felt by "+p.String(), float64(share), c.share, 1e-4)
	}
}

// A pull that flattens the open note by 20 cents (arithmetic).
func TestPullActsUnevenly(t *testing.T) {
	in := find(t, "trumpet_bb")
	mm := in.MoveMM(Path{Partial: 4}, Main, nil, -20)
	set := Settings{Main: in.MM(nil, Main) + mm}
	for valves, want := range map[string]float64{"": 20, "2": 18.9, "1": 17.8, "1-2": 16.9, "2-3": 16.0, "1-3": 15.3, "1-2-3": 14.6} {
		p := Path{Partial: 4, Valves: valves}
		x := pitch.Between(in.Pitch(p, set, Air{}), in.Pitch(p, nil, Air{}))
		near(t, "flattening of "+p.String(), float64(x), want, 0.05)
	}
}

// Valves of 1/15, 1/8 and 1/5 of the open length put 1-2-3 at -572 cents
// (J. Monzo, Trumpet, Xenharmonic wiki), and each alone flat of tempered by
// 11.7, 3.9 and 15.6.
func TestRatioValves(t *testing.T) {
	in := *find(t, "trumpet_bb")
	in.Loops = []float64{1.0 / 8, 1.0 / 15, 1.0 / 5}
	open := in.Pitch(Path{Partial: 2}, nil, Air{})
	near(t, "1-2-3", float64(pitch.Between(open, in.Pitch(Path{Partial: 2, Valves: "1-2-3"}, nil, Air{}))), -572, 0.5)
	for valves, want := range map[string]float64{"2": -11.73, "1": -3.91, "3": -15.64, "1-2": -3.58, "2-3": -9.24, "1-3": 12.81, "1-2-3": 27.82} {
		near(t, valves, float64(in.Tendency(Path{Partial: 2, Valves: valves})), want, 0.01)
	}
}

// JMU brass pedagogy, 26 May 2016, Table 2: on a tube of 100 units, with 6 %
// for each semitone, the combinations fall short by so many units.
func TestSixPercentRule(t *testing.T) {
	in := *find(t, "trumpet_bb")
	six := func(n float64) float64 { return math.Pow(1.06, n) - 1 }
	in.Loops = []float64{six(2), six(1), six(3)}
	for valves, c := range map[string]struct{ semitones, short float64 }{
		"1-2": {3, 0.74}, "2-3": {4, 1.15}, "1-3": {5, 2.37}, "1-2-3": {6, 4.40},
	} {
		got := 100 * (1 + six(c.semitones) - in.lengthFactor(Path{Valves: valves}))
		near(t, valves+" falls short by", got, c.short, 0.05)
	}
}

// Compensation makes every combination with the fourth valve as true as the
// same one without it a fourth higher.
func TestCompensation(t *testing.T) {
	comp := find(t, "euphonium_bb_bc")
	for _, v := range []string{"1", "2", "1-2", "2-3", "1-3", "1-2-3"} {
		near(t, v+"-4 against "+v, float64(comp.Tendency(Path{Partial: 2, Valves: v + "-4"})), float64(comp.Tendency(Path{Partial: 2, Valves: v})), 1e-9)
	}
	if comp.Tendency(Path{Partial: 2, Valves: "1-4"}) > 1 || find(t, "tuba_cc").Tendency(Path{Partial: 2, Valves: "1-4"}) < 40 {
		t.Error("1-4 must be true with compensation and 48 cents sharp without")
	}
}

func TestHandSlide(t *testing.T) {
	const l = 2.9449
	for position, want := range map[float64]float64{1: 0, 2: 87.6, 3: 180.3, 4: 278.6, 5: 382.7, 6: 493.0, 7: 609.9} { // arithmetic
		near(t, "position, mm", PositionMM(l, position), want, 0.1)
	}
	// It's Easy To Make Music, trombone page: about 3 1/2 in, 7 in and 23 in. A
	// method book rounds to a quarter of an inch, and 23 in for seventh implies
	// a length of 2.82 m: within 5 %.
	const inch = 25.4
	for position, inches := range map[float64]float64{2: 3.5, 3: 7, 7: 23} {
		if got := PositionMM(l, position); math.Abs(got/(inches*inch)-1) > 0.05 {
			t.Errorf("position %g at %.1f mm, published about %.1f in", position, got, inches)
		}
	}
	// playingbrass.com: each position is about 6 % of the present length.
	for p := 1.0; p < 7; p++ {
		step := 2 * (PositionMM(l, p+1) - PositionMM(l, p)) / (1000*l + 2*PositionMM(l, p))
		near(t, "a position over the present length", step, 0.06, 0.001)
	}
}

// Hand-slide sensitivity for 5 cents outward, by position (arithmetic).
func TestHandSlideSensitivity(t *testing.T) {
	for i, want := range []float64{4.26, 4.51, 4.78, 5.06, 5.37, 5.68, 6.02} {
		near(t, "5 cents, mm", Travel(2.9449*semitoneRatio(float64(i)), 2, -5), want, 0.01)
	}
	in := find(t, "tenor_trombone_bb")
	for p := 1.0; p <= 6; p++ {
		a, b := Path{Partial: 3, Position: p}, Path{Partial: 4, Position: p}
		if in.MoveMM(a, Hand, nil, -10) != in.MoveMM(b, Hand, nil, -10) {
			t.Errorf("position %g: the same interval takes different moves on different partials", p)
		}
	}
}

func TestAttachment(t *testing.T) {
	const l = 2.9449
	lf := l * semitoneRatio(5)
	near(t, "F attachment, m", lf, 3.931, 0.001)
	// Position on the B flat slide that the attachment's positions need
	// (arithmetic): F 1.00, E 2.32, Eb 3.62, D 4.90, Db 6.16, C 7.40.
	for i, want := range []float64{1.00, 2.322, 3.62, 4.90, 6.16, 7.396} {
		s := PositionMM(lf, float64(i+1))
		near(t, "equivalent", 1+12*math.Log2(1+2*s/1000/l), want, 0.005)
	}
	// Low C is sharp at the end of the slide, low B more so (The Teaching of
	// Instrumental Music, 5th ed., p. 235).
	in := find(t, "tenor_trombone_bbf")
	c := in.Tendency(Path{Partial: 2, Position: 6, Side: "F"})
	b := in.Tendency(Path{Partial: 2, Position: 7, Side: "F"})
	if !(c > 10 && b > c+50) {
		t.Errorf("low C %+.0f and low B %+.0f cents, want sharp and far sharper", float64(c), float64(b))
	}
	for p := 1.0; p <= 5; p++ {
		near(t, "tendency on the attachment", float64(in.Tendency(Path{Partial: 2, Position: p, Side: "F"})), 0, 0.01)
	}
}

// The usual settings give the catalogue's fundamental on every instrument.
func TestUsualSettingsGiveTheFundamental(t *testing.T) {
	for _, in := range Catalogue() {
		p := Path{Partial: 1}
		if in.HandSlide {
			p.Position = 1
		}
		if in.Double {
			p.Side = "F"
		}
		near(t, string(in.ID), float64(pitch.Between(in.Fundamental, in.Pitch(p, nil, Air{}))), 0, 1e-9)
	}
	double := find(t, "horn_double")
	near(t, "B flat side of a double horn, Hz", float64(double.Pitch(Path{Partial: 1, Side: "Bb"}, nil, Air{})), 58.27, 0.01)
}

func TestServes(t *testing.T) {
	// HBM Intonation notes: the first valve slide serves 1, 1-2, 1-3, 1-2-3; the
	// third 3, 2-3, 1-3, 1-2-3; nothing but the main slide open and 2.
	trumpet := find(t, "trumpet_bb")
	for valves, want := range map[string]string{"": "", "2": "", "1": "first", "1-2": "first", "3": "third", "2-3": "third", "1-3": "first third", "1-2-3": "first third"} {
		got := ""
		for _, id := range []SlideID{First, Third} {
			if trumpet.Serves(id, Path{Valves: valves}) {
				got += " " + string(id)
			}
		}
		if got != "" {
			got = got[1:]
		}
		if got != want || !trumpet.Serves(Main, Path{Valves: valves}) {
			t.Errorf("%q is served by %q, want %q and the main slide", valves, got, want)
		}
	}
	horn := find(t, "horn_double")
	for _, c := range []struct {
		id   SlideID
		p    Path
		want bool
	}{
		{FMain, Path{Side: "F"}, true}, {FMain, Path{Side: "Bb"}, false},
		{BbMain, Path{Side: "Bb"}, true}, {BbMain, Path{Side: "F"}, false},
		{First, Path{Side: "F", Valves: "1"}, true}, {First, Path{Side: "Bb", Valves: "1"}, false},
		{BbFirst, Path{Side: "Bb", Valves: "1"}, true}, {BbFirst, Path{Side: "Bb", Valves: "2"}, false},
		{Bell, Path{Side: "F"}, true}, {Hand, Path{Side: "F"}, false}, {"no such slide", Path{}, false},
	} {
		if got := horn.Serves(c.id, c.p); got != c.want {
			t.Errorf("%s serves %v: %v, want %v", c.id, c.p, got, c.want)
		}
	}
	if trumpet.CentsPerMM(Path{}, Third, nil) != 0 || trumpet.MoveMM(Path{}, Third, nil, 10) != 0 {
		t.Error("the third valve slide moves an open note")
	}
	if horn.CentsPerMM(Path{Side: "F"}, Bell, nil) != 0 {
		t.Error("the hand in the bell has millimetres")
	}
}

// CentsPerMM is the slope of Pitch, on every slide of every instrument.
func TestCentsPerMMIsTheSlope(t *testing.T) {
	for _, in := range Catalogue() {
		for _, tube := range in.tubes() {
			tube.Partial = 4
			for _, s := range in.Slides {
				if s.ID == Hand && (in.HandMM(tube, 0) >= s.TravelMM || tube.Position == 1) {
					continue // at an end of the hand slide
				}
				const h = 1e-3
				at := in.MM(nil, s.ID)
				up := in.Pitch(tube, Settings{s.ID: at + h}, Air{})
				down := in.Pitch(tube, Settings{s.ID: at - h}, Air{})
				want := float64(pitch.Between(down, up)) / (2 * h)
				if got := float64(in.CentsPerMM(tube, s.ID, nil)); math.Abs(got-want) > 1e-5 || got > 0 {
					t.Fatalf("%s %v, %s: %.6f cents per mm, slope %.6f", in.ID, tube, s.ID, got, want)
				}
			}
		}
	}
}

func TestMeasuredTravel(t *testing.T) {
	in := find(t, "trumpet_bb")
	own := in.WithTravel(Settings{Main: 51, Third: 0, "nonsense": 4})
	if s, _ := own.Slide(Main); s.TravelMM != 51 {
		t.Errorf("travel %g, want the 51 mm measured", s.TravelMM)
	}
	if s, _ := own.Slide(Third); s.TravelMM == 0 {
		t.Error("a travel of 0 is taken as measured")
	}
	if s, _ := in.Slide(Main); s.TravelMM != 45 {
		t.Errorf("the catalogue has changed: travel %g", s.TravelMM)
	}
}

// The tubes of both valves follow each other: a fourth and a major third add
// to 8.08 semitones (arithmetic), so that D lies 8 cents below B flat's own.
func TestBothValvesOfABassTrombone(t *testing.T) {
	in := find(t, "bass_trombone_bb_2v")
	open, both := in.Pitch(Path{Partial: 2, Position: 1}, nil, Air{}), in.Pitch(Path{Partial: 2, Position: 1, Side: "D"}, nil, Air{})
	near(t, "both valves, cents", float64(pitch.Between(open, both)), -1200*math.Log2(math.Exp2(5./12)+math.Exp2(4./12)-1), 0.01)
	for side, want := range map[string][2]bool{"": {}, "F": {true, false}, "Gb": {false, true}, "D": {true, true}} {
		p := Path{Partial: 2, Position: 1, Side: side}
		if got := [2]bool{in.Serves(FMain, p), in.Serves(GbMain, p)}; got != want {
			t.Errorf("%s: the F-attachment and the second-valve slide serve it %v, want %v", p, got, want)
		}
	}
	if single := find(t, "bass_trombone_bb"); single.Serves(GbMain, Path{Position: 1, Side: "D"}) {
		t.Error("a second valve on an instrument that has one valve")
	}
}
