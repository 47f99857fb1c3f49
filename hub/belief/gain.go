package belief

import "math"

// Five points of Gauss and Hermite for a mean over N(0, 1): abscissae and
// weights (Abramowitz and Stegun 1964, table 25.10, with x·√2 and w/√π).
var hermite = [...]struct{ x, w float64 }{
	{-2.856970013872806, 0.011257411327720},
	{-1.355626179974266, 0.222075922005613},
	{0, 0.533333333333333},
	{1.355626179974266, 0.222075922005613},
	{2.856970013872806, 0.011257411327720},
}

// leastForecast is the weight of a story that a forecast takes in.
const leastForecast = 0.004

// forecast is what of a part a note that is still to be played needs.
type forecast struct {
	weight       float64
	kind         kind
	miss         float64 // expected reading
	s            float64 // variance of the reading
	gain         float64 // of the offset by a cent of surprise
	mean, spread float64 // of the offset: mean before the note, variance after it
	start, sigma float64 // what its beginning is expected to be
	act, cross   float64
	actVariance  float64
}

// foresee is the chance of being outside that is expected once one more note
// has been heard and answered with the best move: the mean over what that note
// may be, of the least chance that any move would then leave. No player need
// play it.
func (c *chair) foresee(played float64) float64 {
	next := *c
	next.parts = append(make([]part, 0, len(c.parts)+4), c.parts...)
	if !c.ended.IsZero() {
		next.rest()
	}
	note := c.leastHeard()
	fs := make([]forecast, 0, len(next.parts))
	var kinds [3]struct{ w, m, square, start float64 }
	startVar := sq(startSD) + sq(0.8*c.half)
	for i := range next.parts {
		p := &next.parts[i]
		if p.weight < leastForecast {
			continue
		}
		h := c.row(p, note, played)
		f := forecast{weight: p.weight, kind: p.kind, s: doubt(p, c.half, 0), mean: p.mean[offset]}
		var g float64
		for j := range c.n {
			f.miss += h[j] * p.mean[j]
			for k := range c.n {
				f.s += h[j] * h[k] * p.variance[j][k]
			}
			g += h[j] * p.variance[offset][j]
		}
		f.gain = g / f.s
		f.spread = math.Max(1e-6, p.variance[offset][offset]-g*g/f.s)
		f.act, f.actVariance, f.cross = p.mean[act], p.variance[act][act], p.variance[offset][act]
		f.sigma = startVar
		if p.kind == pinched {
			f.start = startShare * p.mean[lips]
			f.sigma += sq(startDoubt*p.mean[lips]) + sq(startShare)*p.variance[lips][lips]
		}
		k := &kinds[p.kind]
		k.w += f.weight
		k.m += f.weight * f.miss
		k.square += f.weight * (f.s + f.miss*f.miss)
		k.start += f.weight * f.start
		fs = append(fs, f)
	}
	expected, total := 0.0, 0.0
	posterior := make([]float64, len(fs))
	for _, k := range kinds {
		if k.w < 0.01 {
			continue
		}
		m := k.m / k.w
		sd := math.Sqrt(math.Max(0, k.square/k.w-m*m))
		for _, g := range hermite {
			w := k.w * g.w
			total += w
			expected += w * c.leastOutside(fs, posterior, m+g.x*sd, k.start/k.w)
		}
	}
	if total == 0 {
		return c.outside(0)
	}
	return expected / total
}

// leastOutside is the least chance of being outside after a reading y that
// began start above itself.
func (c *chair) leastOutside(fs []forecast, w []float64, y, start float64) float64 {
	sum, m := 0.0, 0.0
	for i := range fs {
		f := &fs[i]
		w[i] = f.weight * normal(y-f.miss, f.s) * normal(start-f.start, f.sigma)
		sum += w[i]
		m += w[i] * (f.mean + f.gain*(y-f.miss))
	}
	if !(sum > 0) {
		return 1
	}
	m /= sum
	least := c.after(fs, w, sum, y, 0)
	middle := math.Round(math.Max(c.slide.Min-c.slide.MM, math.Min(c.slide.Max-c.slide.MM, c.slide.travel(-m))))
	for d := middle - 1; d <= middle+1; d++ {
		to := c.slide.MM + d
		if d == 0 || to < c.slide.Min-1e-9 || to > c.slide.Max+1e-9 {
			continue
		}
		least = math.Min(least, c.after(fs, w, sum, y, d))
	}
	return least
}

// after is the chance of being outside after a reading y and a move.
func (c *chair) after(fs []forecast, w []float64, sum, y, mm float64) (out float64) {
	change, hand := 0.0, 0.0
	if mm != 0 {
		change, hand = c.slide.change(mm), c.hand()
	}
	for i := range fs {
		f := &fs[i]
		if w[i] < 1e-3*sum {
			continue
		}
		m := f.mean + f.gain*(y-f.miss) + change*f.act
		v := f.spread + 2*change*f.cross + change*change*f.actVariance + hand*hand
		out += w[i] / sum * beyond(m, math.Sqrt(math.Max(1e-6, v)), c.band)
	}
	return out
}

// leastHeard is the tuning note that is to be played next.
func (c *chair) leastHeard() int {
	least := 0
	for i := range c.notes {
		if c.counted[i] < c.counted[least] {
			least = i
		}
	}
	return least
}
