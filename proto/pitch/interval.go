package pitch

import "math"

// within is how many standard deviations hold 95 % of a normal distribution. Steps of
// recorded notes, in half widths of their intervals, are Student's of about three degrees:
// narrower in the middle (half lie within 0.23) and longer in the tails (one of a hundred
// beyond 1.9); their RMS, none counted beyond two, is 0.51, and that is 1/within
// (testdata/results/readings.md).
const within = 1.96

// CentreSD is the standard deviation, in cents, of where the centre of one note lies
// whose reading has the half width c.
//
// The interval of a reading, from a node, a file or a row, is the 95 % interval of the
// step from the centre that was read to the centre of what the same player goes on to
// hold: a slide is set for the next note. That step is the difference of two centres
// alike, each of which has half its variance. What a fresh attack adds is not in it. So
//
//   - what is said to a player of a reading, and asked of it, is within c;
//   - readings are weighed by CentreSD, and a section's offset, a study's change of
//     pitch or a belief made of several has an interval of its own, of the thing itself;
//   - what tells a mean only is IntervalOf its standard deviation when it becomes a reading.
func (c Cents) CentreSD() float64 { return float64(c) / (within * math.Sqrt2) }

// IntervalOf is the half width of the interval of a reading whose centre is known to a
// standard deviation of sd cents: the inverse of CentreSD.
func IntervalOf(sd float64) Cents { return Cents(sd * within * math.Sqrt2) }

// CentreCI95 is the half width of the 95 % interval of the centre that was read itself,
// where the reading's is c.
func (c Cents) CentreCI95() Cents { return c / math.Sqrt2 }

// IntervalOfMean is the half width of the interval of a reading whose centre has a 95 %
// interval of its own: the inverse of CentreCI95.
func IntervalOfMean(ci95 Cents) Cents { return ci95 * math.Sqrt2 }
