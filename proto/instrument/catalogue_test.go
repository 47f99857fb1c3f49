package instrument

import (
	"encoding/json"
	"reflect"
	"strings"
	"testing"

	"bellrow/proto/pitch"
)

func TestCatalogueIsWhole(t *testing.T) {
	seen := map[ID]bool{}
	for _, in := range Catalogue() {
		if seen[in.ID] || in.ID == "" || in.Name == "" || in.Family == "" || in.Clef == "" || in.Source == "" {
			t.Errorf("entry %q is twice there or not whole: %+v", in.ID, in)
		}
		seen[in.ID] = true
		if in.Low >= in.High || in.Middle < in.Low || in.Middle > in.High {
			t.Errorf("%s: range %v to %v around %v", in.ID, in.Low, in.High, in.Middle)
		}
		if len(in.Slides) == 0 || in.Slides[0].ID != Main {
			t.Errorf("%s: the main slide is not first", in.ID)
		}
		for _, s := range in.Slides {
			if s.Legs > 0 && !(s.UsualMM >= 0 && s.UsualMM < s.TravelMM) {
				t.Errorf("%s: %s usually at %g of %g mm", in.ID, s.Name, s.UsualMM, s.TravelMM)
			}
			if s.ID == Bell {
				continue
			}
			if s.Name == "" || s.Legs < 1 || s.End != ComesOff && s.End != Stops {
				t.Errorf("%s: slide %+v is not whole", in.ID, s)
			}
			if lo, hi := s.Reach(); lo != 0 || hi <= s.UsualMM && s.End == Stops || hi > s.TravelMM || s.End == ComesOff && hi == s.TravelMM {
				t.Errorf("%s: the %s reaches from %g to %g of %g mm", in.ID, s.Name, lo, hi, s.TravelMM)
			}
		}
	}
	if len(seen) < 24 {
		t.Errorf("%d instruments, want at least 24", len(seen))
	}
}

// How far slides go by their kind: a stopped one all the way, of a free one
// something stays in (common practice, no source).
func TestReach(t *testing.T) {
	for _, c := range []struct {
		id    ID
		slide SlideID
		hi    float64
	}{
		{"trumpet_bb", Main, 35}, {"trumpet_bb", First, 15}, {"trumpet_bb", Third, 25}, {"flugelhorn_bb", Main, 20},
		{"piccolo_trumpet_bb", Main, 5}, {"tenor_trombone_bb", Hand, 622}, {"tenor_trombone_bbf", FMain, 60}, {"tuba_bbb", Third, 50},
	} {
		s, _ := find(t, c.id).Slide(c.slide)
		if _, hi := s.Reach(); hi != c.hi {
			t.Errorf("the %s of %s goes to %g mm, want %g", s.Name, c.id, hi, c.hi)
		}
	}
}

// Second harmonics of the table in Pitch of brass instruments (Princeton wiki
// copy), and fundamentals of the equal-tempered scale.
func TestFundamentals(t *testing.T) {
	for id, want := range map[ID]string{
		"piccolo_trumpet_bb": "Bb3", "soprano_cornet_eb": "Eb3", "trumpet_c": "C3", "trumpet_bb": "Bb2", "cornet_bb": "Bb2", "flugelhorn_bb": "Bb2",
		"mellophone_f": "F2", "horn_f": "F1", "horn_double": "F1", "horn_bb": "Bb1", "tenor_horn_eb": "Eb2", "alto_trombone_eb": "Eb2",
		"tenor_trombone_bb": "Bb1", "bass_trombone_bb": "Bb1", "baritone_bb_tc": "Bb1", "euphonium_bb_bc": "Bb1",
		"tuba_f": "F1", "tuba_eb": "Eb1", "tuba_cc": "C1", "tuba_bbb": "Bb0", "sousaphone_bb": "Bb0",
	} {
		n, x := pitch.Reference{}.Nearest(find(t, id).Fundamental)
		if n != note(want) || x > 0.01 || x < -0.01 {
			t.Errorf("%s stands in %v %+.3f cents, want %s", id, n, float64(x), want)
		}
	}
}

func TestFindSuggests(t *testing.T) {
	for typed, want := range map[ID]string{"trumpet": "trumpet_bb", "trumpt_bb": "trumpet_bb", "horn": "horn_f", "Tuba": "tuba_f", "euphonium": "euphonium_bb_bc", "tenor trombone": "tenor_trombone_bb", "": "nearest"} {
		in, err := Find(typed)
		if err == nil {
			t.Errorf("%q is found as %s", typed, in.ID)
			continue
		}
		if !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %s among the nearest", typed, err, want)
		}
	}
}

func TestCatalogueCannotBeReordered(t *testing.T) {
	c := Catalogue()
	c[0] = nil
	if Catalogue()[0] == nil {
		t.Error("a caller can change the catalogue")
	}
}

func TestInstrumentsSurviveJSON(t *testing.T) {
	for _, in := range Catalogue() {
		b, err := json.Marshal(in)
		if err != nil {
			t.Fatal(err)
		}
		var back Instrument
		if err := json.Unmarshal(b, &back); err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(*in, back) {
			t.Errorf("%s comes back as %+v", in.ID, back)
		}
	}
}

// Normal pulls with a source: half an inch on a B flat trumpet (J. Buckner;
// D. Newell 1995) and on horn slides (banddirectorstalkshop.com), a quarter of
// an inch on a separate B flat slide (hornstuff.com).
func TestPublishedPulls(t *testing.T) {
	const inch = 25.4
	near(t, "trumpet", find(t, "trumpet_bb").MM(nil, Main), inch/2, 0.05)
	near(t, "horn", find(t, "horn_double").MM(nil, Main), inch/2, 0.05)
	near(t, "horn, F slide", find(t, "horn_double").MM(nil, FMain), inch/2, 0.05)
	near(t, "horn, B flat slide", find(t, "horn_double").MM(nil, BbMain), inch/4, 0.05)
	// 12.7 mm on a trumpet are a reserve of about 30 cents (arithmetic).
	in := find(t, "trumpet_bb")
	near(t, "reserve, cents", float64(pitch.Between(in.Pitch(Path{Partial: 4}, nil, Air{}), in.Pitch(Path{Partial: 4}, Settings{Main: 0}, Air{}))), 30, 1)
}
