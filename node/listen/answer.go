package listen

import (
	"bellrow/node/estimate"
	"bellrow/proto/pitch"
)

// answer is what the estimator said, and what it had been asked.
type answer struct {
	from, to int64 // samples
	near     pitch.Hertz
	level    pitch.Level
	found    bool
	estimate estimate.Estimate
}

// ask has the estimator measure samples [from, to) near a pitch, unless that
// was the last thing it measured. It is not ok when they are no longer kept.
func (l *Listener) ask(from, to int64, near pitch.Hertz) (answer, bool) {
	if l.asked.from == from && l.asked.to == to && l.asked.near == near {
		return l.asked, true
	}
	x, ok := l.stretchOf(from, to)
	if !ok {
		return answer{}, false
	}
	l.asked = answer{from: from, to: to, near: near, level: levelOf(x)}
	l.asked.estimate, l.asked.found = estimate.Refine(x, l.cfg.Rate, float64(near), l.cfg.ClockPPM)
	return l.asked, true
}

// foresee makes the estimate that will be asked for if the note, as things
// stand, is read when its track is length hops long. It takes longer than a
// hop; made while the end is still being made sure of, it keeps nobody waiting.
func (l *Listener) foresee(length int) {
	n := &l.note
	start, end, ok := n.rule.RestAt(length)
	if n.done || !ok {
		return
	}
	l.ask(l.at(start), l.at(end), n.hertz(n.rule.Median(start, end)))
}
