package tuneup

import (
	"slices"

	"bellrow/hub"
	"bellrow/hub/attribute"
)

// Who was not read when the whole row played is heard again a few at a time. That
// the row is told apart in part costs those who were read nothing, and groups take
// less time than turns. Of a chord, too, a few of its tones are more than one.
const (
	// groupOfMost play at once in a group. Of three who were not read among all about two
	// are, of four half, and of all once more one in five
	// (testdata/results/together.md). A group pays where more than one is read.
	groupOfMost = 3
	// groupsFrom so many who were not read groups are worth it: of two, one is
	// mostly heard alone all the same.
	groupsFrom = 3
)

// What speaks against two in one group. Neither the same instrument, nor the same
// pitch to the fit, nor a soft one beside a loud one does: groups made by those, too, take
// 138 times of sounding where 124 are enough.
const (
	alikeNote = 4 // as much as two seats that are next but one
	nextSeat  = 12
	rowBehind = 1.5 // seats
)

// smallGroups deals those who were not read into groups that can be told apart: none
// side by side, and rather far apart and on different notes than not.
// Nobody for whom there is no such group is in one. Who was not read twice plays alone.
func (s *State) smallGroups(run *hub.Round) [][]hub.ChairID {
	var left []hub.ChairID
	for _, c := range s.seated() { // so that neighbours follow one another
		if slices.Contains(run.Queue, c.ID) && s.here(c.ID) && s.seats[c.ID].tracks {
			left = append(left, c.ID)
		}
	}
	if listening(run) || run.Held > 0 || len(left) < groupsFrom || s.laptops() <= attribute.FewLaptops {
		return nil // for few laptops the fit wants more than a group gives
	}
	against := func(a, b hub.ChairID) int {
		cost := s.closeness(a, b)
		if run.Call.Tones[a] == run.Call.Tones[b] {
			cost += alikeNote
		}
		return cost
	}
	var best [][]hub.ChairID
	fewest := len(left) // times that somebody plays, in turn
	for n := (len(left) + groupOfMost - 1) / groupOfMost; n < fewest; n++ {
		groups, alone := deal(left, n, s.sideBySide, against)
		if times := len(groups) + alone; times < fewest {
			best, fewest = groups, times
		}
	}
	return best
}

// laptops is how many send tracks.
func (s *State) laptops() (n int) {
	for id, st := range s.seats {
		if s.here(id) && st.tracks {
			n++
		}
	}
	return n
}

// deal puts chairs into n groups, one after the other where least speaks against it;
// it returns the groups of two and more, and how many are in none.
func deal(ids []hub.ChairID, n int, never func(a, b hub.ChairID) bool, against func(a, b hub.ChairID) int) (groups [][]hub.ChairID, alone int) {
	groups = make([][]hub.ChairID, n)
	for _, id := range ids {
		at, least := -1, 0
		for i, g := range groups {
			if len(g) == groupOfMost || slices.ContainsFunc(g, func(o hub.ChairID) bool { return never(id, o) }) {
				continue
			}
			cost := len(g)
			for _, o := range g {
				cost += against(id, o)
			}
			if at < 0 || cost < least {
				at, least = i, cost
			}
		}
		if at >= 0 {
			groups[at] = append(groups[at], id)
		}
	}
	alone = len(ids)
	groups = slices.DeleteFunc(groups, func(g []hub.ChairID) bool { return len(g) < 2 })
	for _, g := range groups {
		alone -= len(g)
	}
	return groups, alone
}

// closeness is how near two chairs sit, by one over the square of their distance.
func (s *State) closeness(a, b hub.ChairID) int {
	p, q := s.seats[a].chair, s.seats[b].chair
	along, deep := float64(p.Place-q.Place), rowBehind*float64(p.Row-q.Row)
	return int(nextSeat / (along*along + deep*deep + 0.5))
}

// groupHeard goes on after a group was told apart: with the next one, or in turn
// where nobody of three or more was read, for the next would not be told apart either.
func (s *State) groupHeard(run *hub.Round) {
	none := len(run.Groups[0]) >= groupsFrom && !slices.ContainsFunc(run.Groups[0], func(id hub.ChairID) bool { return !slices.Contains(run.Queue, id) })
	if run.Groups = run.Groups[1:]; none {
		run.Groups = nil
	}
	run.InTurn = len(run.Groups) == 0
	if p := run.Parted; p != nil { // the record is the step's own
		p.Pairs = 0 // those of the whole row
		if p.Left = len(slices.DeleteFunc(slices.Clone(run.Queue), func(id hub.ChairID) bool { return !s.here(id) })); p.Left == 0 {
			run.Parted = nil
		}
	}
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
