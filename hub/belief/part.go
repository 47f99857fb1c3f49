package belief

import "math"

// The quantities of a part, all in cents but act.
const (
	offset = iota // of the relaxed, warm instrument from its target: what counts
	lips          // what the embouchure adds: pinched up, or held from before a move
	cold          // how far below its place the instrument began
	act           // change of pitch over what the slide should bring; 1 = as the model
	own1          // what the first tuning note has of its own, beside the mean of all
	own2          // and the second; the last note's own is what is left to zero
	size
)

type vector [size]float64

// kind is the story that a part tells.
type kind uint8

const (
	easy    kind = iota // the lips add nothing
	pinched             // attacks lie high and come down with rests
	held                // the lips keep the pitch from before a slide moved
)

// part is one story of a chair: a Gaussian with its weight.
type part struct {
	weight  float64
	kind    kind
	pace    uint8   // index into paces
	scatter uint8   // index into Scatters
	holder  float64 // chance that this player holds pitches, of an easy part
	wild    bool    // the last reading is off by more than it says
	unmoved bool    // the last move was not made

	mean     vector
	variance [size]vector
}

// observe takes a scalar y = h·state + doubt of variance r, and returns the
// likelihood of y (Kalman's update; only the first n quantities take part).
func (p *part) observe(n int, h *vector, y, r float64) float64 {
	var g vector
	s, miss := r, y
	for i := range n {
		if h[i] == 0 {
			continue
		}
		miss -= h[i] * p.mean[i]
		for j := range n {
			g[j] += h[i] * p.variance[i][j]
		}
	}
	for i := range n {
		s += h[i] * g[i]
	}
	for i := range n {
		p.mean[i] += g[i] / s * miss
		for j := range n {
			p.variance[i][j] -= g[i] * g[j] / s
		}
	}
	return normal(miss, s)
}

// normal is the density of N(0, variance).
func normal(x, variance float64) float64 {
	return math.Exp(-x*x/(2*variance)) / math.Sqrt(2*math.Pi*variance)
}

// moved takes a change that a slide should bring, in cents: the offset goes by
// change·act and the error of the hand. Lips that hold take back holdKeeps of
// that, as far as holdDoubt tells.
func (p *part) moved(n int, change, hand float64) {
	p.shift(n, offset, change, 1)
	p.variance[offset][offset] += hand * hand
	if p.kind != held {
		return
	}
	p.shift(n, lips, change, -holdKeeps)
	p.variance[lips][lips] += sq(holdKeeps*hand) + sq(holdDoubt*change)
	p.variance[offset][lips] -= holdKeeps * hand * hand
	p.variance[lips][offset] = p.variance[offset][lips]
}

// shift adds share·change·act to one quantity.
func (p *part) shift(n, i int, change, share float64) {
	c := share * change
	p.mean[i] += c * p.mean[act]
	v := p.variance[i][i] + 2*c*p.variance[i][act] + c*c*p.variance[act][act]
	for j := range n {
		if j != i {
			p.variance[i][j] += c * p.variance[act][j]
			p.variance[j][i] = p.variance[i][j]
		}
	}
	p.variance[i][i] = v
}

// scale multiplies one quantity by a factor known to within doubt of it.
func (p *part) scale(n, i int, factor, doubt float64) {
	was := p.mean[i]*p.mean[i] + p.variance[i][i]
	p.mean[i] *= factor
	for j := range n {
		p.variance[i][j] *= factor
		p.variance[j][i] *= factor
	}
	p.variance[i][i] += doubt * doubt * was
}

// clear sets one quantity to exactly zero.
func (p *part) clear(n, i int) {
	p.mean[i] = 0
	for j := range n {
		p.variance[i][j], p.variance[j][i] = 0, 0
	}
}

// outside is the chance that the offset lies beyond ±band once a slide has
// brought change cents, set by a hand whose error is hand cents.
func (p *part) outside(band, change, hand float64) float64 {
	m := p.mean[offset] + change*p.mean[act]
	v := p.variance[offset][offset]
	if change != 0 {
		v += 2*change*p.variance[offset][act] + change*change*p.variance[act][act] + hand*hand
	}
	return beyond(m, math.Sqrt(v), band)
}

// beyond is P(|N(m, sd²)| > band).
func beyond(m, sd, band float64) float64 {
	m = math.Abs(m)
	if sd <= 0 {
		if m > band {
			return 1
		}
		return 0
	}
	near := (band - m) / sd
	switch {
	case near > 6:
		return 0
	case near < -6:
		return 1
	}
	return tail(near) + tail((band+m)/sd)
}

// tail is P(N(0, 1) > x).
func tail(x float64) float64 { return 0.5 * math.Erfc(x/math.Sqrt2) }

func sq(x float64) float64 { return x * x }

// alike reports whether two parts tell the same story of about the same place,
// so that one can stand for both.
func (p *part) alike(q *part) bool {
	if p.kind != q.kind || p.pace != q.pace || p.scatter != q.scatter || p.wild != q.wild || p.unmoved != q.unmoved {
		return false
	}
	d := p.mean[offset] - q.mean[offset]
	e := p.mean[lips] - q.mean[lips]
	return d*d <= mergeSD*mergeSD*(p.variance[offset][offset]+q.variance[offset][offset]) &&
		e*e <= mergeSD*mergeSD*(p.variance[lips][lips]+q.variance[lips][lips])
}

// take makes p stand for itself and q: the same weight, mean and variance.
func (p *part) take(n int, q *part) {
	w := p.weight + q.weight
	a, b := p.weight/w, q.weight/w
	var d vector
	for i := range n {
		d[i] = q.mean[i] - p.mean[i]
		p.mean[i] += b * d[i]
	}
	for i := range n {
		for j := range n {
			p.variance[i][j] = a*p.variance[i][j] + b*q.variance[i][j] + a*b*d[i]*d[j]
		}
	}
	p.holder = a*p.holder + b*q.holder
	p.weight = w
}
