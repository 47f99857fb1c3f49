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
	// Widest is the half width, in cents, beyond which nothing could be decided
	// by a centre.
	Widest = 10.0
	// calmRange is the movement, 5–95 % range in cents, of a calm stretch: a
	// trend of 8 cents a second exceeds it in 0.6 s.
	calmRange = 4.0
	// swayRange and swayLeast, cents and seconds, bound a stretch that sways,
	// comesBack its trend as a share of its movement, and swingDoubt is the half
	// width of its mean as a share of its RMS: a sine of 2 to 4 s leaves 0.4 of
	// that in the mean of 3 s, but the next stretch sways too.
	swayRange, swayLeast, comesBack, swingDoubt = 30.0, 2.0, 0.6, 0.9
	// Pieces of pieceSeconds, from settlingSeconds after the attack on, are asked
	// how far they lie from a rest, pieceDoubt standard errors forgiven; those that
	// move by more than gesture, in cents a second, belong to an ending.
	pieceSeconds, settlingSeconds, pieceDoubt, gesture = 0.3, 0.35, 2.0, 100.0
	// goesOn, in seconds, is how far a trend may go on, which of a cents in the first
	// half wave spans 2.5 a over the stretch; plainTrend how much of its square,
	// against the mean of the others', needs no trend to explain it.
	goesOn, plainTrend = 4.2, 3.0
	// wanderSeconds is the time constant of the wander.
	wanderSeconds = 0.05
	// driftShare of the RMS wander is the half width of the drift from one
	// stretch of up to driftSeconds to the next: measured on eleven recorded
	// notes, where it was 0.7 in the median and 3 at most.
	driftShare, driftSeconds = 0.8, 1.5
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
	Slow     float64 // half width that its slow movement stands for, cents
	slow     [most]float64
	waves    int     // of slow
	trend    float64 // cents over the stretch
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
	r.trend = slope(track[from:to]) * float64(to-from)
	r.Slow = r.slowly(rms(track[from:to], int(wanderSeconds/tick)))
	return r
}

// Half is the half width of the 95 % interval of the centre of the note when it
// is continued: what its quick wander leaves open, and what its slow movement
// would add if it went on.
func (r Rest) Half() float64 { return math.Hypot(quantile(r.Freedom)*r.Error, r.Slow) }

// slowly is the half width that slow movement stands for: a trend beyond what the
// quicker half waves explain, which may go on, and the drift of those who wander
// as much, of which a short stretch shows nothing.
func (r Rest) slowly(rms float64) float64 {
	others := 0.0
	for _, a := range r.slow[1:r.waves] {
		others += a * a / float64(r.waves-1)
	}
	trend := goesOn / r.seconds * math.Sqrt(max(0, r.slow[0]*r.slow[0]-plainTrend*others))
	drift := driftShare * rms * min(1, (driftSeconds/r.seconds)*(driftSeconds/r.seconds))
	return math.Hypot(trend, drift)
}

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

// Sways reports whether r moves about a centre rather than elsewhere: it is
// longer than most sways, and comes back.
func (r Rest) Sways() bool {
	return r.seconds >= swayLeast-1e-9 && r.Moved <= swayRange && math.Abs(r.trend) < comesBack*r.Moved
}

// swing is the half width that a sway stands for: its mean over a stretch of a
// cycle or so is known to little less than its RMS.
func (r Rest) swing() float64 {
	sum := 0.0
	for _, a := range r.slow[:movements] {
		sum += a * a
	}
	return swingDoubt * math.Sqrt(sum/2*Longest/r.seconds)
}

// Find returns the rest within points [from, to), the note without its attack and
// release: the calmest of the longest calm stretches, or the longest in which the
// pitch sways about a centre, whichever tells more of that.
func Find(track []float64, from, to int, tick float64) (Rest, bool) {
	calm, isCalm := longest(track, from, to, tick, Rest.Calm)
	if isCalm {
		calm.Slow = max(calm.Slow, calm.elsewhere(track, from, to, tick))
	}
	sway, isSway := longest(track, from, to, tick, Rest.Sways)
	if isSway {
		sway.Slow = sway.swing()
		if !isCalm || sway.Half() < calm.Half() {
			calm, isCalm = sway, true
		}
	}
	return calm, isCalm && calm.Slow <= Widest
}

// longest returns the stretch that moves least among the longest that rest.
func longest(track []float64, from, to int, tick float64, rests func(Rest) bool) (best Rest, found bool) {
	for _, seconds := range lengths {
		n := int(seconds / tick)
		for a := from; a+n <= to; a += max(1, int(searchStep/tick)) {
			if r := Of(track, a, a+n, tick); rests(r) && (!found || r.Moved < best.Moved) {
				best, found = r, true
			}
		}
		if found {
			break
		}
	}
	return best, found
}

// elsewhere is how far the note lies from r where it is not, beyond what its quick
// wander explains: a rest that the note soon left says less of its centre. The
// first moments after the attack and what leaps are not asked.
func (r Rest) elsewhere(track []float64, from, to int, tick float64) float64 {
	n := int(pieceSeconds / tick)
	doubt := pieceDoubt * r.Error * math.Sqrt(r.seconds/pieceSeconds)
	centre, far := mean(track[r.From:r.To]), 0.0
	for a := from + int(settlingSeconds/tick); a+n <= to; a += n {
		piece := track[a : a+n]
		if a+n > r.From && a < r.To || math.Abs(slope(piece))/tick > gesture {
			continue
		}
		far = max(far, math.Abs(mean(piece)-centre)-doubt)
	}
	return far
}

// rms is that of y about its mean, averaged over n points at a time.
func rms(y []float64, n int) float64 {
	centre, sum, count := mean(y), 0.0, 0.0
	for n = max(1, n); len(y) >= n; y = y[n:] {
		d := mean(y[:n]) - centre
		sum, count = sum+d*d, count+1
	}
	return math.Sqrt(sum / max(1, count))
}

func mean(y []float64) float64 {
	sum := 0.0
	for _, v := range y {
		sum += v
	}
	return sum / float64(max(1, len(y)))
}

// slope is that of the least-squares line through y, per point.
func slope(y []float64) float64 {
	n, moment := float64(len(y)), 0.0
	for i, v := range y {
		moment += v * (float64(i) - (n-1)/2)
	}
	return moment / (n * (n*n - 1) / 12)
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
