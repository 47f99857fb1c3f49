package intonation

import (
	"cmp"
	"fmt"
	"slices"

	"bellrow/proto/pitch"
)

// Shape is the wanted balance of a chord.
type Shape string

// Shapes.
const (
	Even        Shape = ""             // every chair at its own mezzo-forte
	BottomHeavy Shape = "bottom-heavy" // lower parts stronger, upper ones progressively softer (F. McBeth, Effective Performance of Band Music, 1972)
)

// ParseShape reads the word of a command; empty means Even.
func ParseShape(s string) (Shape, error) {
	switch shape := Shape(s); shape {
	case Even, BottomHeavy:
		return shape, nil
	}
	return "", fmt.Errorf("shape %q, need bottom-heavy or none", s)
}

// Loudness is one chair's level in a chord against its own mezzo-forte
// baseline, both by its own microphone: only their difference means anything.
type Loudness struct {
	Chair           Chair
	Note            pitch.Note
	Level, Baseline pitch.Level
}

const (
	// pyramidDB is how far the bottom stands above and the top below the
	// middle in the bottom-heavy shape. The source gives no figure; this is
	// a step that is plainly heard (common practice, no source).
	pyramidDB = 3.0
	// balanceDB is the least departure worth a hint: half a dynamic step,
	// and more than a steady player strays (common practice, no source).
	balanceDB = 4.0
	// minBalance: of two chairs, either may be the loud one.
	minBalance = 3
)

// Hint is a hint on balance.
type Hint string

// The hints.
const (
	MuchSofter   Hint = "much-softer"
	Softer       Hint = "softer"
	MuchStronger Hint = "much-stronger"
	Stronger     Hint = "stronger"
)

// Balance hints at chairs that are much louder or softer than the wanted
// shape, against the group's own middle. It is a hint, never a score; a
// chair with nothing to hint at is missing from the result.
func Balance(shape Shape, chairs []Loudness) map[Chair]Hint {
	heard := slices.DeleteFunc(slices.Clone(chairs), func(l Loudness) bool {
		return !finite(float64(l.Level-l.Baseline)) || l.Level <= pitch.Silence || l.Baseline <= pitch.Silence
	})
	hints := map[Chair]Hint{}
	if len(heard) < minBalance {
		return hints
	}
	slices.SortStableFunc(heard, func(a, b Loudness) int {
		return cmp.Or(cmp.Compare(a.Note, b.Note), cmp.Compare(a.Chair, b.Chair))
	})
	departures := make([]float64, len(heard))
	ones := make([]float64, len(heard))
	for i, l := range heard {
		departures[i], ones[i] = float64(l.Level-l.Baseline)-shape.wanted(heard, i), 1
	}
	middle := weightedMedian(departures, ones)
	for i, l := range heard {
		if hint := balanceHint(departures[i] - middle); hint != "" {
			hints[l.Chair] = hint
		}
	}
	return hints
}

// wanted is the wanted level of the i-th chair from the bottom against its
// baseline, in dB. Chairs on one note want the same.
func (s Shape) wanted(chairs []Loudness, i int) float64 {
	low, high := chairs[0].Note, chairs[len(chairs)-1].Note
	if s != BottomHeavy || low == high {
		return 0
	}
	height := float64(chairs[i].Note-low) / float64(high-low)
	return pyramidDB * (1 - 2*height)
}

func balanceHint(db float64) Hint {
	switch {
	case db > 2*balanceDB:
		return MuchSofter
	case db > balanceDB:
		return Softer
	case db < -2*balanceDB:
		return MuchStronger
	case db < -balanceDB:
		return Stronger
	}
	return ""
}
