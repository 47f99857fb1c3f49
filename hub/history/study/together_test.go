package study

import (
	"math"
	"strings"
	"testing"
)

// Four players bend, one of whom ends high, and one plays nothing that can be
// followed. Ten cents each way are common practice, no source.
func TestBendTogether(t *testing.T) {
	two := func(down, up, back float64) [][]Point {
		return [][]Point{bent(233, down, up, back), bent(233, down, up, back)}
	}
	s := BendTogether([]Bender{
		{"first trumpet", two(10, 10, 0)}, {"second trumpet", two(12, 8, 0)}, {"horn", two(11, 9, 9)}, {"tuba", two(18, 10, 0)}, {"euphonium", nil},
	})
	if len(s.Players) != 5 || s.Players[4].Bend != nil || s.Came != 3 {
		t.Fatalf("%+v, want five players, one unheard, three back at their centre", s)
	}
	// Medians of 10 12 11 18 down and 10 8 10 up, and the horn's, which goes on
	// rising from 9; the top of a swing loses 1.4 %.
	if math.Abs(float64(s.Down)-11.5) > 0.3 || math.Abs(float64(s.Up)-10) > 0.3 || s.Back != 0 && math.Abs(float64(s.Back)) > 0.1 {
		t.Errorf("down %.2f, up %.2f, back %.2f", s.Down, s.Up, s.Back)
	}
	words := strings.Join(s.Words, " ")
	for _, want := range []string{"Heard 4 of 5.", "3 of 4 came back", "half as much is plenty"} {
		if !strings.Contains(words, want) {
			t.Errorf("the leader is told %q, want %q", words, want)
		}
	}
	for _, p := range s.Players {
		if strings.Contains(words, p.Label) {
			t.Errorf("the leader is told of the %s: %q", p.Label, words)
		}
		if len(p.Words) == 0 {
			t.Errorf("the %s is told nothing", p.Label)
		}
	}
	if got := strings.Join(s.Players[2].Words, " "); !strings.Contains(got, "ended about 9 cents higher") {
		t.Errorf("the horn is told %q", got)
	}
	if s := BendTogether(nil); len(s.Words) != 1 {
		t.Errorf("nobody: %+v", s)
	}
}

// Each player's own centre is the measure: a section that plays a third apart, or
// is out of tune, reads the same.
func TestBendTogetherKnowsNoTarget(t *testing.T) {
	a := BendTogether([]Bender{{"a", [][]Point{bent(233, 10, 8, 2)}}, {"b", [][]Point{bent(120, 10, 8, 2)}}})
	b := BendTogether([]Bender{{"a", [][]Point{bent(240, 10, 8, 2)}}, {"b", [][]Point{bent(151, 10, 8, 2)}}})
	if math.Abs(float64(a.Down-b.Down)) > 1e-9 || math.Abs(float64(a.Up-b.Up)) > 1e-9 || math.Abs(float64(a.Back-b.Back)) > 1e-9 {
		t.Errorf("%+v and %+v", a, b)
	}
}

// The cues make a note that the measure can follow, and rest at least as long.
func TestBendCues(t *testing.T) {
	playing := 0.0
	for _, c := range BendCues[:len(BendCues)-1] {
		playing += c.Seconds
	}
	if BendCues[0].Seconds < straightTo || playing < bendShortest || BendCues[len(BendCues)-1].Seconds < playing {
		t.Errorf("straight for %g s, %g s in all, %g s of rest", BendCues[0].Seconds, playing, BendCues[len(BendCues)-1].Seconds)
	}
}
