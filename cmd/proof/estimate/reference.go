package estimate

import (
	"math"
	"math/cmplx"
)

// The reference for a real note alone is found in another way than the
// estimator's: from two phases only, at the ends of the stretch, each averaged
// over a window that reaches beyond it, for each partial on its own; no fit
// over the stretch. It is the mean pitch, cycles over time.

const (
	// endWindow is the length, in periods, of the Hann window about each end: a
	// whole number of periods puts the other partials on its nulls.
	endWindow = 4
	// referencePartials is how many partials vote.
	referencePartials = 16
)

// meanPitch returns the mean pitch of x over [from, to) near hz, and the
// disagreement of the partials in cents (a weighted standard error). x must
// reach endWindow/2 periods beyond both ends.
func meanPitch(x []float64, from, to int, hz float64) (mean, disagreement float64, ok bool) {
	half := int(math.Round(endWindow / 2 * rate / hz))
	if from-half < 0 || to+half > len(x) || to-from < 4*half {
		return 0, 0, false
	}
	seconds := float64(to-from) / rate
	// Count the cycles of the strongest partial step by step, so that no guess
	// of a whole cycle is needed.
	mean = hz
	for range 2 {
		sum, weight, squares := 0.0, 0.0, 0.0
		for k := 1; k <= referencePartials && float64(k)*mean < 8000; k++ {
			turn, amplitude := turned(x, from, to, half, float64(k)*mean)
			f := mean + turn/(2*math.Pi*seconds*float64(k))
			w := amplitude * amplitude * float64(k*k)
			sum += w * f
			squares += w * f * f
			weight += w
		}
		if weight == 0 {
			return 0, 0, false
		}
		next := sum / weight
		spread := math.Sqrt(max(0, squares/weight-next*next))
		mean, disagreement = next, 1200/math.Ln2*spread/next/math.Sqrt(4)
	}
	return mean, disagreement, mean > 0
}

// turned follows the partial at f Hz from one end to the other in steps and
// returns how far its phase ran ahead of f, and its amplitude.
func turned(x []float64, from, to, half int, f float64) (turn, amplitude float64) {
	const steps = 100
	previous := complex(0, 0)
	for i := 0; i <= steps; i++ {
		at := from + int(math.Round(float64(i)*float64(to-from)/steps))
		z := line(x, at, half, f)
		if i > 0 {
			turn += cmplx.Phase(z * cmplx.Conj(previous))
		}
		previous = z
		amplitude += cmplx.Abs(z) / (steps + 1)
	}
	return turn, amplitude
}

// swayOf is the 10–90 % range, in cents, of the pitch near hz over [from, to),
// as the strongest partial's phase shows it from one hundredth of a second to
// the next.
func swayOf(x []float64, from, to int, hz float64) float64 {
	half := int(math.Round(endWindow / 2 * rate / hz))
	strongest, most := 1.0, 0.0
	for k := 1.0; k <= referencePartials && k*hz < 8000; k++ {
		if a := cmplx.Abs(line(x, (from+to)/2, half, k*hz)); a > most {
			strongest, most = k, a
		}
	}
	const hop = rate / 100
	f := strongest * hz
	var track []float64
	previous := complex(0, 0)
	for at := from; at <= to; at += hop {
		z := line(x, at, half, f)
		if at > from {
			track = append(track, 1200/math.Ln2*cmplx.Phase(z*cmplx.Conj(previous))/(2*math.Pi*hop/rate)/f)
		}
		previous = z
	}
	return quantile(track, 0.9) - quantile(track, 0.1)
}

// line is the Hann-weighted sum of x around sample at, turned back by f Hz.
func line(x []float64, at, half int, f float64) complex128 {
	w := 2 * math.Pi * f / rate
	sum := complex(0, 0)
	spin, step := cmplx.Rect(1, -w*float64(at-half)), cmplx.Rect(1, -w)
	hannSpin, hannStep := cmplx.Rect(1, -math.Pi), cmplx.Rect(1, math.Pi/float64(half))
	for i := at - half; i < at+half; i++ {
		sum += spin * complex(x[i]*(0.5+0.5*real(hannSpin)), 0)
		spin *= step
		hannSpin *= hannStep
	}
	return sum / complex(float64(half), 0)
}
