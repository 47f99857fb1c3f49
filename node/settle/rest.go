// Package settle finds where a pitch has come to rest and how well its centre
// is known.
//
// A track is the pitch of one note in cents above any fixed reference, one
// point per tick seconds. Everything here is pure arithmetic: no clock, no
// goroutine, no I/O, and no allocation but in Vibrato.
//
// # Where the centre of the continued note lies
//
// A held brass note wanders, quickly by 2 to 8 cents and slowly by less or more.
// Written over a stretch of T seconds as
//
//	d(t) = Σ a_j cos(π j t/T),  j = 1, 2, …
//
// a wander of spectral density h/f^c gives a_j the variance h (2T/j)^c / T, and the
// next T seconds another mean than these. The square of the step is to be expected as
//
//	white, c = 0:  h/T        = the mean of a_j²
//	a walk, c = 2: 4 π²/3 h T = π²/3 times the mean of j² a_j²
//
// (twice the Allan variances of W. Riley, Handbook of Frequency Stability Analysis,
// NIST Special Publication 1065 (2008), section 5: white and random-walk FM). Which
// of the two a player is, a stretch tells by its half waves up to slowest hertz: both
// count by their evidence, h integrated out under a prior as good as priorWaves half
// waves of the quick wander that is seen, since a stretch without slow movement says
// little of the next. Within each the interval is Student's. A trend beyond what the
// other half waves explain goes on.
//
// The calmest of many stretches of a note is calm by chance as well. So a shorter
// one is taken only where it tells several times as much, and what the rest of
// the note lies away from it is added.
//
// # What is no rest
//
// A trend, a fall or stairs leave the centre of what follows open by more than
// anything could be decided by. Who sways comes back: over a stretch of two seconds
// and more its swing bounds where the next centre lies.
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
	Widest = 15.0
	// slowest is up to which frequency, in hertz, the wander tells how it goes on.
	slowest = 2.0
	// priorWaves is what the prior of the slow wander is worth, in half waves;
	// wanderSeconds the time constant of the quick wander, by which that leads to it;
	// meets the half wave at which a walk has the level of the white; walks how many
	// players walk for each who does not.
	priorWaves, wanderSeconds, meets, walks = 2.0, 0.04, 2.0, 0.5
	// goesOn is by how much of a trend's first half wave the next mean lies off;
	// plainTrend how much of its square, against the mean of the others', needs no trend
	// to explain it.
	goesOn, plainTrend = 1.4, 3.0
	// tellsMore is how much narrower the interval of another stretch must be for it
	// to be taken, as a share, and settledSeconds after the attack are those tried
	// first. Of 16 recorded notes cut at many places one part predicted the other in
	// 94 % with 0.35, in 91 with 0.5, in 82 with 1.
	tellsMore, settledSeconds = 0.35, 0.3
	// swayRange and swayLeast, cents and seconds, bound a stretch that sways,
	// comesBack its trend as a share of its movement, and swingDoubt is the half
	// width of its mean as a share of its RMS: a sine of 2 to 4 s leaves 0.4 of
	// that in the mean of 3 s, but the next stretch sways too.
	swayRange, swayLeast, comesBack, swingDoubt = 30.0, 2.0, 0.6, 0.9
	// Pieces of pieceSeconds, from settlingSeconds after the attack on, are asked
	// how far they lie from a rest, pieceDoubt standard errors forgiven; those that
	// move by more than gesture, in cents a second, belong to an ending.
	pieceSeconds, settlingSeconds, pieceDoubt, gesture = 0.3, 0.35, 2.0, 100.0
	// movements is how many half waves are movement.
	movements = 3
	// searchStep is how finely a rest is placed, in seconds.
	searchStep = 0.1
	// most is the largest number of half waves used.
	most = int(2 * slowest * Longest)
)

// lengths are the stretches tried, in seconds.
var lengths = [...]float64{Longest, 2.5, 2, 1.7, 1.4, 1.2, 1, 0.8, Shortest}

// Rest is a stretch of a track.
type Rest struct {
	From, To int     // points, To exclusive
	Moved    float64 // the range of its movement, cents
	Half     float64 // half width of the interval of the centre of what follows, cents
	slow     [most]float64
	waves    int     // of slow
	trend    float64 // cents over the stretch
	seconds  float64
}

// Of measures points [from, to) of track.
func Of(track []float64, from, to int, tick float64) Rest {
	y := track[from:to]
	r := Rest{From: from, To: to, seconds: float64(to-from) * tick}
	r.waves = HalfWaves(r.seconds)
	for j := range r.waves {
		r.slow[j] = HalfWave(y, j+1)
	}
	r.Moved = r.movement()
	r.trend = slope(y) * float64(to-from)
	r.Half = r.next(rms(y, int(wanderSeconds/tick)))
	return r
}

// next is the half width of the 95 % interval of the mean of the next stretch as
// long, of a player whose quick wander is rms.
func (r Rest) next(rms float64) float64 {
	const still = 1e-9 // of a track that stands still
	n := float64(r.waves) + priorWaves
	white, walk, logs := 0.0, 0.0, 0.0
	for j, a := range r.slow[:r.waves] {
		scale := float64((j + 1) * (j + 1))
		white, walk, logs = white+a*a, walk+scale*a*a, logs+math.Log(scale)
	}
	prior := priorWaves * (4*rms*rms*wanderSeconds/r.seconds + still)
	white, walk = white+prior, walk+meets*meets*prior
	// How much likelier the half waves are under a walk.
	odds := walks * math.Exp((logs+priorWaves*math.Log(meets*meets)+n*math.Log(white/walk))/2)
	square := (white + odds*math.Pi*math.Pi/3*walk) / (1 + odds) / n
	others := (white - prior - r.slow[0]*r.slow[0]) / float64(r.waves-1)
	trend := goesOn * math.Sqrt(max(0, r.slow[0]*r.slow[0]-plainTrend*others))
	return math.Hypot(quantile(int(n))*math.Sqrt(square), trend)
}

// spread is the standard error of its mean were the wander white.
func (r Rest) spread() float64 {
	sum := 0.0
	for _, a := range r.slow[:r.waves] {
		sum += a * a
	}
	return math.Sqrt(sum / float64(r.waves) / 2)
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
// release: the longest stretch, unless another tells several times as much of the
// centre of the note.
func Find(track []float64, from, to int, tick float64) (best Rest, found bool) {
	try := func(r Rest) {
		enough := math.Inf(1)
		if found {
			enough = tellsMore * best.Half
		}
		if r.Half > Widest && r.Sways() {
			r.Half = r.swing()
		}
		if r.Half >= enough {
			return
		}
		if r.Half = math.Hypot(r.Half, r.elsewhere(track, from, to, tick)); r.Half < enough {
			best, found = r, true
		}
	}
	step, settled := max(1, int(searchStep/tick)), from+int(settledSeconds/tick)
	for _, seconds := range lengths {
		n := int(seconds / tick)
		for a := settled; a+n <= to; a += step {
			try(Of(track, a, a+n, tick))
		}
		for a := from; a < settled && a+n <= to; a += step {
			try(Of(track, a, a+n, tick))
		}
	}
	return best, found && best.Half <= Widest
}

// elsewhere is how far the note lies from r where it is not, beyond what its quick
// wander explains: a rest that the note soon left says less of its centre. The
// first moments after the attack and what leaps are not asked.
func (r Rest) elsewhere(track []float64, from, to int, tick float64) float64 {
	n := int(pieceSeconds / tick)
	doubt := pieceDoubt * r.spread() * math.Sqrt(r.seconds/pieceSeconds)
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
		r := Of(track, len(track)-n, len(track), tick)
		if r.Half > Widest && r.Sways() {
			r.Half = r.swing()
		}
		if r.Half <= Widest {
			return r, true
		}
	}
	return Rest{}, false
}

// HalfWaves is how many half waves of a stretch tell of its wander: those up to
// slowest hertz, four at least.
func HalfWaves(seconds float64) int { return min(most, max(4, int(2*slowest*seconds))) }

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
