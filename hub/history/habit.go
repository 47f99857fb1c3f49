package history

import (
	"fmt"
	"math"

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
	Words    string   `json:"words"` // to the player
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

func enough(e Evidence) bool { return e.N >= fewest }

func pinching(p Player, _ Section) (Finding, bool) {
	e := mean(p.daily(Reading.start), confidence)
	return Finding{
		Habit: Pinching, Evidence: e, Unit: "cents",
		Words: fmt.Sprintf("Your notes begin about %.0f cents above where they come to rest, over %s rehearsals.", e.Mean, number(e.N)),
		Try:   "Breathe out first, then start the note with air alone, and let it find its own place.",
	}, enough(e) && e.Low > leastEarly
}

func sagging(p Player, _ Section) (Finding, bool) {
	e := mean(p.daily(func(r Reading) float64 {
		if r.start() > leastEarly {
			return 0 // coming down from a sharp start is another habit
		}
		return -r.Drift
	}), confidence)
	return Finding{
		Habit: Sagging, Evidence: e, Unit: "cents per second",
		Words: fmt.Sprintf("Held notes sink by about %.1f cents a second, over %s rehearsals.", e.Mean, number(e.N)),
		Try:   "Take a full breath for each tuning note and keep the air moving to its end.",
	}, enough(e) && e.Low > leastSag
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
	return Finding{
		Habit: Holding, Evidence: e, Unit: "share of the move",
		Words: fmt.Sprintf("In %s slide moves the pitch came along by about %.0f %% of what the slide should give.", number(e.N), 100*(1-e.Mean)),
		Try:   "Move the slide, rest, breathe, and slur down into the note with the eyes closed: go where the slide goes.",
	}, enough(e) && e.Low > leastHeld
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
	return Finding{
		Habit: Cold, Evidence: e, Unit: "cents",
		Words: fmt.Sprintf("Your first readings are about %.0f cents flatter than your later ones, over %s rehearsals.", e.Mean, number(e.N)),
		Try:   "Blow warm air through the instrument and play easy notes for five minutes before you tune.",
	}, enough(e) && e.Low > leastCold && float64(e.N) >= oftenCold*float64(len(days))
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
	way, try := "up", "Rest the lips whenever you can, and play the loud places with air rather than pressure."
	if e.Mean < 0 {
		way, try = "down", "Rest the lips whenever you can, and breathe before you are short of air."
	}
	return Finding{
		Habit: Drifting, Evidence: e, Unit: "cents per hour",
		Words: fmt.Sprintf("During a rehearsal your pitch goes %s by about %.0f cents an hour more than the section's, over %s rehearsals.", way, math.Abs(e.Mean), number(e.N)),
		Try:   try,
	}, enough(e) && (e.Low > leastDrift || e.High < -leastDrift)
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
	return Finding{
		Habit: Loudness, Evidence: e, Unit: "cents per 10 dB",
		Words: fmt.Sprintf("Louder notes are about %.0f cents sharper for each 10 dB, over %s rehearsals.", e.Mean, number(e.N)),
		Try:   "Swell a long note and keep its centre: more air, the same lips.",
	}, enough(e) && e.Low > leastLoud
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
	return Finding{
		Habit: Wandering, Evidence: e, Unit: "cents",
		Words: fmt.Sprintf("From day to day your instrument has been about %.0f cents away from its usual place, over %s rehearsals. Does it feel the same each day, or do some days take more pressure?", e.Mean, number(e.N)),
		Try:   "Play five fresh attacks with the eyes closed before you look, and set the slide from the middle one.",
	}, enough(e) && e.Low > math.Max(leastWander, wanderFactor*s.wander)
}
