package listen

import "bellrow/node/estimate"

// answer is what the estimator said of a note, and what it had been asked.
type answer struct {
	onset, until int64 // samples: of the note, and where it ended
	first        int64 // sample at which the estimate's time begins
	found        bool
	estimate     estimate.Estimate
}

// ask has the estimator read the open note until the given sample, unless that
// is what it read last, or all of the note that is looked at. It takes longer
// than a hop; made while the end is still being made sure of, it keeps nobody
// waiting.
func (l *Listener) ask(until int64) {
	n := &l.note
	longest := n.onset + int64(l.cfg.HoldFor*l.cfg.Rate)
	if until = min(until, longest); l.asked.onset == n.onset && l.asked.until == until {
		return
	}
	x, first := l.lowered(n.onset, until)
	l.asked = answer{onset: n.onset, until: until, first: first}
	rate := l.cfg.Rate / float64(l.lower.Factor())
	l.asked.estimate, l.asked.found = estimate.Note(x, rate, estimate.Options{Call: n.call, ClockPPM: l.cfg.ClockPPM})
}
