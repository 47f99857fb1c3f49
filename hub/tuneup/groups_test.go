package tuneup_test

import (
	"math/rand/v2"
	"slices"
	"testing"

	"bellrow/hub"
	"bellrow/hub/tuneup"
)

// TestDeal: whoever is left of one or two rows of chairs is in one group at most, nobody
// beside a neighbour, no more than three at once; and where nothing stands against two in
// one group but that they are neighbours, seven or eight chairs
// need three groups and leave nobody over.
func TestDeal(t *testing.T) {
	rng := rand.New(rand.NewPCG(17, 4))
	for range 500 {
		var left []hub.ChairID
		for id := hub.ChairID(0); id < 8; id++ {
			if rng.IntN(3) > 0 {
				left = append(left, id)
			}
		}
		const perRow = 4
		beside := func(a, b hub.ChairID) bool { d := a - b; return a/perRow == b/perRow && max(d, -d) == 1 }
		free := rng.IntN(2) == 0
		against := func(a, b hub.ChairID) int {
			if free {
				return 0
			}
			return int((a*7 + b*13) % 9)
		}
		for n := 1; n <= 3; n++ {
			groups, alone := tuneup.Deal(left, n, beside, against)
			var all []hub.ChairID
			for _, g := range groups {
				if len(g) < 2 || len(g) > 3 {
					t.Fatalf("%v: a group of %d", left, len(g))
				}
				for i, a := range g {
					if slices.ContainsFunc(g[:i], func(b hub.ChairID) bool { return beside(a, b) }) {
						t.Fatalf("%v: neighbours in %v", left, g)
					}
				}
				all = append(all, g...)
			}
			slices.Sort(all)
			if len(slices.Compact(slices.Clone(all))) != len(all) || len(all)+alone != len(left) {
				t.Fatalf("%v: in groups %v, %d alone", left, groups, alone)
			}
			if free && n == 3 && len(left) > 6 && alone > 0 {
				t.Errorf("%v: %d are in none of %v", left, alone, groups)
			}
		}
	}
}
