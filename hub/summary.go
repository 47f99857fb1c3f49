package hub

import (
	"fmt"
	"math"
	"strconv"

	"bellrow/proto/instrument"
)

// Summary sums up the tune-up so far.
func (h *Hub) Summary() Summary {
	h.mu.Lock()
	defer h.mu.Unlock()
	sec := h.sectionRow()
	s := Summary{
		Section: h.section.Name, A4: h.section.Reference.A4, Rounds: len(h.rounds),
		Seconds: h.used(), Set: sec.Set, Present: sec.Present, Common: sec.Common, Chairs: []ChairSummary{},
	}
	q := h.queueNow()
	for _, c := range h.section.seated() {
		s.Chairs = append(s.Chairs, h.chairSummary(c, q))
	}
	return s
}

func (h *Hub) chairSummary(c Chair, q queue) ChairSummary {
	seat := h.seats[c.ID]
	row := h.chairRow(c, q)
	cs := ChairSummary{
		ID: c.ID, Label: c.Label, Name: c.Name, Instrument: row.Instrument,
		Readings: []float64{}, Moves: []string{}, FollowThrough: row.FollowThrough, Verdict: row.Verdict, Words: row.Words,
	}
	for _, r := range seat.counted {
		cs.Readings = append(cs.Readings, float64(r.Cents))
	}
	for _, m := range seat.moves {
		if !m.Withdrawn {
			cs.Moves = append(cs.Moves, movedWords(c, *m))
		}
	}
	if row.Headline != "" {
		cs.Words = row.Headline
	}
	if seat.moved() {
		cs.Words = "Moved, not heard since."
	}
	return cs
}

// movedWords says what became of a slide: "main slide pulled 6.5 mm, from 12.7 to 19.2".
func movedWords(c Chair, m MoveRecord) string {
	name := string(m.Slide)
	if in, err := instrument.Find(c.Instrument); err == nil {
		if s, ok := in.Slide(m.Slide); ok {
			name = s.Name
		}
	}
	verb, way := between(m.FromMM, m.ToMM)
	return name + " " + verb + "ed " + way
}

// between says the way from one place of a slide to another, in millimetres
// out: "pull" or "push", and "6.5 mm, from 12.7 to 19.2".
func between(from, to float64) (verb, way string) {
	verb, mm := "pull", to-from
	if mm < 0 {
		verb, mm = "push", -mm
	}
	return verb, fmt.Sprintf("%s mm, from %s to %s", tenths(mm), tenths(from), tenths(to))
}

// tenths writes millimetres so that places and the way between them add up.
func tenths(mm float64) string {
	return strconv.FormatFloat(math.Round(10*mm)/10, 'f', -1, 64)
}
