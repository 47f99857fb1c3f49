package instrument

import (
	"math"
	"testing"

	"bellrow/proto/pitch"
)

// What makes a note flat or sharp by nature: partials from harmonics n (1200
// log2 n against equal temperament: 5 is 13.69 flat, 3 is 1.96 sharp), fingerings
// from tubes that add up (1 + the sum of 2^(n/12)-1): arithmetic.
func TestTheoryHasTwoCauses(t *testing.T) {
	trumpet := find(t, "trumpet_bb")
	tube := func(semitones ...float64) float64 {
		sum, whole := 1.0, 0.0
		for _, n := range semitones {
			sum += math.Pow(2, n/12) - 1
			whole += n
		}
		return 100*whole - 1200*math.Log2(sum)
	}
	for _, c := range []struct {
		note, valves     string
		partial, fingers float64
	}{
		{"Bb4", "", 0, 0}, {"D5", "", -13.686, 0}, {"F4", "", 1.955, 0}, {"C4", "1-3", 1.955, tube(2, 3)},
		{"B3", "1-2-3", 1.955, tube(2, 1, 3)}, {"D4", "1-2", 1.955, tube(2, 1)}, {"D4", "3", 1.955, 0},
	} {
		p, err := trumpet.Resolve(Path{Valves: c.valves}, note(c.note))
		if err != nil {
			t.Fatal(err)
		}
		th := trumpet.Theory(p)
		near(t, c.note+" partial", float64(th.Partial), c.partial, 0.001)
		near(t, c.note+" valves", float64(th.Valves), c.fingers, 0.001)
		near(t, c.note+" whole", float64(th.Cents()), float64(trumpet.Tendency(p)), 1e-9)
	}
}

// The notes on which each instrument tunes when B flat, F or A is called, and
// how they are played: written from fingering charts (common practice, no
// source), one line for every instrument of the catalogue. A third valve alone
// stands where nothing better plays that note.
var tunes = map[ID][3][2]string{
	"piccolo_trumpet_bb":  {{"Bb5", "open"}, {"F5", "open"}, {"A5", "2"}},
	"soprano_cornet_eb":   {{"Bb4", "open"}, {"", ""}, {"A4", "2"}},
	"trumpet_c":           {{"Bb4", "1"}, {"F4", "1"}, {"A4", "3"}},
	"trumpet_bb":          {{"Bb4", "open"}, {"F4", "open"}, {"A4", "2"}},
	"cornet_bb":           {{"Bb4", "open"}, {"F4", "open"}, {"A4", "2"}},
	"flugelhorn_bb":       {{"Bb4", "open"}, {"F4", "open"}, {"A4", "2"}},
	"mellophone_f":        {{"Bb3", "1"}, {"F4", "open"}, {"A4", "3"}},
	"horn_double":         {{"Bb3", "F side 1"}, {"F4", "B♭ side open"}, {"A4", "B♭ side 2"}},
	"horn_f":              {{"Bb3", "1"}, {"F4", "open"}, {"A3", "3"}},
	"horn_bb":             {{"Bb3", "open"}, {"F4", "open"}, {"A3", "2"}},
	"tenor_horn_eb":       {{"Bb3", "open"}, {"", ""}, {"A3", "2"}},
	"alto_trombone_eb":    {{"Bb3", "1st position"}, {"Eb4", "1st position"}, {"Bb3", "1st position"}},
	"tenor_trombone_bb":   {{"Bb3", "1st position"}, {"F3", "1st position"}, {"Bb3", "1st position"}},
	"tenor_trombone_bbf":  {{"Bb3", "1st position"}, {"F3", "1st position"}, {"Bb3", "1st position"}},
	"bass_trombone_bb":    {{"Bb3", "1st position"}, {"F3", "1st position"}, {"Bb3", "1st position"}},
	"bass_trombone_bb_2v": {{"Bb3", "1st position"}, {"F3", "1st position"}, {"Bb3", "1st position"}},
	"baritone_bb_tc":      {{"Bb3", "open"}, {"F3", "open"}, {"A3", "2"}},
	"baritone_bb_bc":      {{"Bb3", "open"}, {"F3", "open"}, {"A3", "2"}},
	"euphonium_bb_bc":     {{"Bb3", "open"}, {"F3", "open"}, {"A3", "2"}},
	"euphonium_bb_tc":     {{"Bb3", "open"}, {"F3", "open"}, {"A3", "2"}},
	"euphonium_bb_4v":     {{"Bb3", "open"}, {"F3", "open"}, {"A3", "2"}},
	"tuba_f":              {{"Bb2", "1"}, {"F2", "open"}, {"A2", "3"}},
	"tuba_eb":             {{"Bb2", "open"}, {"F2", "4"}, {"A2", "2"}},
	"bass_eb_tc":          {{"Bb2", "open"}, {"F2", "4"}, {"A2", "2"}},
	"tuba_cc":             {{"Bb2", "1"}, {"F2", "1"}, {"A2", "3"}},
	"tuba_bbb":            {{"Bb2", "open"}, {"F2", "open"}, {"A2", "2"}},
	"bass_bb_tc":          {{"Bb2", "open"}, {"F2", "open"}, {"A2", "2"}},
	"sousaphone_bb":       {{"Bb2", "open"}, {"F2", "open"}, {"A2", "2"}},

	"piccolo_trumpet_a": {{"", ""}, {"", ""}, {"A5", "open"}},
	"trumpet_eb":        {{"Bb4", "open"}, {"", ""}, {"A4", "2"}},
	"trumpet_d":         {{"", ""}, {"", ""}, {"A4", "open"}},
	"flugelhorn_bb_4v":  {{"Bb4", "open"}, {"F4", "open"}, {"A4", "2"}},
	"wagner_tuba_bb":    {{"Bb3", "open"}, {"F3", "open"}, {"A3", "2"}},
	"wagner_tuba_f":     {{"Bb3", "1"}, {"F3", "open"}, {"A3", "3"}},
	"alto_horn_f":       {{"Bb3", "1"}, {"F4", "open"}, {"A4", "3"}},
	"valve_trombone_bb": {{"Bb3", "open"}, {"F3", "open"}, {"A3", "2"}},
	"cimbasso_f":        {{"Bb2", "1"}, {"F2", "open"}, {"A2", "3"}},
	"baritone_us":       {{"Bb3", "open"}, {"F3", "open"}, {"A3", "2"}},
	"euphonium_bb_3v":   {{"Bb3", "open"}, {"F3", "open"}, {"A3", "2"}},
	"tuba_f_5v":         {{"Bb2", "1"}, {"F2", "open"}, {"A2", "3"}},
	"tuba_f_6v":         {{"Bb2", "1"}, {"F2", "open"}, {"A2", "3"}},
	"tuba_eb_3v":        {{"Bb2", "open"}, {"", ""}, {"A2", "2"}},
	"tuba_eb_4v":        {{"Bb2", "open"}, {"F2", "4"}, {"A2", "2"}},
	"bass_eb_3v_tc":     {{"Bb2", "open"}, {"F2", "1-3"}, {"A2", "2"}},
	"tuba_cc_5v":        {{"Bb2", "1"}, {"F2", "1"}, {"A2", "3"}},
	"tuba_bbb_3v":       {{"Bb2", "open"}, {"F2", "open"}, {"A2", "2"}},
	"bass_bb_3v_tc":     {{"Bb2", "open"}, {"F2", "open"}, {"A2", "2"}},
	"contrabass_bb":     {{"Bb2", "open"}, {"F2", "open"}, {"A2", "2"}},
	"contrabass_g":      {{"", ""}, {"F2", "1"}, {"", ""}},
}

func TestTuningWays(t *testing.T) {
	for _, in := range Catalogue() {
		if _, has := tunes[in.ID]; !has && in.Of == "" {
			t.Errorf("%s has no tuning notes here", in.ID)
		}
	}
	for id, ways := range tunes {
		in := find(t, id)
		for i, call := range []string{"Bb4", "F4", "A4"} {
			n, p, tells := in.TuningWay(note(call))
			if want := ways[i]; want[0] == "" {
				if tells {
					t.Errorf("%s tunes %s on %v with %v, want no way that tells", id, call, n, p)
				}
			} else if !tells || n != note(want[0]) || p.String() != want[1] {
				t.Errorf("%s tunes %s on %v with %v (tells %v), want %s with %s", id, call, n, p, tells, want[0], want[1])
			}
		}
	}
}

// Whatever is called: the note lies in the range, and where it tells, theory is
// small and a hand slide closed; where it does not, no octave within ten semitones
// of the middle and no fingering would.
func TestTuningWayTells(t *testing.T) {
	for _, in := range Catalogue() {
		for class := range pitch.Note(12) {
			n, p, tells := in.TuningWay(class)
			if n < in.Low || n > in.High || in.Sounds(p) != n || p.Partial < 2 {
				t.Errorf("%s tunes class %d on %v with %v", in.ID, class, n, p)
			}
			if n.Class() != class.Class() && !in.HandSlide {
				t.Errorf("%s is asked for %v when class %d is called", in.ID, n, class)
			}
			if tells && (math.Abs(float64(in.Tendency(p))) >= 5 || in.HandSlide && p.Position != 1) {
				t.Errorf("%s tunes class %d on %v with %v, theory %+.1f", in.ID, class, n, p, float64(in.Tendency(p)))
			}
			for m := in.Middle - 6; !tells && m <= in.Middle+6; m++ {
				for _, q := range in.Paths(m) {
					th := in.Theory(q)
					if m.Class() == class.Class() && q.Partial > 1 && math.Abs(float64(th.Partial)) < 5 && math.Abs(float64(th.Valves)) < 5 {
						t.Errorf("%s could tune class %d on %v with %v", in.ID, class, m, q)
					}
				}
			}
		}
	}
}

func TestTellingNotes(t *testing.T) {
	for _, in := range Catalogue() {
		all := in.Telling()
		if len(all) < 2 {
			t.Errorf("%s has only %v to tune on, need two", in.ID, all)
		}
		for _, n := range all {
			if !in.Tells(in.Paths(n)[0]) {
				t.Errorf("%s is offered %v, which does not tell", in.ID, n)
			}
		}
	}
}
