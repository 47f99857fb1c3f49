package history

import (
	"bellrow/hub/slide"
	"bellrow/proto/pitch"
)

const (
	// polishRounds is how often days and notes are polished in turn; the
	// medians hardly move after three.
	polishRounds = 4
	// fewestOfNote is how many readings make a note's own place.
	fewestOfNote = 3
)

// tendencies returns where each note of this player lies beside the others,
// in cents: what is left of its readings once each rehearsal's own place is
// taken out, by median polish (J. W. Tukey, Exploratory Data Analysis, 1977,
// ch. 11). Notes that were heard too rarely are left out.
func (p Player) tendencies() map[pitch.Note]float64 {
	type cell struct {
		d    day
		note pitch.Note
		own  float64
	}
	var cells []cell
	for _, r := range p.Readings {
		if r.Played >= warmPlayed && r.Mute == slide.Open {
			cells = append(cells, cell{dayOf(r.At), r.Note, r.Own()})
		}
	}
	days, notes := map[day]float64{}, map[pitch.Note]float64{}
	count := map[pitch.Note]int{}
	for range polishRounds {
		byDay, byNote := map[day][]float64{}, map[pitch.Note][]float64{}
		for _, c := range cells {
			byDay[c.d] = append(byDay[c.d], c.own-notes[c.note])
		}
		for d, xs := range byDay {
			days[d] = pitch.Median(xs)
		}
		for _, c := range cells {
			byNote[c.note] = append(byNote[c.note], c.own-days[c.d])
		}
		for n, xs := range byNote {
			notes[n], count[n] = pitch.Median(xs), len(xs)
		}
	}
	for n, k := range count {
		if k < fewestOfNote {
			delete(notes, n)
		}
	}
	return notes
}
