package show

import (
	"math"

	"bellrow/hub"
	"bellrow/hub/intonation"
	"bellrow/hub/tuneup"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// NewSummary sums up the tune-up so far.
func NewSummary(st tuneup.Standing) Summary {
	t := leaders(st)
	s := Summary{
		Section: st.Section.Name, A4: st.Section.Reference.Frequency(pitch.A4), Rounds: st.Rounds,
		Seconds: st.Used.Seconds(), Set: st.Set, Present: st.Present, Chairs: []ChairSummary{},
	}
	if st.Common.Chairs >= intonation.MinCommon {
		s.Common = st.Common.Say(t)
	}
	for i := range st.Chairs {
		s.Chairs = append(s.Chairs, chairSummary(&st.Chairs[i], st.Round, t))
	}
	return s
}

func chairSummary(c *tuneup.Chair, run *tuneup.Round, t phrase.Tongue) ChairSummary {
	row := chairRow(c, run, t)
	cs := ChairSummary{
		ID: c.ID, Label: c.Label, Name: c.Name, Instrument: row.Instrument,
		Readings: []float64{}, Moves: []string{}, FollowThrough: row.FollowThrough, Verdict: row.Verdict, Words: row.Words,
	}
	cs.Readings = append(cs.Readings, row.History...)
	for _, m := range c.Moves {
		if !m.Withdrawn && !m.Done.IsZero() { // what waits to be made is in the words
			cs.Moves = append(cs.Moves, movedWords(c, m, t))
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
		cs.Words = t.Say("row.moved")
	}
	return cs
}

// movedWords says what became of a slide: "main slide pulled 6 mm, from
// 13 to 19 mm out".
func movedWords(c *tuneup.Chair, m *hub.MoveRecord, t phrase.Tongue) string {
	name := string(m.Slide)
	if c.Instrument != nil {
		if s, ok := c.Instrument.Slide(m.Slide); ok {
			name = t.Slide(s.Name)
		}
	}
	key, by := "said.pulled", m.ToMM-m.FromMM
	if by < 0 {
		key, by = "said.pushed", -by
	}
	from, to := places(m.FromMM, m.ToMM)
	return t.Say(key, name, t.Decimal(math.Abs(to-from)), t.Decimal(from), t.Decimal(to))
}

// places are the ends of a move in mm out, with the way that was told between them:
// each rounded alone, they would say another. Neither is off by more than 1 mm.
func places(from, to float64) (float64, float64) {
	way, step := ByHand(math.Abs(to-from)), 1.0
	if way < 3 {
		step = 0.5
	}
	shown := step * math.Round(from/step)
	if to < from {
		shown = max(shown, way) // nothing stands further in than closed
		return shown, shown - way
	}
	return shown, shown + way
}

// ByHand rounds the millimetres of a move as a slide can be set, and as everybody is
// told them: whole ones, and halves below three.
func ByHand(mm float64) float64 {
	if mm < 3 {
		return math.Round(2*mm) / 2
	}
	return math.RoundToEven(mm)
}
