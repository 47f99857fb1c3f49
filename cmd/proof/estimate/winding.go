package estimate

import (
	"cmp"
	"math"
	"math/cmplx"
	"slices"

	"gonum.org/v1/gonum/stat"
)

// A winding is the truth about a recorded note: how far the phase of each of
// its partials has turned, moment by moment. The time average of the pitch
// over a stretch is the turns of a partial in it over its duration, every
// moment alike, and of the partials the power-weighted median. Nothing of the
// estimator is used.
type winding struct {
	hz    float64     // what the phases are counted from
	turns [][]float64 // [partial][step], turns ahead of k·hz
	power [][]float64 // [partial][step]
}

const (
	// windingStep is the time between two looks, in seconds: far below the
	// 0.03 s in which a lip's pitch changes.
	windingStep = 0.005
	// windingPartials is how many partials vote.
	windingPartials = 16
	// windingTop is the highest partial in Hz.
	windingTop = 6000.0
)

func newWinding(x []float64, hz float64) *winding {
	w := &winding{hz: hz}
	half := int(math.Round(endWindow / 2 * rate / hz))
	steps := int(float64(len(x)) / rate / windingStep)
	padded := append(append(make([]float64, half), x...), make([]float64, half)...)
	for k := 1; k <= windingPartials && float64(k)*hz < windingTop; k++ {
		turns, power := make([]float64, steps), make([]float64, steps)
		previous := complex(0, 0)
		for i := range steps {
			at := int(math.Round(float64(i) * windingStep * rate))
			z := line(padded, at+half, half, float64(k)*hz)
			power[i] = real(z)*real(z) + imag(z)*imag(z)
			if i > 0 {
				turns[i] = turns[i-1] + cmplx.Phase(z*cmplx.Conj(previous))/(2*math.Pi)
			}
			previous = z
		}
		w.turns, w.power = append(w.turns, turns), append(w.power, power)
	}
	return w
}

// mean is the time average of the pitch over [from, to), seconds into the
// note, in Hz. A stretch is held inside the note.
func (w *winding) mean(from, to float64) float64 {
	last := float64(len(w.turns[0]) - 1)
	a := max(0, min(from/windingStep, last-2))
	b := max(a+2, min(to/windingStep, last))
	return w.median(a, b, func(turns []float64) float64 {
		return (between(turns, b) - between(turns, a)) / ((b - a) * windingStep)
	})
}

// apart is how far the partials lie from multiples of one frequency between two
// seconds of the note, in cents: the standard deviation by amplitude.
func (w *winding) apart(from, to float64) float64 {
	a, b := int(from/windingStep), min(int(to/windingStep), len(w.turns[0])-1)
	var cents, amplitude []float64
	for k, t := range w.turns {
		hz := w.hz + (t[b]-t[a])/(float64(b-a)*windingStep)/float64(k+1)
		cents = append(cents, 1200*math.Log2(hz/w.hz))
		amplitude = append(amplitude, math.Sqrt(stat.Mean(w.power[k][a:b], nil)))
	}
	_, variance := stat.PopMeanVariance(cents, amplitude)
	return math.Sqrt(variance)
}

// median is that of what each partial says of its frequency, in Hz beside
// k·hz, over steps a to b, by power.
func (w *winding) median(a, b float64, says func(turns []float64) float64) float64 {
	type vote struct{ hz, power float64 }
	var votes []vote
	all := 0.0
	for k := range w.turns {
		p := 0.0
		for _, v := range w.power[k][int(a) : int(b)+1] {
			p += v
		}
		votes = append(votes, vote{w.hz + says(w.turns[k])/float64(k+1), p})
		all += p
	}
	slices.SortFunc(votes, func(a, b vote) int { return cmp.Compare(a.hz, b.hz) })
	// Between the votes, so that a small change of power makes no jump.
	sum := 0.0
	for i, v := range votes {
		middle := sum + v.power/2
		if middle >= all/2 {
			if i == 0 {
				return v.hz
			}
			before := sum - votes[i-1].power/2
			return votes[i-1].hz + (v.hz-votes[i-1].hz)*(all/2-before)/(middle-before)
		}
		sum += v.power
	}
	return votes[len(votes)-1].hz
}

// between reads x at a place between two steps.
func between(x []float64, at float64) float64 {
	i := min(int(at), len(x)-2)
	return x[i] + (at-float64(i))*(x[i+1]-x[i])
}
