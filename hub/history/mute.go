package history

import (
	"bellrow/hub/slide"
	"bellrow/proto/pitch"
)

// muteConfidence is the error probability of a mute's offset.
const muteConfidence = 0.05

// muteDays is how many rehearsals make a mute's offset.
const muteDays = 2

// MuteShift is what a mute does to the pitch of player p, in cents: the median
// of each rehearsal's muted notes against the same notes open on that day, over
// rehearsals; the interval is Student's. It is zero until muteDays rehearsals
// have both, and always for a stopped horn, which is a transposition and no
// offset.
func MuteShift(p Player, m slide.Mute) slide.Estimate {
	if m == slide.Open || m == slide.Stopped {
		return slide.Estimate{}
	}
	open := byDay(p.Readings, calledWarm)
	muted := map[day][]float64{}
	for _, r := range p.Readings {
		if r.Mute != m || !calledWarm(r) {
			continue
		}
		var same []float64
		for _, o := range open[dayOf(r.At)] {
			if o.Note == r.Note {
				same = append(same, o.Own())
			}
		}
		if len(same) > 0 {
			muted[dayOf(r.At)] = append(muted[dayOf(r.At)], r.Own()-pitch.Median(same))
		}
	}
	if len(muted) < muteDays {
		return slide.Estimate{}
	}
	var days []float64
	for _, d := range sorted(muted) {
		days = append(days, pitch.Median(muted[d]))
	}
	e := mean(days, muteConfidence)
	return slide.Estimate{Cents: pitch.Cents(e.Mean), CI95: pitch.Cents(e.High - e.Mean)}
}
