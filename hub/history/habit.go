package history

import (
	"math"

	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// Habit is what a player does without meaning to.
type Habit string

// The habits that are looked for.
const (
	Pinching  Habit = "pinching"  // notes begin sharp and come down
	Sagging   Habit = "sagging"   // notes sink while they are held
	Holding   Habit = "holding"   // the pitch does not go with the slide
	Cold      Habit = "cold"      // the instrument is tuned before it is warm
	Drifting  Habit = "drifting"  // the pitch goes away during the rehearsal, more than the section's
	Loudness  Habit = "loudness"  // sharp when loud, flat when soft
	Wandering Habit = "wandering" // another pitch every day
)

// confidence is the error probability of one look. A section is looked at
// after each rehearsal, twenty times a month, for seven habits; together with
// the sizes below it keeps false findings under one per hundred players and
// months (measured: cmd/proof/habits).
const confidence = 0.02

// fewest is how many rehearsals (or moves) a finding needs.
const fewest = 4

// Sizes that matter. What lies below is left alone even when it is certain.
const (
	leastEarly   = 6.0 // cents above the rest at the start: beyond a usual attack (common practice, no source)
	leastSag     = 1.8 // cents per second
	leastHeld    = 0.3 // share of the expected change that did not come: less than 0.7 of it is no following (common practice, no source)
	leastCold    = 5.0 // cents between cold and warm, beyond what a warm instrument does
	leastDrift   = 5.0 // cents per hour beyond the section's
	leastLoud    = 2.2 // cents per 10 dB
	leastWander  = 4.5 // cents from day to day
	wanderFactor = 1.8 // times the section's median player
	// leastLevels and leastHours are the spans that make a slope worth having.
	leastLevels = 4.0
	leastHours  = 0.5
	// smallMove is the least expected change, in cents, that tells anything
	// of following: two readings of 2 cents leave 2.8 on their difference, and
	// a usual band of 5 cents asks for no smaller one.
	smallMove = 5.0
	mostMove  = 15.0
	// oftenCold is the share of rehearsals that makes tuning cold a habit.
	oftenCold = 0.5
	// coldPlayed and warmPlayed are the played seconds up to and from which an
	// instrument counts as cold and as warm.
	coldPlayed, warmPlayed = 60, 300
)

// Finding is one habit with its evidence.
type Finding struct {
	Habit    Habit    `json:"habit"`
	Evidence Evidence `json:"evidence"`
	Unit     string   `json:"unit"`  // of the evidence
	Words    string   `json:"words"` // to the player, in English; see In
	Try      string   `json:"try"`   // one thing to try
}

// Findings returns what the records of player p show, beyond doubt only. The
// section is needed to tell a player's habit from the room: all its players,
// p among them.
func Findings(p Player, section Section) []Finding {
	p = p.recent()
	var out []Finding
	for _, look := range looks {
		if f, ok := look(p, section); ok {
			out = append(out, f)
		}
	}
	return out
}

var looks = []func(Player, Section) (Finding, bool){pinching, sagging, holding, coldTuning, drifting, loudness, wandering}

// finding is one with its words in English.
func finding(h Habit, e Evidence, unit string) Finding {
	f := Finding{Habit: h, Evidence: e, Unit: unit}
	f.Words, f.Try = f.In(phrase.Tongue{})
	return f
}

func enough(e Evidence) bool { return e.N >= fewest }

func pinching(p Player, _ Section) (Finding, bool) {
	e := mean(p.daily(Reading.start), confidence)
	return finding(Pinching, e, "cents"), enough(e) && e.Low > leastEarly
}

func sagging(p Player, _ Section) (Finding, bool) {
	e := mean(p.daily(func(r Reading) float64 {
		if r.start() > leastEarly {
			return 0 // coming down from a sharp start is another habit
		}
		return -r.Drift
	}), confidence)
	return finding(Sagging, e, "cents per second"), enough(e) && e.Low > leastSag
}

// held is the share of the expected change that did not come, over the moves.
// A move counts by its size up to mostMove: a larger one is as likely a wrong
// reading.
func (p Player) held() Evidence {
	var missed []point
	for _, m := range p.Moves {
		if m.telling() {
			share := math.Max(-0.5, math.Min(1.5, float64(m.Measured/m.Expected)))
			size := math.Min(mostMove, math.Abs(float64(m.Expected)))
			missed = append(missed, point{size, (1 - share) * size})
		}
	}
	return ratio(missed, confidence)
}

func holding(p Player, _ Section) (Finding, bool) {
	e := p.held()
	return finding(Holding, e, "share of the move"), enough(e) && e.Low > leastHeld
}

func coldTuning(p Player, s Section) (Finding, bool) {
	var rises []float64
	days := byDay(p.Readings, nil)
	for _, d := range sorted(days) {
		if x, ok := rise(days[d], s.drift[d]); ok {
			rises = append(rises, x)
		}
	}
	e := mean(rises, confidence)
	return finding(Cold, e, "cents"), enough(e) && e.Low > leastCold && float64(e.N) >= oftenCold*float64(len(days))
}

// rise is how far a rehearsal's warm readings stand above the called ones
// before, note by note, beyond the section's drift in cents per hour. False
// when nothing was called cold or no note was heard both ways.
func rise(rs []Reading, drift float64) (float64, bool) {
	var xs []float64
	for _, c := range rs {
		if c.Watch || c.Played >= coldPlayed {
			continue
		}
		for _, w := range rs {
			if w.Played >= warmPlayed && w.Note == c.Note {
				xs = append(xs, w.Own()-c.Own()-drift*w.At.Sub(c.At).Hours())
			}
		}
	}
	return pitch.Median(xs), len(xs) > 0
}

func drifting(p Player, s Section) (Finding, bool) {
	var xs []float64
	own := p.slopes()
	for _, d := range sorted(own) {
		xs = append(xs, own[d]-s.drift[d])
	}
	e := mean(xs, confidence)
	return finding(Drifting, e, "cents per hour"), enough(e) && (e.Low > leastDrift || e.High < -leastDrift)
}

func loudness(p Player, s Section) (Finding, bool) {
	var xs []float64
	days, note := byDay(p.Readings, nil), p.tendencies()
	for _, d := range sorted(days) {
		var ps []point
		for _, r := range days[d] {
			if r.Played < warmPlayed {
				continue // cold notes are soft and flat for another reason
			}
			t, known := note[r.Note]
			if !known {
				continue
			}
			own := r.Own() - t - s.drift[d]*r.At.Sub(days[d][0].At).Hours()
			ps = append(ps, point{float64(r.Level) / 10, own})
		}
		if b, ok := slope(ps, leastLevels/10); ok {
			xs = append(xs, b)
		}
	}
	e := mean(xs, confidence)
	return finding(Loudness, e, "cents per 10 dB"), enough(e) && e.Low > leastLoud
}

func wandering(p Player, s Section) (Finding, bool) {
	if h := p.held(); h.N > 1 && h.Mean > leastHeld {
		return Finding{}, false // lips that hold wander for that reason; one thing at a time
	}
	e := changing(p.days(s.Common), confidence)
	// A held slide move looks like wandering of the instrument, and a chased
	// one like wandering of the pitch: what wanders does so both ways.
	if sounded := changing(p.firsts(s.Common), confidence); sounded.Mean < e.Mean {
		e = sounded
	}
	return finding(Wandering, e, "cents"), enough(e) && e.Low > math.Max(leastWander, wanderFactor*s.wander)
}
