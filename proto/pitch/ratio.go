package pitch

import (
	"fmt"
	"math"
)

// Ratio is a frequency ratio of small whole numbers, upper over lower.
type Ratio struct {
	Num, Den int
}

// Cents returns the size of the ratio, or 0 if either part is not positive.
func (r Ratio) Cents() Cents {
	if r.Num <= 0 || r.Den <= 0 {
		return 0
	}
	return Cents(1200 * math.Log2(float64(r.Num)/float64(r.Den)))
}

// Offset returns how far the ratio lies from the given number of
// equal-tempered semitones: -13.686 for 5/4 against 4.
func (r Ratio) Offset(semitones int) Cents {
	return r.Cents() - Cents(100*semitones)
}

// String writes the ratio as players do: "5/4".
func (r Ratio) String() string { return fmt.Sprintf("%d/%d", r.Num, r.Den) }

// Beat returns how often the nearest shared partials of two notes in the
// ratio r beat, in Hz: |Num·low − Den·high|. It is 0 when the interval is just.
func (r Ratio) Beat(low, high Hertz) float64 {
	return math.Abs(float64(r.Num)*float64(low) - float64(r.Den)*float64(high))
}
