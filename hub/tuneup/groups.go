package tuneup

import (
	"slices"

	"bellrow/hub"
	"bellrow/hub/attribute"
)

// Who was not read when the whole row played is heard again a few at a time. That
// the row is told apart in part costs those who were read nothing, and groups take
// fewer notes than turns.
const (
	// groupOfMost play at once in a group: of four of one note half are read in a
	// dry room, and less in a live one (testdata/results/together.md).
	groupOfMost = 3
	// groupsFrom so many who were not read groups are worth it: of two, one is
	// mostly heard alone all the same.
	groupsFrom = 3
)

// smallGroups deals those who were not read into groups that can be told apart: no
// two that the fit has confused, none side by side, and rather different notes than
// the same. Nobody for whom there is no such group is in one.
func (s *State) smallGroups(run *hub.Round, res attribute.Result) [][]hub.ChairID {
	left := slices.DeleteFunc(slices.Clone(run.Queue), func(id hub.ChairID) bool { return !s.here(id) || !s.seats[id].tracks })
	if run.Call.Kind != hub.CallNote || len(left) < groupsFrom {
		return nil
	}
	confused := func(a, b hub.ChairID) bool {
		return s.sideBySide(a, b) || slices.Contains(res.Pairs, attribute.Pair{A: int64(min(a, b)), B: int64(max(a, b))})
	}
	groups := make([][]hub.ChairID, (len(left)+groupOfMost-1)/groupOfMost)
	for _, id := range left {
		best, fewest := -1, 0
		for i, g := range groups {
			if len(g) == groupOfMost || slices.ContainsFunc(g, func(o hub.ChairID) bool { return confused(id, o) }) {
				continue
			}
			same := 0
			for _, o := range g {
				if run.Call.Tones[o] == run.Call.Tones[id] {
					same += groupOfMost
				}
			}
			if cost := same + len(g); best < 0 || cost < fewest {
				best, fewest = i, cost
			}
		}
		if best >= 0 {
			groups[best] = append(groups[best], id)
		}
	}
	return slices.DeleteFunc(groups, func(g []hub.ChairID) bool { return len(g) < 2 })
}

// nextGroup passes over groups of which nobody is left to be heard: who went away,
// or was taken out.
func (s *State) nextGroup(run *hub.Round) {
	if len(run.Groups) == 0 || !allAtOnce(run) {
		return
	}
	for len(run.Groups) > 0 && !slices.ContainsFunc(playing(run), func(id hub.ChairID) bool { return s.awaited(id, s.at) }) {
		run.Groups = run.Groups[1:]
	}
	run.InTurn = len(run.Groups) == 0
}
