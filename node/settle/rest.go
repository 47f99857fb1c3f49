// Package settle finds where a pitch has come to rest and how well its centre
// is known.
//
// A track is the pitch of one note in cents above any fixed reference, one
// point per tick seconds. Everything here is pure arithmetic: no clock, no
// goroutine, no I/O, and no allocation but in Vibrato.
//
// # Why a centre is known at all
//
// A held brass note wanders quickly: by 2 to 8 cents, with a time constant of
// 0.03 to 0.1 s. Written over a stretch of T seconds as
//
//	d(t) = Σ a_j cos(π j t/T),  j = 1, 2, …
//
// a wander of spectral density S at low frequencies gives every half wave the
// variance 2S/T and the mean over the stretch the variance S/T. So half of the
// mean a_j² is the square of the standard error of the mean, whatever the
// wander is like; its uncertainty is that of a mean of as many squares, and the
// interval Student's. The half waves up to 1 Hz + 1/T are used: as many as the
// spectrum is flat for. A wander of 0.1 s is no longer flat there, and its interval
// holds 90 to 92 % instead of 95.
//
// # What is no rest
//
// A trend or a step shows in the first three half waves, whose sum is the
// note's movement. A stretch is calm when that spans few cents; a longer one
// may move more if no half wave stands out against the quicker ones: then the
// player sways about a centre, and the interval says how well it is known.
package settle

import (
	"math"
	"slices"
)

const (
	// Shortest is the shortest rest, in seconds.
	Shortest = 0.6
	// Longest is the longest stretch that is read.
	Longest = 3.0
	// calmRange is the movement, 5–95 % range in cents, of a calm stretch: a
	// trend of 8 cents a second exceeds it in 0.6 s.
	calmRange = 4.0
	// swayRange and swayLeast, cents and seconds, bound one that sways, and
	// swayFactor how much its greatest slow half wave may exceed the mean of the
	// quicker ones, as squares.
	swayRange, swayLeast, swayFactor = 8.0, 2.0, 3.0
	// movements is how many half waves are movement.
	movements = 3
	// searchStep is how finely a rest is placed, in seconds.
	searchStep = 0.1
	// most is the largest number of half waves used.
	most = 4*int(Longest) + 3
)

// lengths are the stretches tried, in seconds.
var lengths = [...]float64{Longest, 2.5, 2, 1.7, 1.4, 1.2, 1, 0.8, Shortest}

// Rest is a stretch of a track.
type Rest struct {
	From, To int     // points, To exclusive
	Moved    float64 // the range of its movement, cents
	Error    float64 // standard error of its mean as the wander gives it, cents
	Freedom  int     // degrees of freedom of Error
	slow     [most]float64
	waves    int // of slow
	seconds  float64
}

// Of measures points [from, to) of track.
func Of(track []float64, from, to int, tick float64) Rest {
	r := Rest{From: from, To: to, seconds: float64(to-from) * tick}
	r.Freedom = HalfWaves(r.seconds)
	r.waves = min(most, max(r.Freedom, int(4*r.seconds)+2))
	sum := 0.0
	for j := range r.waves {
		a := HalfWave(track[from:to], j+1)
		r.slow[j] = a
		if j < r.Freedom {
			sum += a * a
		}
	}
	r.Error = math.Sqrt(sum / float64(r.Freedom) / 2)
	r.Moved = r.movement()
	return r
}

// Half is the half width of the 95 % interval of the mean.
func (r Rest) Half() float64 { return quantile(r.Freedom) * r.Error }

// movement is the 5–95 % range of the sum of the first half waves.
func (r Rest) movement() float64 {
	const points = 40
	var path [points]float64
	for i := range path {
		c := math.Cos(math.Pi * (float64(i) + 0.5) / points)
		// cos 2x and cos 3x from cos x.
		path[i] = r.slow[0]*c + r.slow[1]*(2*c*c-1) + r.slow[2]*c*(4*c*c-3)
	}
	slices.Sort(path[:])
	return path[points*95/100] - path[points*5/100]
}

// Calm reports whether r holds neither trend nor step.
func (r Rest) Calm() bool { return r.Moved <= calmRange }

// Sways reports whether r moves about a centre rather than elsewhere.
func (r Rest) Sways() bool {
	if r.seconds < swayLeast-1e-9 || r.Moved > swayRange {
		return false
	}
	top, others := 0.0, 0.0
	for j, a := range r.slow[:r.waves] {
		if j < movements {
			top = max(top, a*a)
		} else {
			others += a * a / float64(r.waves-movements)
		}
	}
	return top < swayFactor*others
}

// Find returns the longest rest within points [from, to): the calmest of the
// longest calm stretches, or, where none is calm, the longest that sways.
func Find(track []float64, from, to int, tick float64) (Rest, bool) {
	for _, rests := range [...]func(Rest) bool{Rest.Calm, Rest.Sways} {
		for _, seconds := range lengths {
			n := int(seconds / tick)
			best, found := Rest{}, false
			for a := from; a+n <= to; a += max(1, int(searchStep/tick)) {
				if r := Of(track, a, a+n, tick); rests(r) && (!found || r.Moved < best.Moved) {
					best, found = r, true
				}
			}
			if found {
				return best, true
			}
		}
	}
	return Rest{}, false
}

// Now returns the longest rest that ends with the track.
func Now(track []float64, from int, tick float64) (Rest, bool) {
	for _, seconds := range lengths {
		n := int(seconds / tick)
		if len(track)-n < from {
			continue
		}
		if r := Of(track, len(track)-n, len(track), tick); r.Calm() || r.Sways() {
			return r, true
		}
	}
	return Rest{}, false
}

// HalfWaves is how many half waves of a stretch tell of its wander.
func HalfWaves(seconds float64) int { return min(most, max(4, int(2*seconds)+2)) }

// HalfWave is the amplitude of cos(π j t/T) in y.
func HalfWave(y []float64, j int) float64 {
	n := float64(len(y))
	w := math.Pi * float64(j) / n
	c := 2 * math.Cos(w)
	p, q := math.Cos(w/2), math.Cos(1.5*w)
	sum := 0.0
	for _, v := range y {
		sum += v * p
		p, q = q, c*q-p
	}
	return 2 * sum / n
}

// quantile is the 97.5 % point of Student's t (Abramowitz and Stegun 1964,
// 26.7.5; within 0.3 % from four degrees of freedom on).
func quantile(freedom int) float64 {
	const z = 1.959964
	n := float64(max(1, freedom))
	z3, z5, z7 := z*z*z, z*z*z*z*z, z*z*z*z*z*z*z
	return z + (z3+z)/(4*n) + (5*z5+16*z3+3*z)/(96*n*n) + (3*z7+19*z5+17*z3-15*z)/(384*n*n*n)
}
