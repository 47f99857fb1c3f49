package study

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

func find(t *testing.T, id instrument.ID) *instrument.Instrument {
	t.Helper()
	in, err := instrument.Find(id)
	if err != nil {
		t.Fatal(err)
	}
	return in
}

func settled(hz pitch.Hertz) Note {
	return Note{Reading: slide.Reading{Hz: hz, CI95: 0.5, Settled: true, Level: -20}}
}

// play answers every prompt and counts what was asked.
func play(t *testing.T, s Study, answer func(Prompt, float64) Note) (asked map[Act]int, rest float64) {
	t.Helper()
	asked = map[Act]int{}
	hand := 0.0
	for range 200 {
		p := s.Now()
		asked[p.Act]++
		switch p.Act {
		case Done:
			return asked, rest
		case Play:
			s.Take(answer(p, hand))
		case Rest:
			rest += p.Seconds
			s.Go()
		case Move:
			hand = p.ToMM
			s.Go()
		}
	}
	t.Fatal("a study must have an end")
	return nil, 0
}

func TestCentre(t *testing.T) {
	for _, c := range []struct {
		name  string
		cents []pitch.Cents
		words string
		want  pitch.Cents // range
		sd    float64
	}{
		{"one place", []pitch.Cents{0, 1, -1, 2, 0}, "one centre", 3, 1.1402},
		{"near", []pitch.Cents{0, 8, -4, 2, 5}, "That is near", 12, 4.6043},
		{"anywhere", []pitch.Cents{-20, 15, 3, -8, 12}, "Leave the slide", 35, 14.5017},
	} {
		s, err := New(Config{Kind: Centre, Instrument: find(t, "trumpet_bb")})
		if err != nil {
			t.Fatal(err)
		}
		i := 0
		asked, rest := play(t, s, func(p Prompt, _ float64) Note {
			n := settled(pitch.Reference{}.Frequency(p.Note).Shift(c.cents[i]))
			i++
			return n
		})
		r := s.Report()
		if asked[Play] != 5 || rest < 4*restBetween {
			t.Errorf("%s: asked for %d notes with %g s of rest, need 5 and %g", c.name, asked[Play], rest, 4*restBetween)
		}
		if r.Centre == nil || math.Abs(float64(r.Centre.Range-c.want)) > 1e-6 || math.Abs(float64(r.Centre.SD)-c.sd) > 1e-3 {
			t.Errorf("%s: %+v, want a range of %g and a deviation of %g cents", c.name, r.Centre, float64(c.want), c.sd)
		}
		if got := strings.Join(r.Words, " "); !strings.Contains(got, c.words) {
			t.Errorf("%s: %q, want it to say %q", c.name, got, c.words)
		}
	}
}

func TestNobodyPlaysForEver(t *testing.T) {
	for _, k := range Kinds {
		s, err := New(Config{Kind: k, Instrument: find(t, "tenor_trombone_bb")})
		if err != nil {
			t.Fatal(err)
		}
		asked, _ := play(t, s, func(Prompt, float64) Note { return Note{Reading: slide.Reading{Reason: "noise"}} })
		if most := 8 * triesEach; asked[Play] > most {
			t.Errorf("%s: asked for %d notes of one who gives none, need at most %d", k, asked[Play], most)
		}
		if r := s.Report(); len(r.Words) != 1 || r.Centre != nil || r.Bend != nil || r.HandSlide != nil || r.Tendencies != nil {
			t.Errorf("%s: report of nothing %+v, need one sentence", k, r)
		}
	}
}

// bent is a path that is straight for a second, goes down, back, up and back.
func bent(base pitch.Hertz, down, up, back float64) []Point {
	var path []Point
	for i := range 600 {
		t := float64(i) / 100
		c := 0.0
		switch {
		case t >= 1 && t < 3:
			c = -down * math.Sin(math.Pi*(t-1)/2)
		case t >= 3 && t < 5:
			c = up * math.Sin(math.Pi*(t-3)/2)
		}
		if t >= 4 {
			c += back * math.Min(1, t-4)
		}
		path = append(path, Point{t, base.Shift(pitch.Cents(c))})
	}
	return path
}

// Ten cents each way, and "too far" beyond fifteen: common practice, no source.
func TestBend(t *testing.T) {
	for _, c := range []struct {
		name           string
		down, up, back float64
		words          string
	}{
		{"as asked", 10, 10, 0, "as far both ways. The centre came back to the same place."},
		{"to fifteen", 14, 12, 1, "as far both ways"},
		{"too far", 18, 10, 0, "too far"},
		{"one way only", 12, 2, 0, "further down"},
		{"hardly", 3, 2, 0, "hardly moved"},
		{"stays up", 10, 10, 7, "ended about 7 cents higher"},
	} {
		s, err := New(Config{Kind: Bend, Instrument: find(t, "tenor_trombone_bb")})
		if err != nil {
			t.Fatal(err)
		}
		play(t, s, func(p Prompt, _ float64) Note {
			base := pitch.Reference{}.Frequency(p.Note)
			return Note{Reading: slide.Reading{Hz: base, Reason: "moving"}, Path: bent(base, c.down, c.up, c.back)}
		})
		r := s.Report()
		if r.Bend == nil || len(r.Bend.Bends) != bendTimes {
			t.Fatalf("%s: %+v, want %d bends", c.name, r.Bend, bendTimes)
		}
		// A reach counts when held for 0.15 s: the top of a two-second swing
		// loses 1.4 %.
		if math.Abs(float64(r.Bend.Down)-c.down) > 0.3 || c.back == 0 && math.Abs(float64(r.Bend.Up)-c.up) > 0.3 || math.Abs(float64(r.Bend.Back)-c.back) > 0.1 {
			t.Errorf("%s: down %.2f up %.2f back %.2f, want %g %g %g", c.name, r.Bend.Down, r.Bend.Up, r.Bend.Back, c.down, c.up, c.back)
		}
		if got := strings.Join(r.Words, " "); !strings.Contains(got, c.words) {
			t.Errorf("%s: %q, want it to say %q", c.name, got, c.words)
		}
		if r.Bend.TooFar != (c.name == "too far") {
			t.Errorf("%s: too far is %v", c.name, r.Bend.TooFar)
		}
	}
}

// The change of pitch by mm of travel at a position, from closed: first position
// is c/(2 f1) = 2.945 m long (343.2 m/s, 58.27 Hz), each position a semitone more,
// and both legs count.
func byTubes(position, mm float64) float64 {
	tube := 343.2 / 2 / 58.27 * math.Exp2((position-1)/12)
	return -1200 * math.Log2(1+2*mm/1000/tube)
}

func TestHandSlide(t *testing.T) {
	in := find(t, "tenor_trombone_bb")
	for _, c := range []struct {
		name     string
		position float64 // 0 = the usual three
		follows  float64 // share of the move that sounds
		ratio    float64 // the instrument's mm per cent over the model's
		verdict  slide.Verdict
		rows     string // positions and ways
	}{
		{"goes along", 0, 1, 1, slide.Went, "1+ 3+ 3- 5+ 5-"},
		{"a longer instrument", 0, 1, 1.1, slide.Went, "1+ 3+ 3- 5+ 5-"},
		{"held", 0, 0, 1, slide.Held, "1+ 3+ 3- 5+ 5-"},
		{"closed first goes out only", 1, 1, 1, slide.Went, "1+"},
		{"second", 2, 1, 1, slide.Went, "2+ 2-"},
		{"sixth", 6, 1, 1, slide.Went, "6+ 6-"},
		{"seventh, near the end of the slide", 7, 1, 1, slide.Went, "7+ 7-"},
	} {
		s, err := New(Config{Kind: HandSlide, Instrument: in, Position: c.position})
		if err != nil {
			t.Fatal(err)
		}
		play(t, s, func(p Prompt, hand float64) Note {
			x := byTubes(p.Path.Position, hand)
			return settled(pitch.Reference{}.Frequency(p.Note).Shift(pitch.Cents(x * c.follows / c.ratio)))
		})
		r := s.Report()
		if r.HandSlide == nil {
			t.Fatalf("%s: no table", c.name)
		}
		var rows []string
		for _, row := range r.HandSlide.Rows {
			way := "+"
			if row.MovedMM < 0 {
				way = "-"
			}
			rows = append(rows, fmt.Sprintf("%g%s", row.Position, way))
			if row.Follow != c.verdict {
				t.Errorf("%s, position %g: %s, want %s", c.name, row.Position, row.Follow, c.verdict)
			}
			if d := float64(row.Expected) - byTubes(row.Position, row.MovedMM); math.Abs(d) > 0.1 {
				t.Errorf("%s: %g mm from position %g should bring %.2f cents, by tubes %.2f more", c.name, row.MovedMM, row.Position, float64(row.Expected), -d)
			}
			// Flatter takes more millimetres than sharper, by 2^(x/1200).
			sign := math.Copysign(1, row.MovedMM)
			for x, mm := range map[float64]float64{5: row.Theory5, 10: row.Theory10} {
				if d := byTubes(row.Position, sign*mm) + sign*x; math.Abs(d) > 0.05 {
					t.Errorf("%s, position %g: %.2f mm are not %g cents but %.2f more", c.name, row.Position, sign*mm, x, d)
				}
			}
		}
		if got := strings.Join(rows, " "); got != c.rows {
			t.Errorf("%s: rows %s, want %s", c.name, got, c.rows)
		}
		l := r.HandSlide.Learned
		if c.verdict == slide.Went && c.position == 0 && (math.Abs(l.Ratio-c.ratio) > 0.08 || r.HandSlide.Rows[0].Own10 == 0) {
			t.Errorf("%s: learned %v, want %g", c.name, l, c.ratio)
		}
		if c.verdict == slide.Held && (l.Moves != 0 || r.HandSlide.Rows[0].Own10 != 0 || r.Try == "") {
			t.Errorf("held moves taught %v and advise %q, need nothing learned and a next step", l, r.Try)
		}
	}
}

// TestHandSlideTable checks the theory's columns. Ten cents are 1 - 2^(-1/120)
// = 0.58 % of a length; a position is a semitone, 5.9 %: so ten cents are
// about a tenth of the distance from a position to the next. The distances of
// positions are published: second about 3 1/2 in, third about 7 in, fourth
// 3 1/2 in beyond (It's Easy To Make Music, trombone page), so 10 cents around
// first are about 8.9 mm and 5 cents half of it; the figures of the trade, a
// finger's width for ten cents, are common practice without a source.
func TestHandSlideTable(t *testing.T) {
	s, err := New(Config{Kind: HandSlide, Instrument: find(t, "tenor_trombone_bb")})
	if err != nil {
		t.Fatal(err)
	}
	const firstStep = 3.5 * 25.4 // mm, from first to second position
	for i, row := range s.(*handSlide).rows {
		step := firstStep * math.Pow(2, (row.Position-1)/12)
		// The method book rounds to half an inch: 1 part in 14.
		if got := row.Theory10 / step; math.Abs(got-0.1) > 0.1/14+0.003 {
			t.Errorf("row %d: 10 cents are %.2f mm, %.3f of a position's %.1f mm, want about a tenth", i, row.Theory10, got, step)
		}
		if r := row.Theory10 / row.Theory5; math.Abs(r-2) > 0.01 {
			t.Errorf("row %d: 10 cents are %.3f times 5 cents", i, r)
		}
	}
}

func TestTendencies(t *testing.T) {
	in := find(t, "trumpet_bb")
	s, err := New(Config{Kind: Tendencies, Instrument: in})
	if err != nil {
		t.Fatal(err)
	}
	// All notes 12 cents sharp on top of what theory says of them: the main
	// slide's share is what the solver must find.
	play(t, s, func(p Prompt, _ float64) Note {
		return settled(pitch.Reference{}.Frequency(p.Note).Shift(in.Tendency(p.Path) + 12))
	})
	r := s.Report()
	if r.Tendencies == nil || len(r.Tendencies.Notes) != len(major) {
		t.Fatalf("%+v, want a map of %d notes", r.Tendencies, len(major))
	}
	for _, n := range r.Tendencies.Notes {
		if math.Abs(float64(n.Offset-n.Theory)-12) > 1e-6 {
			t.Errorf("%s: %.2f cents with theory %.2f beside, want 12 more", n.Written, n.Offset, n.Theory)
		}
	}
	sol := r.Tendencies.Solution
	if sol == nil || len(sol.Steps) == 0 || sol.Steps[0].Slide != instrument.Main || sol.Steps[0].MM() <= 0 {
		t.Errorf("solution %+v, want the main slide pulled", sol)
	}
}

func TestRefusals(t *testing.T) {
	for _, c := range []struct {
		name string
		c    Config
	}{
		{"no instrument", Config{Kind: Centre}},
		{"unknown study", Config{Kind: "scales", Instrument: find(t, "trumpet_bb")}},
		{"a position that there is not", Config{Kind: HandSlide, Instrument: find(t, "tenor_trombone_bb"), Position: 8}},
		{"no hand slide", Config{Kind: HandSlide, Instrument: find(t, "trumpet_bb")}},
		{"out of reach", Config{Kind: Centre, Instrument: find(t, "trumpet_bb"), Note: 20}},
	} {
		if _, err := New(c.c); err == nil {
			t.Errorf("%s: no error", c.name)
		}
	}
	s, _ := New(Config{Kind: Centre, Instrument: find(t, "trumpet_bb")})
	n := s.Now().Note
	if got := s.Take(settled(pitch.Reference{}.Frequency(n + 2))).In(phrase.Tongue{}); !strings.Contains(got, "another note") {
		t.Errorf("a wrong note is answered %q", got)
	}
}
