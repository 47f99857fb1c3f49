package slide

import (
	"math"
	"slices"

	"bellrow/proto/pitch"
)

// Bounds of what is believed.
const (
	// MaxCI is the widest interval that gives a move by itself: beyond it the
	// whole-millimetre answer would be a guess, unless the way is clear.
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

func (q *inquiry) again(code string) (Advice, bool) { return q.answer(Again, code), true }

// usable reports whether a note gives a pitch that can be answered: one that
// settled, or rested with a doubt or a vibrato whose size is known.
func (r Reading) usable() bool {
	return r.Settled || r.Hz.Valid() && (r.Reason == "wide" && r.CI95 > 0 || r.Reason == "vibrato" && r.Vibrato > 0)
}

// straight is the reading of the note as it would be without its vibrato: the
// interval widened upward by half of the extent.
func (r Reading) straight() Reading {
	if up := r.above(); up > 0 {
		r.Hz, r.CI95 = r.Hz.Shift(up), r.CI95+up
	}
	return r
}

// above is how much a vibrato moves and widens the interval, 0 without one.
func (r Reading) above() pitch.Cents { return max(0, r.Vibrato/4) }

func (q *inquiry) noPitch() (Advice, bool) {
	if q.Reading.Hz.Valid() || !q.Reading.Settled && q.Reading.Reason != "" {
		return Advice{}, false
	}
	return q.again("no-pitch")
}

// reasons why a note did not settle that a player can do something about.
var reasons = []string{"moving", "unsettled", "vibrato", "short", "soft", "two-sounds", "noise", "wide", "clipping", "gap",
	"no-pitch", "overheard", "pinched", "eased", "loud", "softer"}

func (q *inquiry) unsettled() (Advice, bool) {
	if q.Reading.usable() {
		return Advice{}, false
	}
	if !slices.Contains(reasons, q.Reading.Reason) {
		return q.again("unsettled")
	}
	return q.again(q.Reading.Reason)
}

func (q *inquiry) overheard() (Advice, bool) {
	if !q.Reading.Overheard {
		return Advice{}, false
	}
	return q.again("overheard")
}

// wide asks once more for a note whose interval is too wide, or widened by a
// vibrato: unless all of it lies on one side and outside the tolerance band,
// which leaves no doubt about the way and is worth the move.
func (q *inquiry) wide() (Advice, bool) {
	r := q.Reading.straight()
	ci := math.Min(float64(r.CI95), 1.96*q.belief.SD)
	if q.Reading.Vibrato <= 0 && ci <= float64(MaxCI) || math.Abs(float64(q.belief.Offset-q.expect()))-ci > float64(q.Good) {
		return Advice{}, false
	}
	if q.Reading.Vibrato > 0 {
		return q.again("vibrato")
	}
	return q.again("wide")
}

// expect is where the note lies by nature, which no slide is blamed for when
// tuning.
func (q *inquiry) expect() pitch.Cents {
	if q.Purpose == Balance {
		return 0
	}
	return q.Instrument.Nature(q.Path)
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
	if !q.Reading.usable() && q.Reading.Reason != "moving" || q.Reading.fall() < limit {
		return Advice{}, false
	}
	return q.again("pinched")
}

// eased asks for one more note after a pinched one: the first that does not
// fall may still lie high, and the second tells.
func (q *inquiry) eased() (Advice, bool) {
	n := len(q.Earlier)
	if n == 0 || q.Earlier[n-1].fall() < pinchedFall || !q.Reading.usable() {
		return Advice{}, false
	}
	return q.again("eased")
}

func (q *inquiry) loudness() (Advice, bool) {
	if q.Baseline == 0 {
		return Advice{}, false
	}
	switch d := float64(q.Reading.Level - q.Baseline); {
	case d > loudnessDB:
		return q.again("loud")
	case d < -loudnessDB:
		return q.again("softer")
	}
	return Advice{}, false
}

// cold withholds a move while the doubt about where the warm instrument will
// stand exceeds the move itself: a cold one is flat and comes up by itself. A
// move aims at the warm pitch, so that one that is sharp already, or very flat,
// need not wait.
func (q *inquiry) cold() (Advice, bool) {
	if !q.warmingUp() || !q.Warmup.unsure(q.Played) || q.warmup.outweighs(q.Played) {
		return Advice{}, false
	}
	a := q.answer(Again, "cold")
	a.Facts.WaitSeconds = q.Warmup.wait(q.Played)
	return a, true
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
		expected = append(expected, float64(p.Cents-p.Theory)+float64(q.settingChange(p)))
	}
	slices.Sort(expected)
	d := q.offset - q.expect() - pitch.Cents(expected[len(expected)/2])
	if math.Abs(float64(d)) <= float64(unlikeCents) {
		return Advice{}, false
	}
	a := q.answer(Again, "unlike")
	a.Facts.Away = d
	return a, true
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
		if r.Settled && d <= math.Max(float64(DeadBand), math.Hypot(float64(r.CI95.CentreCI95()), float64(q.Reading.CI95.CentreCI95()))) {
			return true
		}
	}
	return false
}
