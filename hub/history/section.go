package history

import (
	"slices"

	"bellrow/proto/pitch"
)

// recentDays is how many rehearsals a habit is looked for in: two weeks of
// daily ones, enough for a finding, and soon forgotten once it is mended.
const recentDays = 12

// recentMoves is how many slide moves holding is looked for in, whenever they
// were: a slide that stands right is seldom moved. Sixteen show holding in
// spite of a few wrong readings.
const recentMoves = 16

// Section is what a section as a whole shows, against which one player is
// seen. It is made once for all its players.
type Section struct {
	Common Common
	drift  map[day]float64 // median slope of the players, cents per hour
	wander float64         // median day-to-day change of a player, cents
}

// SectionOf reads what a section has in common in its last rehearsals.
func SectionOf(players []Player) Section {
	recent := make([]Player, len(players))
	for i, p := range players {
		recent[i] = p.recent()
	}
	s := Section{Common: CommonOf(recent), drift: map[day]float64{}}
	slopes := map[day][]float64{}
	var wanders []float64
	for _, p := range recent {
		for d, v := range p.slopes() {
			slopes[d] = append(slopes[d], v)
		}
		if xs := p.days(s.Common); len(xs) >= fewest {
			wanders = append(wanders, changing(xs, confidence).Mean)
		}
	}
	for d, xs := range slopes {
		if len(xs) >= fewestForCommon {
			s.drift[d] = pitch.Median(xs)
		}
	}
	s.wander = pitch.Median(wanders)
	return s
}

// recent keeps what belongs to the player's last rehearsals, and the last moves.
func (p Player) recent() Player {
	moves := slices.DeleteFunc(slices.Clone(p.Moves), func(m Move) bool { return !m.telling() })
	slices.SortStableFunc(moves, func(a, b Move) int { return a.At.Compare(b.At) })
	p.Moves = moves[max(0, len(moves)-recentMoves):]
	seen := map[day]bool{}
	for _, r := range p.Readings {
		seen[dayOf(r.At)] = true
	}
	days := sorted(seen)
	if len(days) <= recentDays {
		return p
	}
	from := days[len(days)-recentDays]
	p.Readings = slices.DeleteFunc(slices.Clone(p.Readings), func(r Reading) bool { return dayOf(r.At) < from })
	return p
}

// days returns a player's own offset of each rehearsal, the common part taken
// out.
func (p Player) days(c Common) []float64 {
	var xs []float64
	days := byDay(p.Readings, calledWarm)
	for _, d := range sorted(days) {
		xs = append(xs, pitch.Median(owns(days[d]))-c[d])
	}
	return xs
}

// firsts returns the first note of each rehearsal as it sounded, the common
// part taken out.
func (p Player) firsts(c Common) []float64 {
	var xs []float64
	days := byDay(p.Readings, calledWarm)
	for _, d := range sorted(days) {
		xs = append(xs, float64(days[d][0].Offset)-c[d])
	}
	return xs
}

// slopes returns the drift of each rehearsal in cents per hour, from the
// notes taken while the section played.
func (p Player) slopes() map[day]float64 {
	out := map[day]float64{}
	note := p.tendencies()
	for d, rs := range byDay(p.Readings, watched) {
		var ps []point
		for _, r := range rs {
			if t, known := note[r.Note]; known {
				ps = append(ps, point{r.At.Sub(rs[0].At).Hours(), r.Own() - t})
			}
		}
		if b, ok := slope(ps, leastHours); ok {
			out[d] = b
		}
	}
	return out
}

// daily returns the median of f over each rehearsal's called readings.
func (p Player) daily(f func(Reading) float64) []float64 {
	var out []float64
	days := byDay(p.Readings, called)
	for _, d := range sorted(days) {
		var xs []float64
		for _, r := range days[d] {
			xs = append(xs, f(r))
		}
		out = append(out, pitch.Median(xs))
	}
	return out
}
