package attribute

import (
	"math"
	"slices"

	"bellrow/proto/pitch"
)

// Limits of what is a reading.
const (
	// From these log odds on a pitch is the chair's own, without and with something believed before:
	// at most 1 in 300 of what is read shall be somebody else's (testdata/results/together.md).
	accept, acceptKnown = 2.2, 2.6
	// leastLead: a pitch that another microphone hears more of on more of its lines is not the
	// chair's own, if nothing was believed before. Of 26 wrong readings of tuning notes 23 were
	// such, of 1,889 right ones 366.
	leastLead = 0.0
	// secondWindow is the least that a second window must say for a pitch, log odds:
	// it took 2 of 5 wrong readings of chords in development and one right one in 40.
	secondWindow = 1.0
	// Where FewLaptops or fewer hear a row, more may play than are known: of
	// rows of four with two laptops 4 of 105 readings were a neighbour's without
	// fewMore, log odds.
	FewLaptops                = 3
	fewMore                   = 3.0
	widestReading pitch.Cents = 5
	// softDB is how far a chair's own sound may lie below its own mezzo-forte to be
	// read: bleed lies at least 8 dB below, soft playing seldom more than 10 (common
	// practice, no source). From absentDB on it was not the chair's own.
	softDB, absentDB = -7.0, -13.0
	// elsewhere: what is much stronger at another microphone was not played here.
	elsewhereLog = -0.5
)

// verdicts turns the pool into results.
func (p *pooled) verdicts(in *Input) Result {
	r := Result{Chairs: make([]ChairResult, len(in.Chairs))}
	for c := range in.Chairs {
		ch := &in.Chairs[c]
		if !p.heard(c) {
			r.Chairs[c] = withoutTracks(ch)
			r.Fallback = r.Fallback || r.Chairs[c].Verdict == NoTracks
			continue
		}
		r.Chairs[c] = p.verdict(in, c)
	}
	for c := range r.Chairs {
		if r.Chairs[c].Verdict != Together {
			continue
		}
		a, b := in.Chairs[c].ID, in.Chairs[p.twin(c)].ID
		if pair := (Pair{min(a, b), max(a, b)}); !slices.Contains(r.Pairs, pair) {
			r.Pairs = append(r.Pairs, pair)
		}
	}
	return r
}

// heard tells whether some window has tracks of chair c.
func (p *pooled) heard(c int) bool {
	for _, w := range p.windows {
		if w.tracks[c] {
			return true
		}
	}
	return false
}

func (p *pooled) verdict(in *Input, c int) ChairResult {
	ch := &in.Chairs[c]
	out := ChairResult{ID: ch.ID, Verdict: Unclear}
	if len(p.chairs[c]) == 0 {
		return out
	}
	cl := p.chairs[c][0]
	share, level := p.level(c, cl)
	out.Level = pitch.Level(level + 10*math.Log10(share+tiny))
	if ch.Baseline != 0 {
		out.Balance, out.BalanceKnown = float64(out.Level-ch.Baseline), true
	}
	ci := p.interval(ch, cl)
	tone, own := cl.facts[factNearer], p.own(ch, cl)
	out.Over = 20 * math.Log10(math.E) * tone
	switch {
	case out.BalanceKnown && out.Balance < absentDB, !own && tone < elsewhereLog && cl.facts[factOutdone] > 0.5:
		out.Verdict = Overheard
	case !own && p.twin(c) >= 0:
		out.Verdict = Together
	case !own || cl.another || ci > widestReading || out.BalanceKnown && out.Balance < softDB:
	default:
		out.Verdict = Sounding
		out.Hz = pitch.Hertz(float64(ch.Expected) * math.Exp2(cl.cents/1200) * (1 + ch.PPM*1e-6))
		out.CI95, out.From, out.To = ci, cl.from, cl.to
		out.Spread, out.Drift = moves(cl.top.path)
	}
	return out
}

// own tells whether a pitch is a chair's own.
func (p *pooled) own(ch *Chair, cl *cluster) bool {
	least, known := accept, ch.Doubt > 0
	if known {
		least = acceptKnown
	}
	if p.few() {
		least += fewMore
	}
	return cl.score >= least && (known || cl.facts[factLead] >= leastLead) && cl.scores()[min(1, len(cl.best)-1)] >= secondWindow
}

// few reports whether so few laptops have heard the row that more may play than
// are known.
func (p *pooled) few() bool {
	n := 0
	for c := range p.chairs {
		if p.heard(c) {
			n++
		}
	}
	return n > 1 && n+p.resting <= FewLaptops
}

// twin is the chair whose sound chair c's cannot be told from, -1 for none.
func (p *pooled) twin(c int) int {
	best, at := -1.5, -1
	hz := p.chairs[c][0].top.hz
	for o := range p.chairs {
		if o == c || len(p.chairs[o]) == 0 {
			continue
		}
		q := p.chairs[o][0]
		if e := q.evidence(); e > best && coincide(hz, q.top.hz) {
			best, at = e, o
		}
	}
	return at
}

// level is the share of a chair's microphone that a pitch explains, and how
// loud all is there, in dB.
func (p *pooled) level(c int, cl *cluster) (share, all float64) {
	sum := tiny
	for k, x := range cl.best {
		if x != cl.top {
			continue
		}
		for i := range p.windows[k].lines {
			if y := p.windows[k].lines[i].heard[c]; y != nil {
				sum += meanPower(y)
			}
		}
	}
	return cl.top.facts[factOwn], db(sum)
}

// interval is the half width of the 95 % interval, the clock included.
func (p *pooled) interval(ch *Chair, cl *cluster) pitch.Cents {
	ppm := ch.PPMError
	if ppm == 0 {
		ppm = DefaultPPM
	}
	clock := ppm * 1e-6 / perCent
	se := math.Sqrt(ownSD*ownSD + cl.top.sd*cl.top.sd/max(1, cl.top.n) + cl.spread*cl.spread)
	return pitch.Cents(math.Hypot(1.96*se*wideBy, clock))
}

// Parts of the interval, found in rows of recorded notes.
const (
	ownSD  = 0.3
	wideBy = 1.2
)

// moves are the 10 to 90 % spread of a path and its drift in cents a second.
func moves(path []float64) (pitch.Cents, float64) {
	return pitch.Cents(inner80(path)), slope(path) / pathStep
}

// withoutTracks is the result of a chair without usable tracks: unclear if
// those it sent do not cover the window, silent if its node could have sent
// some, else whatever the node made of the window by itself.
func withoutTracks(c *Chair) ChairResult {
	out := ChairResult{ID: c.ID, Verdict: NoTracks}
	switch {
	case len(c.Chunks) > 0:
		out.Verdict = Unclear
		return out
	case !c.Own.Hz.Valid():
		if c.Able {
			out.Verdict = Silent
		}
		return out
	}
	out.Hz, out.CI95, out.Spread, out.Drift = c.Own.Hz, c.Own.CI95, c.Own.Spread, c.Own.Drift
	out.Level, out.OneMic = c.Own.Level, true
	if c.Baseline != 0 {
		out.Balance, out.BalanceKnown = float64(c.Own.Level-c.Baseline), true
	}
	return out
}
