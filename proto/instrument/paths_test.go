package instrument

import (
	"slices"
	"testing"

	"bellrow/proto/pitch"
)

// Standard fingering charts (common practice, no source), by sounding note.
func TestUsualWay(t *testing.T) {
	for _, c := range []struct {
		id         ID
		note, want string
	}{
		{"trumpet_bb", "Bb4", "open"}, {"trumpet_bb", "C4", "1-3"}, {"trumpet_bb", "E3", "1-2-3"}, {"trumpet_bb", "B3", "1-2-3"},
		{"trumpet_bb", "D4", "1-2"}, {"trumpet_bb", "Eb4", "1"}, {"trumpet_bb", "C5", "1"}, {"trumpet_bb", "Db5", "2"}, {"trumpet_bb", "D5", "open"},
		{"trumpet_bb", "Gb4", "2-3"}, {"trumpet_bb", "G5", "1-2"}, {"trumpet_bb", "Bb5", "open"}, {"trumpet_bb", "C6", "1"},
		{"horn_double", "F4", "B♭ side open"}, {"horn_double", "C4", "F side open"}, {"horn_double", "D4", "B♭ side open"}, {"horn_double", "G3", "F side 1"},
		{"horn_f", "F4", "open"}, {"horn_f", "G4", "1"}, {"horn_f", "A4", "open"}, {"horn_bb", "F4", "open"},
		{"tenor_trombone_bb", "Bb3", "1st position"}, {"tenor_trombone_bb", "B3", "4th position"}, {"tenor_trombone_bb", "E2", "7th position"},
		{"tenor_trombone_bbf", "C3", "F attachment 1st position"}, {"tenor_trombone_bbf", "C2", "F attachment 6th position"}, {"tenor_trombone_bbf", "B1", "F attachment 7th position"},
		{"bass_trombone_bb_2v", "Db2", "F attachment 5th position"}, {"bass_trombone_bb_2v", "C2", "both valves 3rd position"}, {"bass_trombone_bb_2v", "B1", "both valves 4th position"},
		{"euphonium_bb_bc", "C3", "4"}, {"euphonium_bb_bc", "B2", "2-4"}, {"euphonium_bb_bc", "Bb3", "open"}, {"euphonium_bb_bc", "E2", "2-4"},
		{"baritone_bb_tc", "C3", "1-3"}, {"tuba_cc", "Gb1", "2-4"}, {"tuba_cc", "G1", "4"}, {"sousaphone_bb", "F1", "1-3"},
	} {
		in := find(t, c.id)
		ps := in.Paths(note(c.note))
		if len(ps) == 0 || ps[0].String() != c.want {
			t.Errorf("%s plays %s with %v, want %s first", c.id, c.note, ps, c.want)
		}
	}
}

// Lowest trombone position of each note from E2 (OEIS A309909).
func TestLowestPositions(t *testing.T) {
	want := []int{7, 6, 5, 4, 3, 2, 1, 7, 6, 5, 4, 3, 2, 1, 5, 4, 3, 2, 1, 4, 3, 2, 1, 3, 2, 1, 3, 2, 3, 2, 1}
	in := find(t, "tenor_trombone_bb")
	n := note("E2")
	for i, position := range want {
		ps := in.Paths(n + pitch.Note(i))
		if len(ps) == 0 || int(ps[0].Position) != position {
			t.Errorf("%v is played in %v, want %d first", n+pitch.Note(i), ps, position)
		}
	}
}

// Alternates named in M. Everett, Nuances of Alternate Positions, The
// Instrumentalist, 2021.
func TestAlternatePositions(t *testing.T) {
	in := find(t, "tenor_trombone_bb")
	for name, positions := range map[string][]float64{"F3": {6}, "Bb3": {5}, "D4": {4}, "F4": {6}, "Bb4": {3, 5}} {
		for _, want := range positions {
			if !slices.ContainsFunc(in.Paths(note(name)), func(p Path) bool { return p.Position == want }) {
				t.Errorf("%s lacks position %g: %v", name, want, in.Paths(note(name)))
			}
		}
	}
	// Ab4 in first position would need the slide 26 mm further in (lowbrasslife.com).
	if slices.ContainsFunc(in.Paths(note("Ab4")), func(p Path) bool { return p.Position == 1 }) {
		t.Error("Ab4 is offered in first position")
	}
}

// Every note of an instrument's range can be played, every path sounds its
// note, and the preferred one is within a quarter tone of it.
func TestPathsSoundTheirNote(t *testing.T) {
	for _, in := range Catalogue() {
		for n := in.Low; n <= in.High; n++ {
			ps := in.Paths(n)
			if len(ps) == 0 {
				if !outOfReach(in, n) {
					t.Errorf("%s cannot play %v", in.ID, n)
				}
				continue
			}
			for _, p := range ps {
				if in.Sounds(p) != n {
					t.Errorf("%s: %v partial %d sounds %v, not %v", in.ID, p, p.Partial, in.Sounds(p), n)
				}
			}
			deep := in.Valves == 4 && !in.Compensating && in.lowered(ps[0]) >= 8 // sharp beyond use, and said to be
			if x := in.Tendency(ps[0]); (x > 60 || x < -50) && ps[0].Position < 7 && !deep {
				t.Errorf("%s plays %v with %v, %.0f cents out by theory", in.ID, n, ps[0], float64(x))
			}
		}
	}
}

// outOfReach names the gaps that are real: without a fourth valve or an
// attachment nothing lies between the pedal notes and the second partial.
func outOfReach(in *Instrument, n pitch.Note) bool {
	return in.Valves == 3 && n < in.root()+12-6
}

// Theory beside the harmonic series (arithmetic): 5 and 10 low, 3, 6 and 12
// high, 7 and 14 very low (The Teaching of Instrumental Music, 5th ed., p. 201).
func TestTendencyOfPartials(t *testing.T) {
	in := find(t, "trumpet_bb")
	for partial, want := range map[int]float64{
		1: 0, 2: 0, 3: 1.955, 4: 0, 5: -13.686, 6: 1.955, 7: -31.174, 8: 0, 9: 3.910, 10: -13.686, 11: -48.682, 12: 1.955, 13: 40.528, 14: -31.174, 15: -11.731, 16: 0,
	} {
		near(t, "deviation of a partial", float64(in.Tendency(Path{Partial: partial})), want, 0.001)
	}
}

func TestWrittenAndSounding(t *testing.T) {
	for _, c := range []struct {
		id       ID
		sounding int
		source   string
	}{
		{"trumpet_bb", 70, "JMU brass pedagogy, Fundamentals, 25 May 2016"},
		{"horn_f", 65, "the same; P. Farkas: third-space C is F above middle C"},
		{"horn_double", 65, "the same"},
		{"bass_eb_tc", 51, "OpenStax transposing instruments: an octave and a major sixth"},
		{"bass_bb_tc", 46, "OpenStax transposing instruments: two octaves and a major second"},
		{"euphonium_bb_tc", 58, "studystack.com: a major ninth"},
		{"tuba_cc", 72, "concert pitch"},
		{"piccolo_trumpet_bb", 82, "from memory"},
	} {
		in := find(t, c.id)
		const c5 = 72
		if got := in.Sounding(c5); int(got) != c.sounding {
			t.Errorf("%s: written C5 sounds %v, want %d (%s)", c.id, got, c.sounding, c.source)
		}
		if got := in.Written(in.Sounding(c5)); got != c5 {
			t.Errorf("%s: written C5 comes back as %v", c.id, got)
		}
	}
}

func TestTuningNote(t *testing.T) {
	for _, c := range []struct {
		id         ID
		call, want string
	}{
		{"trumpet_bb", "Bb3", "Bb4"}, {"trumpet_bb", "F2", "F4"}, {"trumpet_bb", "A4", "A4"},
		{"horn_f", "F3", "F4"}, {"horn_double", "Bb4", "Bb3"}, {"tenor_trombone_bb", "Bb4", "Bb3"}, {"tenor_trombone_bb", "F4", "F3"},
		{"euphonium_bb_tc", "Bb2", "Bb3"}, {"tuba_bbb", "Bb3", "Bb2"}, {"tuba_eb", "F4", "F2"}, {"tuba_f", "Bb4", "Bb2"}, {"tenor_trombone_bb", "A4", "Bb3"},
	} {
		if got := find(t, c.id).TuningNote(note(c.call)); got != note(c.want) {
			t.Errorf("%s tunes %s on %v, want %s", c.id, c.call, got, c.want)
		}
	}
}

func TestResolve(t *testing.T) {
	trumpet := find(t, "trumpet_bb")
	p, err := trumpet.Resolve(Path{Valves: "1-3"}, note("C4"))
	if err != nil || p.Partial != 3 {
		t.Errorf("1-3 for C4 is partial %d, %v; want 3", p.Partial, err)
	}
	if _, err := trumpet.Resolve(Path{Valves: "1-2"}, note("Bb4")); err == nil {
		t.Error("1-2 plays B flat 4")
	}
	horn := find(t, "horn_double")
	if p, err := horn.Resolve(Path{}, note("F4")); err != nil || p.Side != "Bb" {
		t.Errorf("open F4 on a double horn is %v, %v; want the B flat side", p, err)
	}
	if p, err := horn.Resolve(Path{Side: "F"}, note("F4")); err != nil || p.Partial != 8 {
		t.Errorf("F4 on the F side is partial %d, %v; want 8", p.Partial, err)
	}
	trombone := find(t, "tenor_trombone_bb")
	if p, err := trombone.Resolve(Path{Position: 4}, note("D4")); err != nil || p.Partial != 6 {
		t.Errorf("D4 in fourth is partial %d, %v; want 6", p.Partial, err)
	}
}
