package slide

import (
	"fmt"
	"math"
	"slices"

	"bellrow/proto/pitch"
)

// Bounds of what is believed.
const (
	// MaxCI is the widest interval that still gives a move: beyond it the
	// whole-millimetre answer would be a guess.
	MaxCI pitch.Cents = 10
	// A pinched attack starts sharp and keeps coming down: pinchedFall is how
	// far it comes down from its start to pinchedSeconds of its present slope
	// later. Steady notes stay within 2 cents at the start and 1 c/s of slope,
	// so 6 is beyond chance (from memory; no source for brass attacks).
	pinchedFall    = 6.0
	pinchedSeconds = 1.5
	// A note that slides at one pace from start to end drifts, and is no pinched
	// attack: steadySeconds lie between its start and the middle of what is read.
	steadySeconds = 0.9
	// loudnessDB is how far from the usual level a note may lie: most of a
	// dynamic step on a laptop microphone (common practice, no source).
	loudnessDB = 9
	// unlikeCents from where the player's instrument stood on recent days is
	// more than weather does: 10 degrees at 3 cents (D. Sipe).
	unlikeCents pitch.Cents = 30
	// unlikeDays is how many days make a habit.
	unlikeDays = 3
)

func again(code, headline, next string) (Advice, bool) {
	return Advice{Kind: Again, Code: code, Headline: headline, Next: next}, true
}

func (q *inquiry) noPitch() (Advice, bool) {
	if q.Reading.Hz.Valid() || !q.Reading.Settled && q.Reading.Reason != "" {
		return Advice{}, false
	}
	return again("no-pitch", "No pitch was heard.", "Play the note again, mezzo-forte.")
}

// unsettledWords holds headline and next step for the reasons of the node.
var unsettledWords = map[string][2]string{
	"moving":     {"The pitch was still moving.", "Breathe, start the note again and let it rest."},
	"vibrato":    {"That had vibrato, which is fine in music but not for tuning.", "Play the note again, straight."},
	"short":      {"The note was too short.", "Hold it for about two seconds."},
	"soft":       {"The note was too soft to measure.", "Play it again, mezzo-forte."},
	"two-sounds": {"Two sounds were heard at once.", "Wait until the others are quiet, then play again."},
	"noise":      {"That was not a held note.", "Play the called note and hold it."},
	"wide":       {"That could not be measured closely enough.", "Sit close to your laptop. Breathe, start the note again and let it rest."},
	"clipping":   {"The microphone was overloaded.", "Play mezzo-forte, or move the laptop a step away."},
	"gap":        {"Some of the sound was lost on this laptop.", "Play the note again."},
}

func (q *inquiry) unsettled() (Advice, bool) {
	if q.Reading.Settled {
		return Advice{}, false
	}
	w, ok := unsettledWords[q.Reading.Reason]
	if !ok {
		w = unsettledWords["moving"]
		return again("unsettled", w[0], w[1])
	}
	return again(q.Reading.Reason, w[0], w[1])
}

func (q *inquiry) overheard() (Advice, bool) {
	if !q.Reading.Overheard {
		return Advice{}, false
	}
	return again("overheard", "That was another player.", "Play when it is your turn, near your own laptop.")
}

func (q *inquiry) wide() (Advice, bool) {
	if q.Reading.CI95 <= MaxCI {
		return Advice{}, false
	}
	w := unsettledWords["wide"]
	return again("wide", w[0], w[1])
}

// pinchedBefore reports whether this player pinched earlier in this tune-up.
func (q *inquiry) pinchedBefore() bool {
	return q.Pinches || slices.ContainsFunc(q.Earlier, func(r Reading) bool { return r.fall() >= pinchedFall })
}

// fall is how far the pitch has come down from the start of the note to
// pinchedSeconds of its present slope later, in cents; 0 for a note that does
// not fall all along, or falls no faster at first than later.
func (r Reading) fall() float64 {
	if float64(r.Early) <= -r.Drift*steadySeconds || r.Drift >= 0 {
		return 0
	}
	return float64(r.Early) - r.Drift*pinchedSeconds
}

func (q *inquiry) falling() (Advice, bool) {
	limit := pinchedFall
	if q.pinchedBefore() {
		limit *= 0.75 // who has just pinched is likelier to do it again
	}
	if !q.Reading.Settled && q.Reading.Reason != "moving" || q.Reading.fall() < limit {
		return Advice{}, false
	}
	return again("pinched", "The note began high and was still coming down.", "Rest, breathe, and start it with more air and less pressure.")
}

// eased asks for one more note after a pinched one: the first that does not
// fall may still lie high, and the second tells.
func (q *inquiry) eased() (Advice, bool) {
	n := len(q.Earlier)
	if n == 0 || q.Earlier[n-1].fall() < pinchedFall || !q.Reading.Settled {
		return Advice{}, false
	}
	return again("eased", "That was easier.", "Rest, breathe, and play it once more just like that.")
}

func (q *inquiry) loudness() (Advice, bool) {
	if q.Baseline == 0 {
		return Advice{}, false
	}
	switch d := float64(q.Reading.Level - q.Baseline); {
	case d > loudnessDB:
		return again("loud", "That was much louder than your other tuning notes.", "Play it again, mezzo-forte.")
	case d < -loudnessDB:
		return again("soft", "That was much softer than your other tuning notes.", "Play it again, mezzo-forte.")
	}
	return Advice{}, false
}

// cold withholds everything until it can be told where the warm instrument will
// stand: a cold one is flat and comes up by itself.
func (q *inquiry) cold() (Advice, bool) {
	if !q.warmingUp() || !q.Warmup.unsure(q.Played) {
		return Advice{}, false
	}
	return again("cold", "The instrument is still cold and will come up.", "Blow warm air through it and play easy notes until you are called again.")
}

// unlikeBefore withholds a reading far from where this player's settings have
// put the instrument on recent days, once: a second reading that agrees is
// believed.
func (q *inquiry) unlikeBefore() (Advice, bool) {
	if len(q.History) < unlikeDays || q.confirmed() {
		return Advice{}, false
	}
	var expected []float64
	for _, p := range q.History {
		expected = append(expected, float64(p.Cents)+float64(q.settingChange(p)))
	}
	slices.Sort(expected)
	d := float64(q.offset) - expected[len(expected)/2]
	if math.Abs(d) <= float64(unlikeCents) {
		return Advice{}, false
	}
	return again("unlike",
		fmt.Sprintf("This is far from where your instrument has stood lately: about %.0f cents.", math.Abs(d)),
		"Check that every slide stands where it is written down, then play again.")
}

// settingChange is what the slides have been moved since, in cents.
func (q *inquiry) settingChange(p Past) pitch.Cents {
	now := q.Instrument.Pitch(q.Path, q.Settings, q.Air)
	then := q.Instrument.Pitch(q.Path, p.Settings, q.Air)
	return pitch.Between(then, now)
}

// confirmed reports whether an earlier reading says the same.
func (q *inquiry) confirmed() bool {
	for _, r := range q.Earlier {
		d := math.Abs(float64(pitch.Between(r.Hz, q.Reading.Hz)))
		if r.Settled && d <= math.Max(float64(DeadBand), math.Hypot(float64(r.CI95), float64(q.Reading.CI95))) {
			return true
		}
	}
	return false
}
