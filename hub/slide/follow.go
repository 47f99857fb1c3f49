package slide

import (
	"fmt"
	"math"

	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// Verdict says whether the pitch went with the slide.
type Verdict string

// Verdicts, by measured over expected change.
const (
	Went   Verdict = "went"    // 0.7 to 1.3
	Partly Verdict = "partly"  // 0.3 to 0.7
	Held   Verdict = "held"    // under 0.3: the embouchure kept the old pitch
	TooFar Verdict = "too-far" // over 1.3, or the other way: another slide moved, or the wrong way
	Unsure Verdict = "unsure"  // the interval reaches into another story
	Small  Verdict = "small"   // expected too little to tell
)

// The bands (common practice, no source) and the least expected change that
// can be judged: two readings of 2 cents leave 2.8 cents on their difference,
// a third of 8.
const (
	heldBelow  = 0.3
	partlyTo   = 0.7
	wentTo     = 1.3
	JudgeCents = 8
)

// repeatCents is how far one relaxed player's settled notes differ from one
// attack to the next, as a standard deviation, beside how well the reading knows
// its own centre (from memory; no source).
const repeatCents = 1.5

// Made is one move that was made, between two readings of the same note.
type Made struct {
	// Expected is the change that the move should bring, from Expect.
	Expected pitch.Cents
	Before   Reading
	After    Reading
	// Common is the change of the whole section's offset in between: warming air
	// is no embouchure.
	Common pitch.Cents
	// Repeats counts further readings that After is the mean of; 0 = one.
	Repeats int
}

// Measured is the change of pitch that is left when the room is taken out.
func (m Made) Measured() pitch.Cents {
	return pitch.Between(m.Before.Hz, m.After.Hz) - m.Common
}

// Again takes one more reading after the move: it joins After when it says the
// same, and takes its place when it does not, since a fresh attack that comes
// out elsewhere is what was asked for.
func (m Made) Again(r Reading) Made {
	sd := math.Hypot(m.After.sd(), r.sd())
	d := float64(pitch.Between(m.After.Hz, r.Hz))
	if !m.After.Hz.Valid() || math.Abs(d) > sameAttack*sd {
		m.After, m.Repeats = r, 0
		return m
	}
	n := float64(m.Repeats + 1)
	m.After.Hz = m.After.Hz.Shift(pitch.Cents(d / (n + 1)))
	m.Repeats++
	return m
}

// sameAttack is the number of standard deviations within which two attacks
// say the same.
const sameAttack = 2

// sd is the standard deviation of Measured.
func (m Made) sd() float64 {
	return math.Hypot(m.Before.sd(), m.After.sd()/math.Sqrt(float64(1+m.Repeats)))
}

// Expect returns the change of pitch on a path when a slide goes from one
// place to another, with the player's own millimetres per cent.
func Expect(in *instrument.Instrument, p instrument.Path, set instrument.Settings, id instrument.SlideID, fromMM, toMM float64, l Learned) pitch.Cents {
	v := LeverOf(in, p, id, set, l)
	present := in.MM(set, id)
	return v.Cents(toMM-present) - v.Cents(fromMM-present)
}

// Follow is what became of a move.
type Follow struct {
	Verdict Verdict `json:"verdict"`
	// Ratio is measured over expected change, Low and High its 95 % interval.
	// All are 0 for Small.
	Ratio float64 `json:"ratio"`
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
	// Measured is the change found, in cents, of the last move.
	Measured pitch.Cents `json:"measured_cents"`
	// Words is one plain sentence for the leader.
	Words string `json:"words"`
}

// FollowThrough judges the last of the moves a player made, oldest first,
// with the evidence of all of them: a ratio by least squares over moves. One
// move alone is the usual case; after an Unsure one the next adds to it.
// A verdict of Held needs an interval that excludes a pitch that went along.
func FollowThrough(made ...Made) Follow {
	f := Follow{Verdict: Small}
	var xx, xy float64
	for _, m := range made {
		f.Measured = m.Measured()
		if math.Abs(float64(m.Expected)) < JudgeCents || !m.Before.Hz.Valid() || !m.After.Hz.Valid() {
			continue
		}
		w := 1 / (m.sd() * m.sd())
		xx += w * float64(m.Expected) * float64(m.Expected)
		xy += w * float64(m.Expected) * float64(m.Measured())
	}
	if xx == 0 {
		f.Words = f.words()
		return f
	}
	f.Ratio = xy / xx
	half := 1.96 / math.Sqrt(xx)
	f.Low, f.High = f.Ratio-half, f.Ratio+half
	f.Verdict = f.judge()
	f.Words = f.words()
	return f
}

func (f Follow) judge() Verdict {
	switch {
	case f.Ratio < -heldBelow && f.High < heldBelow:
		return TooFar
	case f.Ratio < heldBelow && f.High < partlyTo:
		return Held
	case f.Ratio < heldBelow:
		return Unsure
	case f.Ratio < partlyTo:
		return Partly
	case f.Ratio > wentTo && f.Low > 1:
		return TooFar
	}
	return Went
}

// Answer gives the player's next step after a move, and whether there is one
// that must come before any further move: a held pitch is never chased with
// the slide.
func (f Follow) Answer() (Advice, bool) {
	a := Advice{Code: string(f.Verdict), Facts: Facts{Verdict: f.Verdict, WrongWay: f.Ratio < 0}}
	switch f.Verdict {
	case Held, Partly:
		a.Kind = Rest
	case Unsure, TooFar:
		a.Kind = Again
	default:
		return Advice{}, false
	}
	return a, true
}

// String shows the ratio with its interval, for logs and small print.
func (f Follow) String() string {
	if f.Verdict == Small {
		return string(f.Verdict)
	}
	return fmt.Sprintf("%s %.2f (%.2f to %.2f)", f.Verdict, f.Ratio, f.Low, f.High)
}
