package show

import (
	"fmt"
	"math"

	"bellrow/hub"
	"bellrow/hub/intonation"
	"bellrow/hub/tuneup"
	"bellrow/proto/pitch"
)

// NewSummary sums up the tune-up so far.
func NewSummary(st tuneup.Standing) Summary {
	s := Summary{
		Section: st.Section.Name, A4: st.Section.Reference.A4, Rounds: st.Rounds,
		Seconds: st.Used.Seconds(), Set: st.Set, Present: st.Present, Chairs: []ChairSummary{},
	}
	if st.Common.Chairs >= intonation.MinCommon {
		s.Common = st.Common.Words
	}
	for i := range st.Chairs {
		s.Chairs = append(s.Chairs, chairSummary(&st.Chairs[i], st.Round, st.Section.Notes))
	}
	return s
}

func chairSummary(c *tuneup.Chair, run *tuneup.Round, y pitch.Style) ChairSummary {
	row := chairRow(c, run, y)
	cs := ChairSummary{
		ID: c.ID, Label: c.Label, Name: c.Name, Instrument: row.Instrument,
		Readings: []float64{}, Moves: []string{}, FollowThrough: row.FollowThrough, Verdict: row.Verdict, Words: row.Words,
	}
	cs.Readings = append(cs.Readings, row.History...)
	for _, m := range c.Moves {
		if !m.Withdrawn && !m.Done.IsZero() { // what waits to be made is in the words
			cs.Moves = append(cs.Moves, movedWords(c, m))
		}
	}
	switch {
	case c.State == tuneup.Absent: // whoever went home is not counted as set
		cs.Verdict = ""
	case row.Verdict == intonation.Set:
		cs.Words = "" // what is set needs no more words
	case row.Headline != "":
		cs.Words = row.Headline
	}
	if c.Moved {
		cs.Words = "Moved, not heard since."
	}
	return cs
}

// movedWords says what became of a slide: "main slide pulled 6.5 mm, from
// 12.5 to 19 mm out".
func movedWords(c *tuneup.Chair, m *hub.MoveRecord) string {
	name := string(m.Slide)
	if c.Instrument != nil {
		if s, ok := c.Instrument.Slide(m.Slide); ok {
			name = s.Name
		}
	}
	from, to := halves(m.FromMM), halves(m.ToMM)
	verb := "pulled"
	if to < from {
		verb = "pushed"
	}
	return fmt.Sprintf("%s %s %g mm, from %g to %g mm out", name, verb, math.Abs(to-from), from, to)
}

// halves rounds millimetres as a slide is set by hand, so that places and the way
// between them add up.
func halves(mm float64) float64 { return math.Round(2*mm) / 2 }
