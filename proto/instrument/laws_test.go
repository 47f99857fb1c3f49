package instrument

import (
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"

	"bellrow/proto/pitch"
	"bellrow/testdata/golden"
)

// TestCatalogueIsWrittenDown: every figure of every entry, so that none changes unseen.
func TestCatalogueIsWrittenDown(t *testing.T) {
	var out strings.Builder
	for _, in := range Band() {
		entry, err := json.Marshal(in)
		if err != nil {
			t.Fatal(err)
		}
		out.Write(append(entry, '\n'))
	}
	golden.Lines(t, "catalogue.txt", out.String())
}

// everyWay calls do for each way to play each note of each instrument.
func everyWay(do func(in *Instrument, n pitch.Note, ps []Path)) {
	for _, in := range Catalogue() {
		for n := in.Low; n <= in.High; n++ {
			do(in, n, in.Paths(n))
		}
	}
}

// TestAMoveDoesWhatItIsFor: the travel that changes a note by so many cents changes its pitch by as
// many, either way, on every slide that serves it; what does not serve it, is not there, or is no
// tube asks for no travel.
func TestAMoveDoesWhatItIsFor(t *testing.T) {
	moved := 0
	everyWay(func(in *Instrument, n pitch.Note, ps []Path) {
		for _, p := range ps[:min(2, len(ps))] {
			for _, s := range in.Slides {
				for _, x := range []pitch.Cents{-20, 0, 7} {
					mm := in.MoveMM(p, s.ID, nil, x)
					if s.ID == Hand { // it has ends, and an ear
						continue
					}
					if s.Legs == 0 || !in.Serves(s.ID, p) {
						if mm != 0 {
							t.Errorf("%s %v: %g mm of %s", in.ID, p, mm, s.ID)
						}
						continue
					}
					moved++
					from := in.MM(nil, s.ID)
					got := pitch.Between(in.Pitch(p, nil, DefaultAir), in.Pitch(p, Settings{s.ID: from + mm}, DefaultAir))
					if math.Abs(float64(got-x)) > 1e-6 || x != 0 && (mm < 0) != (x > 0) {
						t.Errorf("%s %v: %g mm of %s for %g cents give %g", in.ID, p, mm, s.ID, float64(x), float64(got))
					}
				}
				per := in.CentsPerMM(p, s.ID, nil)
				if in.Serves(s.ID, p) && s.Legs > 0 != (per < 0) {
					t.Errorf("%s %v: a millimetre of %s gives %g cents", in.ID, p, s.ID, float64(per))
				}
			}
			if mm := in.MoveMM(p, "none", nil, 5); mm != 0 {
				t.Errorf("%s: %g mm of a slide that is not there", in.ID, mm)
			}
		}
	})
	if moved < 1000 {
		t.Errorf("%d moves tried", moved)
	}
}

// TestTravelIsOneSlides: changes the slides that were measured and no others, and not the catalogue.
func TestTravelIsOneSlides(t *testing.T) {
	for _, in := range Catalogue() {
		was, _ := json.Marshal(in)
		for _, travel := range []Settings{nil, {}, {Main: 0}, {Main: -3}, {"none": 7}} {
			if got := in.WithTravel(travel); !slices.Equal(got.Slides, in.Slides) {
				t.Errorf("%s with %v: %+v", in.ID, travel, got.Slides)
			}
		}
		for i, s := range in.Slides {
			got := in.WithTravel(Settings{s.ID: s.TravelMM + 11})
			for j, g := range got.Slides {
				want := in.Slides[j]
				if i == j {
					want.TravelMM += 11
				}
				if g != want {
					t.Errorf("%s, %s measured: %+v", in.ID, s.ID, g)
				}
			}
		}
		if is, _ := json.Marshal(in); string(is) != string(was) {
			t.Errorf("%s was changed in the catalogue", in.ID)
		}
	}
}

// TestPedalsComeLast: a first partial is played where nothing else gives the note.
func TestPedalsComeLast(t *testing.T) {
	everyWay(func(in *Instrument, n pitch.Note, ps []Path) {
		pedal := false
		for _, p := range ps {
			if pedal && p.Partial > 1 {
				t.Errorf("%s %v: %v", in.ID, n, ps)
			}
			pedal = pedal || p.Partial == 1
		}
	})
}

// TestNature: a note has one where its partial or its valves stray by TellsBelow or more, and then
// all of it counts; a note without tells where the main slide belongs, if it is tuned by one.
func TestNature(t *testing.T) {
	with, without := 0, 0
	everyWay(func(in *Instrument, n pitch.Note, ps []Path) {
		for _, p := range ps {
			th := in.Theory(p)
			strays := math.Abs(float64(th.Partial)) >= 5 || math.Abs(float64(th.Valves)) >= 5
			want := pitch.Cents(0)
			if strays {
				want = th.Partial + th.Valves
				with++
			} else {
				without++
			}
			if got := in.Nature(p); math.Abs(float64(got-want)) > 1e-9 {
				t.Errorf("%s %v: %g, want %g of %+v", in.ID, p, float64(got), float64(want), th)
			}
			if in.Tells(p) != (in.Tuned() && !strays && (!in.HandSlide || p.Position == 1)) {
				t.Errorf("%s %v tells %v", in.ID, p, in.Tells(p))
			}
		}
	})
	if with == 0 || without == 0 {
		t.Errorf("%d with, %d without", with, without)
	}
}

// TestOctavesOfATuningNote: the note itself, then those within its range and ten semitones of the
// middle, the lower first.
func TestOctavesOfATuningNote(t *testing.T) {
	ends := map[int]bool{}
	for _, in := range Catalogue() {
		for n := in.Low - 12; n <= in.High+12; n++ {
			want := []pitch.Note{n}
			for _, o := range []pitch.Note{n - 12, n + 12} {
				if off := int(o - in.Middle); o >= in.Low && o <= in.High && off >= -10 && off <= 10 {
					want = append(want, o)
					ends[off] = true
				}
			}
			if got := in.octaves(n); !slices.Equal(got, want) {
				t.Errorf("%s: of %v %v, want %v", in.ID, n, got, want)
			}
		}
		for class := range pitch.Note(12) {
			n := in.nearest(60 + class)
			if off := n - in.Middle; n.Class() != (60+class).Class() || off > 6 || off < -6 {
				t.Errorf("%s: the nearest %v to %v is %v", in.ID, 60+class, in.Middle, n)
			}
		}
	}
	if !ends[10] || !ends[-10] {
		t.Errorf("no instrument has a note at the ends: %v", ends)
	}
}

// TestFirstPosition: of the notes that tell there the one that lies nearest to what was called, which
// counts twice, and to the middle; of two as near the lower.
func TestFirstPosition(t *testing.T) {
	for _, in := range Catalogue() {
		if !in.HandSlide {
			continue
		}
		for n := in.Low; n <= in.High; n++ {
			best, nearest := pitch.Note(0), math.MaxInt
			for m := in.Middle - 10; m <= in.Middle+10; m++ {
				ps := in.Paths(m)
				if len(ps) == 0 || ps[0].Side != "" || !in.Tells(ps[0]) {
					continue
				}
				if far := int(2*math.Abs(float64(m-n)) + math.Abs(float64(m-in.Middle))); far < nearest {
					best, nearest = m, far
				}
			}
			got, way, tells := in.firstPosition(n)
			if tells != (nearest < math.MaxInt) || tells && (got != best || way.Position != 1) {
				t.Errorf("%s near %v: %v %v, want %v", in.ID, n, got, way, best)
			}
		}
	}
}

// TestTemperatures: water freezes at 32 °F and boils at 212 (the scale's own points), and at 40 below
// both scales are one; a room that is refused is told in both.
func TestTemperatures(t *testing.T) {
	for c, f := range map[float64]float64{0: 32, 100: 212, -40: -40, 37: 98.6} {
		if got := Fahrenheit(c); math.Abs(got-f) > 1e-9 {
			t.Errorf("%g °C are %g °F, want %g", c, got, f)
		}
	}
	if _, err := EveningAt(50); err == nil || !strings.Contains(err.Error(), "50 °C, need 0 to 40 °C (32 to 104 °F)") {
		t.Errorf("%v", err)
	}
}

// TestPositionsAreReadExactly: to the last digit that was written.
func TestPositionsAreReadExactly(t *testing.T) {
	for text, want := range map[string]float64{"3.123456789012 position": 3.123456789012, "1st position": 1, "F attachment 7.9 position": 7.9, "1.1 pos.": 1.1} {
		if p, err := ParsePath(text); err != nil || p.Position != want {
			t.Errorf("%q: %+v, %v", text, p, err)
		}
	}
}
