package history

import (
	"fmt"
	"math"
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
// months (measured: hub/history/trial).
const confidence = 0.002

// fewest is how many rehearsals (or moves) a finding needs.
const fewest = 4

// Sizes that matter. What lies below is left alone even when it is certain.
const (
	leastEarly   = 5.0 // cents above the rest at the start: beyond a usual attack (common practice, no source)
	leastSag     = 1.5 // cents per second
	leastHeld    = 0.4 // share of the expected change that did not come
	leastCold    = 4.0 // cents between cold and warm, beyond what a warm instrument does
	leastDrift   = 4.0 // cents per hour beyond the section's
	leastLoud    = 2.0 // cents per 10 dB
	leastWander  = 5.0 // cents from day to day
	wanderFactor = 1.6 // times the section's median player
	// leastLevels and leastHours are the spans that make a slope worth having.
	leastLevels = 4.0
	leastHours  = 0.5
	// smallMove is the least expected change, in cents, that tells anything
	// of following: two readings of 2 cents leave 2.8 on their difference.
	smallMove = 8.0
	// coldPlayed and warmPlayed are the played seconds up to and from which an
	// instrument counts as cold and as warm.
	coldPlayed, warmPlayed = 60, 300
)

// Finding is one habit with its evidence.
type Finding struct {
	Habit    Habit
	Evidence Evidence
	Unit     string // of the evidence
	Words    string // to the player
	Try      string // one thing to try
}

// Findings returns what the records of player p show, beyond doubt only. The
// section is needed to tell a player's habit from the room: all its players,
// p among them.
func Findings(p Player, section Section) []Finding {
	var out []Finding
	for _, look := range looks {
		if f, ok := look(p, section); ok {
			out = append(out, f)
		}
	}
	return out
}

var looks = []func(Player, Section) (Finding, bool){pinching, sagging, holding, coldTuning, drifting, loudness, wandering}

// Section is what the section as a whole shows, against which one player is
// seen. It is made once for all its players.
type Section struct {
	Common Common
	drift  map[day]float64 // median slope of the others, cents per hour
	wander float64         // median day-to-day deviation of a player, cents
}

// SectionOf reads what a section has in common.
func SectionOf(players []Player) Section {
	s := Section{Common: CommonOf(players), drift: map[day]float64{}}
	slopes := map[day][]float64{}
	var wanders []float64
	for _, p := range players {
		for d, v := range p.slopes() {
			slopes[d] = append(slopes[d], v)
		}
		if xs := p.days(s.Common); len(xs) >= fewest {
			wanders = append(wanders, spread(xs))
		}
	}
	for d, xs := range slopes {
		if len(xs) >= fewestForCommon {
			s.drift[d] = median(xs)
		}
	}
	s.wander = median(wanders)
	return s
}

// days returns a player's own offset of each rehearsal, the common part taken
// out.
func (p Player) days(c Common) []float64 {
	var xs []float64
	days := byDay(p.Readings, called)
	for _, d := range sorted(days) {
		xs = append(xs, median(owns(days[d]))-c[d])
	}
	return xs
}

// slopes returns the drift of each rehearsal in cents per hour, from the
// notes taken while the section played.
func (p Player) slopes() map[day]float64 {
	out := map[day]float64{}
	for d, rs := range byDay(p.Readings, func(r Reading) bool { return r.Watch }) {
		var x []float64
		for _, r := range rs {
			x = append(x, r.At.Sub(rs[0].At).Hours())
		}
		if b, ok := slope(x, owns(rs), leastHours); ok {
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
		out = append(out, median(xs))
	}
	return out
}

func enough(e Evidence) bool { return e.N >= fewest }

func pinching(p Player, _ Section) (Finding, bool) {
	e := mean(p.daily(func(r Reading) float64 { return float64(r.Early) }), confidence)
	return Finding{
		Habit: Pinching, Evidence: e, Unit: "cents",
		Words: fmt.Sprintf("Your notes begin about %.0f cents above where they come to rest, over %s rehearsals.", e.Mean, number(e.N)),
		Try:   "Breathe out first, then start the note with air alone, and let it find its own place.",
	}, enough(e) && e.Low > leastEarly
}

func sagging(p Player, _ Section) (Finding, bool) {
	e := mean(p.daily(func(r Reading) float64 {
		if r.Early > leastEarly {
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

func holding(p Player, _ Section) (Finding, bool) {
	var missed []float64
	for _, m := range p.Moves {
		if math.Abs(float64(m.Expected)) >= smallMove {
			share := float64(m.Measured / m.Expected)
			missed = append(missed, 1-math.Max(-0.5, math.Min(1.5, share)))
		}
	}
	e := mean(missed, confidence)
	return Finding{
		Habit: Holding, Evidence: e, Unit: "share of the move",
		Words: fmt.Sprintf("In %s slide moves the pitch came along by about %.0f %% of what the slide should give.", number(e.N), 100*(1-e.Mean)),
		Try:   "Move the slide, rest, breathe, and slur down into the note with the eyes closed: go where the slide goes.",
	}, enough(e) && e.Low > leastHeld
}

func coldTuning(p Player, _ Section) (Finding, bool) {
	var rises []float64
	days := byDay(p.Readings, nil)
	for _, d := range sorted(days) {
		var cold, warm []float64
		for _, r := range days[d] {
			switch {
			case r.Played < coldPlayed:
				cold = append(cold, r.Own())
			case r.Played >= warmPlayed:
				warm = append(warm, r.Own())
			}
		}
		if len(cold) > 0 && len(warm) > 0 {
			rises = append(rises, median(warm)-median(cold))
		}
	}
	e := mean(rises, confidence)
	return Finding{
		Habit: Cold, Evidence: e, Unit: "cents",
		Words: fmt.Sprintf("Your first readings are about %.0f cents flatter than your later ones, over %s rehearsals.", e.Mean, number(e.N)),
		Try:   "Blow warm air through the instrument and play easy notes for five minutes before you tune.",
	}, enough(e) && e.Low > leastCold
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
	days := byDay(p.Readings, nil)
	for _, d := range sorted(days) {
		var x []float64
		for _, r := range days[d] {
			x = append(x, float64(r.Level)/10)
		}
		if b, ok := slope(x, owns(days[d]), leastLevels/10); ok {
			xs = append(xs, b)
		}
	}
	e := mean(xs, confidence)
	return Finding{
		Habit: Loudness, Evidence: e, Unit: "cents per 10 dB",
		Words: fmt.Sprintf("Louder notes are about %.0f cents sharper for each step in loudness, over %s rehearsals.", e.Mean, number(e.N)),
		Try:   "Swell a long note and keep its centre: more air, the same lips.",
	}, enough(e) && e.Low > leastLoud
}

func wandering(p Player, s Section) (Finding, bool) {
	e := deviation(p.days(s.Common), confidence)
	return Finding{
		Habit: Wandering, Evidence: e, Unit: "cents",
		Words: fmt.Sprintf("From day to day your instrument has been about %.0f cents away from its usual place, over %s rehearsals. A setting that wanders is often a pinched one.", e.Mean, number(e.N)),
		Try:   "Play five fresh attacks with the eyes closed before you look, and set the slide from the middle one.",
	}, enough(e) && e.Low > math.Max(leastWander, wanderFactor*s.wander)
}
