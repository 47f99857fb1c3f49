package history

import (
	"math"
	"strconv"

	"golang.org/x/text/number"

	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// In says a finding to the player: what was seen, and one thing to try.
func (f Finding) In(t phrase.Tongue) (words, try string) {
	key, e := "report.habit."+string(f.Habit), f.Evidence
	size, n := t.Cents(pitch.Cents(e.Mean)), counted(t, e.N)
	switch f.Habit {
	case Sagging:
		words = t.Say(key, tenths(e.Mean), n)
	case Holding:
		words = t.Say(key, n, rounded(100*(1-e.Mean)))
	case Drifting:
		key += ".up"
		if e.Mean < 0 {
			key = "report.habit.drifting.down"
		}
		words = t.Say(key, size, n)
	default:
		words = t.Say(key, size, n)
	}
	return words, t.Say(key + ".try")
}

// Small is the small print of a finding: its bounds.
func (f Finding) Small(t phrase.Tongue) string {
	return t.Say("report.evidence", tenths(f.Evidence.Low), tenths(f.Evidence.High), t.Say("report.unit."+string(f.Habit)))
}

// In says a trend to the player, empty when there is nothing to say.
func (t Trend) In(tongue phrase.Tongue) string {
	if t.Away == 0 {
		return ""
	}
	low, high := rounded(t.Low), rounded(t.High)
	span := tongue.Say("report.mm", low)
	if low != high {
		span = tongue.Say("report.mm.range", low, high)
	}
	return tongue.Say("report.trend", span, counted(tongue, t.From), rounded(t.Today))
}

// In says to a player what to do in the break, empty when there is nothing to say.
func (c ChairWatch) In(t phrase.Tongue) string {
	switch c.told {
	case "":
		return ""
	case louder:
		return t.Say("report.watch.louder")
	}
	key, then := "report.watch.sharper", t.Say("report.watch.stays")
	if c.Own.Mean < 0 {
		key = "report.watch.flatter"
	}
	switch mm := rounded(math.Abs(c.MoveMM)); {
	case mm >= 1 && c.MoveMM > 0:
		then = t.Say("report.watch.pull", mm)
	case mm >= 1:
		then = t.Say("report.watch.push", mm)
	}
	return t.Say(key, t.Cents(pitch.Cents(c.Own.Mean)), then)
}

// In says to the leader how the section went, and whose note to hear in the break,
// in the order of the seats.
func (w Watch) In(t phrase.Tongue) (words []string) {
	if w.together != nil {
		words = append(words, commonWords(t, *w.together))
	}
	return append(words, w.atBreak(t))
}

func commonWords(t phrase.Tongue, x float64) string {
	switch n := math.Round(x); {
	case n > 1:
		return t.Say("report.watch.rose", t.Cents(pitch.Cents(x)))
	case n < -1:
		return t.Say("report.watch.sank", t.Cents(pitch.Cents(x)))
	}
	return t.Say("report.watch.stayed")
}

func (w Watch) atBreak(t phrase.Tongue) string {
	var who []string
	heard := 0
	for _, c := range w.Chairs {
		if c.Own.N > 0 {
			heard++
		}
		if c.MoveMM != 0 {
			who = append(who, c.Label)
		}
	}
	switch {
	case heard == 0:
		return t.Say("report.watch.few")
	case len(who) == 0:
		return t.Say("report.watch.none")
	case len(who) == 1:
		return t.Say("report.watch.one", who[0])
	}
	return t.Say("report.watch.several", List(t, who))
}

// List names several things: "A, B and C".
func List(t phrase.Tongue, names []string) string {
	out := names[0]
	for i, n := range names[1:] {
		if i == len(names)-2 {
			out = t.Say("report.and", out, n)
		} else {
			out += ", " + n
		}
	}
	return out
}

// counted writes a small number as a word.
func counted(t phrase.Tongue, n int) string {
	if word := t.Item("report.number.list", n); word != "" {
		return word
	}
	return strconv.Itoa(n)
}

// tenths is a figure with one place, as the language writes it.
func tenths(x float64) any { return number.Decimal(x, number.Scale(1)) }

func rounded(x float64) int { return int(math.Round(x)) }
