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
// the square of the step from its mean to that of the next T seconds is to be expected
// in proportion to
//
//	v = Σ a_j²/j^1.5 / Σ 1/j^1.5,  j = 1 … 5
//
// whatever the colour of the wander, which no stretch tells well: were it white, all
// a_j² would be alike and the step as large as they are; were it a walk, a_1² would
// tell nearly all. One stretch tells little of v itself: √v is off by half as chance has it,
// and players, of whom the median has √v = u, differ by about as much. So of one that is
// far above u half the way is chance, in octaves; of steady notes less is, for there
// are players of all degrees of steadiness. In between
//
//	H = c min(1, T)^0.2 √v / (1 + v/u²)^¼
//
// is the half width of the interval, T in seconds: the step is Student's of about three
// degrees. c and the exponents are of recorded notes, each predicted by the others
// (testdata/results/readings.md).
//
// The calmest of many stretches of a note is calm by chance as well. So the longest,
// from where the attack is over, is taken. Only where that tells nothing, or a tenth
// of another, one that begins later or ends earlier is, and its interval is widened to
// where the rest of the note lies.
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

	"gonum.org/v1/gonum/stat"
)

const (
	// Shortest is the shortest rest, in seconds.
	Shortest = 0.3
	// Longest is the longest stretch that is read.
	Longest = 3.0
	// Widest is the half width, in cents, beyond which nothing could be decided
	// by a centre.
	Widest = 15.0
	// stepWaves half waves, each weighted by its number to the power of -stepFall, tell
	// how the wander goes on: c and the exponent of T above, and stillCents, which keeps
	// the half width from being none.
	stepWaves, stepFall, stepTimes, stepGrows, stillCents = 5, 1.5, 6.4, 0.2, 1e-3
	// usual is u in cents: half of skilled players' notes wander by a standard deviation of 2.4
	// cents with a time constant of 0.04 s, which leaves amplitudes of 2.4 √(4·0.04)
	// = 1 in a second.
	usual = 1.0
	// restless is √v, in cents, beyond which nothing is taken for rest but what sways.
	restless = 3.0
	// tellsMore is how much narrower the interval of another stretch must be for it
	// to be taken, as a share: with a quarter the halves of steady notes predict each
	// other in 91 % instead of 94. settledSeconds after its beginning the attack is over.
	tellsMore, settledSeconds = 0.1, 0.3
	// glide, in cents a second, is no rest where the trend has glideShare of the squares.
	glide, glideShare = 7.0, 0.85
	// swayRange and swayLeast, cents and seconds, bound a stretch that sways,
	// comesBack its trend as a share of its movement, and swingDoubt is the half
	// width of its mean as a share of its RMS: a sine of 2 to 4 s leaves 0.4 of
	// that in the mean of 3 s, but the next stretch sways too.
	swayRange, swayLeast, comesBack, swingDoubt = 30.0, 2.0, 0.6, 0.9
	// Pieces of pieceSeconds are asked how far they lie from a rest; those that
	// move by more than gesture, in cents a second, belong to an ending.
	pieceSeconds, gesture = 0.3, 100.0
	// longRest is how long, in seconds, a rest is that what came before says nothing of.
	longRest = 1.0
	// movements is how many half waves are movement.
	movements = 3
	// searchStep is how finely a rest is placed, in seconds.
	searchStep = 0.1
)

// Rest is a stretch of a track.
type Rest struct {
	From, To int     // points, To exclusive
	Moved    float64 // the range of its movement, cents
	Half     float64 // half width of the interval of the centre of what follows, cents
	wander   float64 // √v of the package's comment, or its equal of a sway, cents
	slow     [stepWaves]float64
	trend    float64 // cents over the stretch
	glides   bool    // a trend is nearly all there is
	seconds  float64
}

// Of measures points [from, to) of track.
func Of(track []float64, from, to int, tick float64) Rest {
	y := track[from:to]
	r := Rest{From: from, To: to, seconds: float64(to-from) * tick}
	square, weights := 0.0, 0.0
	for j := range r.slow {
		r.slow[j] = HalfWave(y, j+1)
		w := math.Pow(float64(j+1), -stepFall)
		square, weights = square+w*r.slow[j]*r.slow[j], weights+w
	}
	v := square / weights
	r.wander = math.Sqrt(v)
	r.Half = stepTimes*math.Pow(min(1, r.seconds), stepGrows)*r.wander/math.Sqrt(math.Sqrt(1+v/(usual*usual))) + stillCents
	r.Moved = r.movement()
	r.trend = slope(y) * float64(to-from)
	r.glides = math.Abs(r.trend) > glide*r.seconds && r.slow[0]*r.slow[0] > glideShare*square
	if r.wander > restless && r.Sways() {
		r.Half = r.swing()
		r.wander = r.Half * restless / Widest
	}
	return r
}

// rests reports whether r tells where the note goes on.
func (r Rest) rests() bool { return r.wander <= restless && r.Half <= Widest && !r.glides }

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
// release, and whether it tells anything. Without To there is none.
func Find(track []float64, from, to int, tick float64) (best Rest, found bool) {
	longest, shortest, step := int(Longest/tick), int(Shortest/tick), max(1, int(searchStep/tick))
	if to-from < shortest {
		return Rest{}, false
	}
	settled := max(from, min(from+int(settledSeconds/tick), to-shortest))
	best = Of(track, settled, min(to, settled+longest), tick)
	try := func(a, b int) {
		enough := best.wander
		if enough <= restless {
			enough *= tellsMore
		}
		if r := Of(track, a, b, tick); r.wander < enough && !r.glides {
			far := r.elsewhere(track, from, to, tick)
			r.Half += far
			if r.wander += far * restless / Widest; r.wander < enough {
				best = r
			}
		}
	}
	for a := settled + step; a+shortest <= to; a += step {
		try(a, min(to, a+longest))
	}
	for b := to - step; b-shortest >= settled; b -= step {
		try(max(settled, b-longest), b)
	}
	return best, best.rests()
}

// elsewhere is how far the note lies outside the interval of r where it is not r: a
// rest that the note soon left says less of its centre, and so does a brief one that it
// comes to. The first moments after the attack and what leaps are not asked.
func (r Rest) elsewhere(track []float64, from, to int, tick float64) float64 {
	n := int(pieceSeconds / tick)
	centre, far := stat.Mean(track[r.From:r.To], nil), 0.0
	for a := to - n; a >= from+int(settledSeconds/tick); a -= n {
		piece := track[a : a+n]
		if a < r.To && (a+n > r.From || r.seconds >= longRest) || math.Abs(slope(piece))/tick > gesture {
			continue
		}
		far = max(far, math.Abs(stat.Mean(piece, nil)-centre)-r.Half)
	}
	return far
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
	for n := min(len(track)-from, int(Longest/tick)); n >= int(Shortest/tick); n -= max(n/4, 1) {
		if r := Of(track, len(track)-n, len(track), tick); r.rests() {
			return r, true
		}
	}
	return Rest{}, false
}

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
