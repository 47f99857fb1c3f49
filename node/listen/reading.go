package listen

import (
	"math"

	"bellrow/node/estimate"
	"bellrow/node/settle"
	"bellrow/proto/pitch"
)

// widest is the half width of the interval, in cents, beyond which a rested
// note is refused: a slide is not moved for less.
const widest = 2.0

// reading measures the note as it stands.
func (l *Listener) reading() Reading {
	n := &l.note
	start, end, rested := n.rule.Rest()
	if !rested {
		start, end = min(int(settle.SkipSeconds/hopSeconds), n.rule.Len()/2), n.rule.Len()
		if longest := int(l.cfg.HoldFor / hopSeconds); end-start > longest {
			start = end - longest
		}
	}
	hz := n.reference * math.Exp2(n.rule.Median(start, end)/1200)
	r := Reading{
		Onset: n.onset,
		Start: n.onset + int64(start*l.hop), End: n.onset + int64(end*l.hop),
		Hz:      pitch.Hertz(hz),
		Spread:  pitch.Cents(n.rule.Spread(start, end)),
		Drift:   n.rule.Slope(start, end),
		CI95:    pitch.Cents(max(widest, n.rule.Spread(start, end)/2)),
		Peak:    pitch.Level(n.peak),
		Level:   l.level,
		Floor:   l.Floor(),
		Clipped: n.clipped,
	}
	if x, ok := l.stretchOf(r.Start, min(r.End, l.sample)); ok {
		r.Level = levelOf(x)
		if e, ok := estimate.Refine(x, l.cfg.Rate, hz, l.cfg.ClockPPM); ok && rested {
			r.Hz, r.CI95 = e.Hz, e.CI95
		}
	}
	early := n.rule.Median(min(12, n.rule.Len()-1), min(30, n.rule.Len()))
	r.Early = pitch.Between(r.Hz, pitch.Hertz(n.reference*math.Exp2(early/1200)))
	r.Settled, r.Reason = l.verdict(&r, rested)
	if l.cfg.KeepPath {
		r.Path = l.path()
	}
	return r
}

// verdict says whether the reading settled and, if not, why.
func (l *Listener) verdict(r *Reading, rested bool) (bool, Reason) {
	n := &l.note
	switch {
	case n.gap:
		return false, ReasonGap
	case !rested && float64(n.rule.Len())*hopSeconds < settle.SkipSeconds+settle.HoldSeconds:
		return false, ReasonShort
	case !rested:
		return false, ReasonMoving
	case r.CI95 > widest:
		return false, ReasonWide
	}
	return true, ReasonNone
}

func (l *Listener) path() []PathPoint {
	n := &l.note
	points := n.rule.Points()
	path := make([]PathPoint, len(points))
	for i, p := range points {
		path[i] = PathPoint{
			Sample: n.onset + int64(i*l.hop),
			Hz:     pitch.Hertz(n.reference * math.Exp2(p.Cents/1200)),
			Level:  pitch.Level(p.Level),
		}
	}
	return path
}

func levelOf(x []float64) pitch.Level {
	sum := 0.0
	for _, v := range x {
		sum += v * v
	}
	return pitch.LevelOf(math.Sqrt(sum / float64(max(1, len(x)))))
}

// Whole treats all of samples as one settled stretch and measures it. Without
// a pitch the reading is unsettled with ReasonNoise and Hz 0.
func Whole(samples []float64, c Config) Reading {
	c = c.withDefaults()
	level := levelOf(samples)
	r := Reading{End: int64(len(samples)), Level: level, Peak: level, Floor: pitch.Silence, Reason: ReasonNoise}
	if e, ok := estimate.Whole(samples, c.Rate, c.ClockPPM); ok {
		r.Hz, r.CI95, r.Settled, r.Reason = e.Hz, e.CI95, true, ReasonNone
	}
	return r
}
