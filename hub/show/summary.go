package show

import (
	"fmt"
	"math"
	"strconv"

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
		if !m.Withdrawn {
			cs.Moves = append(cs.Moves, movedWords(c, m))
		}
	}
	switch {
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

// movedWords says what became of a slide: "main slide pulled 6.5 mm, from 12.7
// to 19.2".
func movedWords(c *tuneup.Chair, m *hub.MoveRecord) string {
	name := string(m.Slide)
	if c.Instrument != nil {
		if s, ok := c.Instrument.Slide(m.Slide); ok {
			name = s.Name
		}
	}
	verb, mm := "pulled", m.ToMM-m.FromMM
	if mm < 0 {
		verb, mm = "pushed", -mm
	}
	return fmt.Sprintf("%s %s %s mm, from %s to %s", name, verb, tenths(mm), tenths(m.FromMM), tenths(m.ToMM))
}

// tenths writes millimetres so that places and the way between them add up.
func tenths(mm float64) string {
	return strconv.FormatFloat(math.Round(10*mm)/10, 'f', -1, 64)
}
