package tuneup

import (
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/hub/attribute"
	"bellrow/proto"
)

// TestHelpIsTrue: of a row of which half was not told apart it is said what would help: a laptop before each player where
// one has none, and not where one dropped out a moment ago, was paused by its player, or is of somebody who is not here;
// laptops nearer to the bells where they hear others as loudly, else fewer at once. Where most were read, nothing.
func TestHelpIsTrue(t *testing.T) {
	for _, c := range []struct {
		name string
		over float64                   // dB, at those not read
		left int                       // of four
		now  func(*State, hub.ChairID) // what becomes of the first
		want string
	}{
		{"as loud", 2.9, 2, nil, hub.HelpNearer},
		{"louder than others", 3.1, 2, nil, hub.HelpGroups},
		{"most were read", 2.9, 1, nil, ""},
		{"nothing was heard of anybody", 0, 4, nil, ""},
		{"never had a laptop", 2, 3, func(s *State, id hub.ChairID) { s.seats[id].device = device{} }, hub.HelpLaptops},
		{"its laptop went home", 2, 3, func(s *State, id hub.ChairID) {
			s.seats[id].device = device{left: s.at.Add(-time.Minute)}
		}, hub.HelpLaptops},
		{"dropped out", 2, 3, func(s *State, id hub.ChairID) { s.seats[id].device = device{left: s.at.Add(-time.Second)} }, hub.HelpNearer},
		{"is not here", 2, 3, func(s *State, id hub.ChairID) {
			s.seats[id].device = device{}
			s.changeChair(id, func(c *hub.Chair) { c.Absent = true })
		}, hub.HelpNearer},
		{"paused", 2, 3, func(s *State, id hub.ChairID) { s.seats[id].sound.State = proto.Paused }, hub.HelpNearer},
	} {
		s, run := seatedAt(t, hub.OrderLowToHigh, "trumpet_bb", "horn_f", "cornet_bb", "tuba_bbb")
		s.at = evening
		if c.now != nil {
			c.now(s, run.Queue[0])
		}
		run.Queue = run.Queue[4-c.left:]
		var res attribute.Result
		for _, id := range run.Queue {
			res.Chairs = append(res.Chairs, attribute.ChairResult{ID: int64(id), Over: c.over})
		}
		if got := s.help(run, res, c.left); got != c.want {
			t.Errorf("%s: %q would help, want %q", c.name, got, c.want)
		}
	}
}
