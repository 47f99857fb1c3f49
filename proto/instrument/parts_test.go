package instrument

import (
	"encoding/csv"
	"os"
	"strconv"
	"strings"
	"testing"

	"bellrow/proto/pitch"
)

// outside names, for entries of the catalogue, the same part in the list of a
// notation program (testdata/README.md). The note beside the rest says where
// their transposition comes from.
var outside = map[ID]string{
	"piccolo_trumpet_bb": "bb-piccolo-trumpet", "piccolo_trumpet_a": "a-piccolo-trumpet", "trumpet_eb": "eb-trumpet", "trumpet_d": "d-trumpet",
	"soprano_cornet_eb": "eb-cornet", "trumpet_c": "c-trumpet", "trumpet_bb": "bb-trumpet", "cornet_bb": "bb-cornet", "flugelhorn_bb": "flugelhorn",
	"flugelhorn_bb_4v": "flugelhorn", "mellophone_f": "mellophone", "horn_double": "horn", "horn_f": "horn", "horn_bb": "horn",
	"horn_double_eb": "eb-horn", "horn_f_eb": "eb-horn", "horn_bb_eb": "eb-horn", "horn_double_d": "d-horn", "horn_f_d": "d-horn", "horn_bb_d": "d-horn",
	"alto_horn_f": "f-alto-horn", "tenor_horn_eb_f": "f-alto-horn", "tenor_horn_eb": "eb-alto-horn", "alto_trombone_eb": "alto-trombone",
	"tenor_trombone_bb": "tenor-trombone", "tenor_trombone_bb_tc": "trombone-treble", "tenor_trombone_bbf": "tenor-trombone", "tenor_trombone_bbf_tc": "trombone-treble",
	"bass_trombone_bb": "bass-trombone", "bass_trombone_bb_2v": "bass-trombone", "valve_trombone_bb": "tenor-trombone", "valve_trombone_bb_tc": "trombone-treble",
	"cimbasso_f": "cimbasso", "baritone_bb_bc": "baritone-horn", "baritone_bb_tc": "baritone-horn-treble",
	"baritone_us": "baritone-horn", "baritone_us_tc": "baritone-horn-treble", "euphonium_bb_bc": "euphonium", "euphonium_bb_tc": "euphonium-treble",
	"euphonium_bb_3v": "euphonium", "euphonium_bb_3v_tc": "euphonium-treble", "euphonium_bb_4v": "euphonium", "euphonium_bb_4v_tc": "euphonium-treble",
	"tuba_f": "f-tuba", "tuba_f_5v": "f-tuba", "tuba_f_6v": "f-tuba", "tuba_eb": "eb-tuba", "tuba_eb_3v": "eb-tuba", "tuba_eb_4v": "eb-tuba",
	"bass_eb_tc": "eb-tuba-treble", "bass_eb_3v_tc": "eb-tuba-treble", "tuba_cc": "c-tuba", "tuba_cc_5v": "c-tuba", "tuba_bbb": "bb-tuba", "tuba_bbb_3v": "bb-tuba",
	"bass_bb_tc": "bb-tuba-treble", "bass_bb_3v_tc": "bb-tuba-treble", "sousaphone_bb": "sousaphone", "contrabass_bb": "sousaphone",
	// That list writes Wagner tubas in the bass clef; parts have both (common
	// practice, no source). Its transposition is the one of the treble clef here.
	"wagner_tuba_bb": "bb-wagner-tuba", "wagner_tuba_f": "f-wagner-tuba",
}

// unlisted are parts that the list has not, with the semitones that they add and
// where those come from.
var unlisted = map[ID]struct {
	transposition int
	clef, source  string
}{
	"horn_double_bc": {-7, "bass", "common practice, no source"}, "horn_f_bc": {-7, "bass", "the same"}, "horn_bb_bc": {-7, "bass", "the same"},
	"horn_double_bc_old": {5, "bass", "an octave below new notation: TestOldBassClefOfHorns"}, "horn_f_bc_old": {5, "bass", "the same"}, "horn_bb_bc_old": {5, "bass", "the same"},
	"tenor_trombone_bb_tenor": {0, "tenor", "concert pitch"}, "tenor_trombone_bb_alto": {0, "alto", "concert pitch"},
	"tenor_trombone_bbf_tenor": {0, "tenor", "concert pitch"}, "tenor_trombone_bbf_alto": {0, "alto", "concert pitch"},
	"bass_trombone_bb_tc": {-14, "treble", "as a tenor trombone's"}, "bass_trombone_bb_2v_tc": {-14, "treble", "the same"},
	"contrabass_g": {-29, "treble", "its open second harmonic, G1, is written C4: TestOpenTubeIsWrittenC"},
}

// outsidePart is a line of testdata/parts.csv.
type outsidePart struct {
	transposition            int
	clef                     string
	low, high, least, utmost pitch.Note // of amateurs, of professionals
}

func outsideParts(t *testing.T) map[string]outsidePart {
	t.Helper()
	f, err := os.Open("testdata/parts.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	lines, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	all := map[string]outsidePart{}
	for _, l := range lines[1:] {
		var n [5]int
		for i, field := range []int{1, 3, 4, 5, 6} {
			if n[i], err = strconv.Atoi(l[field]); err != nil {
				t.Fatal(err)
			}
		}
		all[l[0]] = outsidePart{n[0], l[2], pitch.Note(n[1]), pitch.Note(n[2]), pitch.Note(n[3]), pitch.Note(n[4])}
	}
	return all
}

// rangeApart is how far an end of a range may lie from the list's, in semitones:
// both are somebody's choice. A wrong octave shows.
const rangeApart = 9

// TestPartsAgainstAnotherProgram: every entry has the transposition and the clef
// of its part, and a range like the one that another program knows.
func TestPartsAgainstAnotherProgram(t *testing.T) {
	clefs := map[string]string{"G": "treble", "F": "bass", "C3": "alto", "G8vb": "treble", "F8vb": "bass", "G8va": "treble"}
	list := outsideParts(t)
	for _, in := range Catalogue() {
		if u, ok := unlisted[in.ID]; ok {
			if in.Transposition != u.transposition || in.Clef != u.clef {
				t.Errorf("%s adds %d in %s clef, want %d in %s (%s)", in.ID, in.Transposition, in.Clef, u.transposition, u.clef, u.source)
			}
			continue
		}
		p, ok := list[outside[in.ID]]
		if !ok {
			t.Errorf("%s is compared with nothing", in.ID)
			continue
		}
		if in.Transposition != p.transposition || in.Clef != clefs[p.clef] && !strings.HasPrefix(string(in.ID), "wagner") {
			t.Errorf("%s adds %d in %s clef, the list has %d in %s", in.ID, in.Transposition, in.Clef, p.transposition, p.clef)
		}
		if in.Low > p.low+rangeApart || in.Low < p.least-rangeApart || in.High < p.high-rangeApart || in.High > p.utmost+rangeApart {
			t.Errorf("%s sounds from %v to %v, the list has %v to %v, at the utmost %v to %v", in.ID, in.Low, in.High, p.low, p.high, p.least, p.utmost)
		}
	}
}

// TestAnotherPartIsTheSameInstrument: under another clef or transposition
// nothing but what is written changes.
func TestAnotherPartIsTheSameInstrument(t *testing.T) {
	seen := 0
	for _, in := range Catalogue() {
		if in.Of == "" {
			continue
		}
		seen++
		own := find(t, in.Of)
		if own.Of != "" || in.Family != own.Family || in.Low != own.Low || in.High != own.High || in.Fundamental != own.Fundamental {
			t.Errorf("%s is not %s with another part", in.ID, in.Of)
		}
		if in.Transposition == own.Transposition && in.Clef == own.Clef {
			t.Errorf("%s reads as %s does", in.ID, in.Of)
		}
		for n := in.Low; n <= in.High; n++ {
			a, b := in.Paths(n), own.Paths(n)
			if len(a) != len(b) || len(a) > 0 && a[0] != b[0] {
				t.Errorf("%s plays %v with %v, %s with %v", in.ID, n, a, in.Of, b)
			}
		}
	}
	if seen < 20 {
		t.Errorf("%d further parts, want 20 at least", seen)
	}
}

// The written range of a part under its clef lies on or near the staff, the
// bottom lines being E4, G2, F3 and D3: within an octave and a half of it, so that
// a part under a wrong clef or in a wrong octave shows.
func TestPartsLieOnTheirStaff(t *testing.T) {
	middle := map[string]pitch.Note{"treble": note("B4"), "bass": note("D3"), "alto": note("C4"), "tenor": note("A3")}
	for _, in := range Catalogue() {
		if d := in.Written(in.Middle) - middle[in.Clef]; d > 18 || d < -18 {
			t.Errorf("%s: its middle is written %v in %s clef", in.ID, in.Written(in.Middle), in.Clef)
		}
	}
}

// TestFiveAndSixValves: the fifth and sixth tube are in tune with the fourth
// down, and long alone (common practice, no source); 1-2-4-5 then lies nine
// semitones down. Lengths by arithmetic: 1 + the sum of the tubes, 2^(n/12)-1 each,
// the fifth's and sixth's times 2^(5/12).
func TestFiveAndSixValves(t *testing.T) {
	six := find(t, "tuba_f_6v")
	for _, c := range []struct {
		valves  string
		lowered int
		cents   float64
	}{
		{"4-5", 7, 0}, {"4-6", 6, 0}, {"2-3-5", 6, 2.5}, {"1-2-6", 4, -1.9}, {"4-5-6", 8, 10.6}, {"2-3-4", 8, 4.3}, {"2-4-5", 8, 32.6}, {"1-2-4-5", 9, 1.6},
	} {
		p := Path{Partial: 2, Valves: c.valves}
		if got := six.lowered(p); got != c.lowered {
			t.Errorf("%s lowers by %d, want %d", c.valves, got, c.lowered)
		}
		near(t, c.valves+", cents", float64(six.Tendency(p)), c.cents, 0.1)
	}
	if _, err := ParsePath("1-2-4-5"); err != nil {
		t.Error(err)
	}
	// What four valves leave out or give far too sharp, five and six play within a
	// third of a semitone, all the way down (the test can fail: four do not).
	for _, id := range []ID{"tuba_cc_5v", "tuba_f_5v", "tuba_f_6v", "cimbasso_f"} {
		in := find(t, id)
		for n := in.root() + 1; n <= in.root()+12; n++ {
			ps := in.Paths(n)
			if len(ps) == 0 || ps[0].Partial != 2 || in.Theory(ps[0]).Valves > farFourth || in.Theory(ps[0]).Valves < -farFourth {
				t.Errorf("%s plays %v with %v", id, n, ps)
			}
		}
	}
	if four := find(t, "tuba_cc"); four.Theory(four.Paths(note("E1"))[0]).Valves < farFourth {
		t.Error("four valves without compensation give a true low E")
	}
}

// Three valves with compensation (D. Blaikley's of 1874, from memory): the third
// lengthens the others, so that 1-3 is as true as 1, 1-2-3 as 1-2.
func TestThreeValvesCompensate(t *testing.T) {
	comp := find(t, "bass_bb_3v_tc")
	for _, v := range []string{"1", "2", "1-2"} {
		near(t, v+"-3 against "+v, float64(comp.Tendency(Path{Partial: 2, Valves: v + "-3"})), float64(comp.Tendency(Path{Partial: 2, Valves: v})), 1e-9)
	}
}

// outsideWinds names the rest of the band in the same list.
var outsideWinds = map[ID]string{
	"piccolo_flute": "piccolo", "flute": "flute", "alto_flute": "alto-flute", "bass_flute": "bass-flute", "oboe": "oboe", "oboe_damore": "oboe-d'amore",
	"english_horn": "english-horn", "bassoon": "bassoon", "contrabassoon": "contrabassoon", "clarinet_eb": "eb-clarinet", "clarinet_c": "c-clarinet",
	"clarinet_bb": "bb-clarinet", "clarinet_a": "a-clarinet", "basset_horn": "basset-horn", "alto_clarinet": "alto-clarinet", "bass_clarinet": "bass-clarinet",
	"contra_alto_clarinet": "contra-alto-clarinet", "contrabass_clarinet": "contrabass-clarinet", "soprano_saxophone": "soprano-saxophone",
	"alto_saxophone": "alto-saxophone", "tenor_saxophone": "tenor-saxophone", "baritone_saxophone": "baritone-saxophone", "bass_saxophone": "bass-saxophone",
}

// TestRestOfTheBand: woodwinds have the parts that another program knows, one
// nameless way of playing each note, and no slide, theory or millimetres.
func TestRestOfTheBand(t *testing.T) {
	clefs := map[string]string{"G": "treble", "F": "bass", "G8vb": "treble", "F8vb": "bass", "G8va": "treble"}
	list := outsideParts(t)
	winds := Band()[len(Catalogue()):]
	if len(winds) != len(outsideWinds) {
		t.Errorf("%d woodwinds, %d are compared", len(winds), len(outsideWinds))
	}
	for _, in := range winds {
		p, ok := list[outsideWinds[in.ID]]
		if !ok || in.Transposition != p.transposition || in.Clef != clefs[p.clef] {
			t.Errorf("%s adds %d in %s clef, the list has %+v", in.ID, in.Transposition, in.Clef, p)
		}
		if in.Low > p.low || in.Low < p.least-2 || in.High < p.high-2 || in.High > p.utmost+2 {
			t.Errorf("%s sounds from %v to %v, the list has %v to %v, at the utmost %v to %v", in.ID, in.Low, in.High, p.low, p.high, p.least, p.utmost)
		}
		if got, err := Find(in.ID); err != nil || got != in || in.Tuned() {
			t.Errorf("%s is found as %v, %v", in.ID, got, err)
		}
		for n := in.Low; n <= in.High; n++ {
			ps := in.Paths(n)
			if len(ps) != 1 || ps[0].String() != "" || in.Tendency(ps[0]) != 0 || in.Theory(ps[0]) != (Theory{}) || in.Tells(ps[0]) || in.MoveMM(ps[0], Main, nil, 10) != 0 {
				t.Errorf("%s plays %v with %v", in.ID, n, ps)
			}
		}
		for class := range pitch.Note(12) {
			if n, _, tells := in.TuningWay(class); tells || n.Class() != int(class) || n < in.Low || n > in.High {
				t.Errorf("%s tunes class %d on %v, tells %v", in.ID, class, n, tells)
			}
		}
	}
	for _, in := range Catalogue() {
		if !in.Tuned() {
			t.Errorf("%s has no slide", in.ID)
		}
	}
}
