package history

import (
	"time"

	"bellrow/proto/pitch"
)

// fewestForCommon is how many players must agree before a day's offset is
// called the section's own: the median of four outvotes one of them.
const fewestForCommon = 4

// usualDays is how many rehearsals make a player's usual offset.
const usualDays = 3

// Common is what a section shared on each rehearsal, in cents, against its
// usual pitch. A day without an entry is not known.
type Common map[day]float64

// On returns what the section shared on the rehearsal of a moment, in cents;
// false when it is not known.
func (c Common) On(at time.Time) (float64, bool) {
	x, ok := c[dayOf(at)]
	return x, ok
}

// CommonOf separates what the section shared from what each player did: the
// median over players of each one's departure from their own usual offset.
func CommonOf(players []Player) Common {
	departures := map[day][]float64{}
	for _, p := range players {
		days := byDay(p.Readings, calledWarm)
		if len(days) < usualDays {
			continue
		}
		means := make([]float64, 0, len(days))
		for _, d := range sorted(days) {
			means = append(means, pitch.Median(owns(days[d])))
		}
		usual := pitch.Median(means)
		for i, d := range sorted(days) {
			departures[d] = append(departures[d], means[i]-usual)
		}
	}
	c := Common{}
	for d, xs := range departures {
		if len(xs) >= fewestForCommon {
			c[d] = pitch.Median(xs)
		}
	}
	return c
}
