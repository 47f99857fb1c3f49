package habits

import (
	"math"
	"testing"

	"bellrow/hub/history"
)

// TestFewAreAccused is the trial made small: the rates themselves are measured
// by the proof over many more sections.
func TestFewAreAccused(t *testing.T) {
	r, err := Play(t.Context(), Config{Sections: 3, Days: 40, Seed: 20077})
	if err != nil {
		t.Fatal(err)
	}
	// 1 % is wanted: of 72 months, 4 or more would come by chance once in 200.
	const most = 3
	if r.False.Hits > most {
		t.Errorf("%d of %d player-months with a false finding, need a few at most: %v", r.False.Hits, r.False.Of, r.Cross)
	}
	found := 0
	for _, h := range habits {
		found += r.Ever[h].Hits
	}
	if found < 17 {
		t.Errorf("%d of 21 habits found in two months, need nearly all: %v", found, r.Ever)
	}
}

// TestCountInterval checks the exact interval against the published rule of
// three and a table value.
func TestCountInterval(t *testing.T) {
	for _, c := range []struct {
		hits, of  int
		low, high float64
		source    string
	}{
		// With no hit, the upper end solves (1-p)^n = 0.025: closed form.
		{0, 100, 0, 1 - math.Pow(0.025, 0.01), "closed form"},
		{100, 100, math.Pow(0.025, 0.01), 1, "closed form"},
		// R. G. Newcombe, Statistics in Medicine 17:857 (1998), table I, method 5:
		// 81 of 263 and 15 of 148.
		{81, 263, 0.2527, 0.3676, "Newcombe 1998, table I, from memory"},
		{15, 148, 0.0578, 0.1617, "Newcombe 1998, table I, from memory"},
	} {
		low, high := Count{c.hits, c.of}.Interval()
		if math.Abs(low-c.low) > 5e-5 || math.Abs(high-c.high) > 5e-5 {
			t.Errorf("%d of %d: %.4f to %.4f, want %.4f to %.4f (%s)", c.hits, c.of, low, high, c.low, c.high, c.source)
		}
	}
}

func TestEverybodyPlain(t *testing.T) {
	var r Result
	r.Found, r.Ever, r.FalseOf, r.Cross = map[history.Habit]Count{}, map[history.Habit]Count{}, map[history.Habit]Count{}, map[[2]history.Habit]int{}
	s := newSection(5, 1)
	for i := range s.players {
		s.players[i] = newPlayer(s.random, "", 1)
	}
	s.play(20, &r)
	if r.False.Hits > 0 {
		t.Errorf("%d of 12 players without a habit accused: %v", r.False.Hits, r.Cross)
	}
}
