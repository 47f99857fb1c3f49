package estimate

import (
	"cmp"
	"math"
	"math/cmplx"
	"slices"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat"

	"bellrow/node/settle"
	"bellrow/proto/pitch"
)

const (
	// partials looked at, kept, and where they end.
	mostPartials, keptPartials = 16, 8
	topPartial                 = 4200.0
	// aboveFloor and belowBest, as ratios of power: a partial is kept that stands
	// 6 dB above the level half way to the next and within 30 dB of the strongest.
	aboveFloor, belowBest = 4.0, 1000.0
	// halfWayPeriods of the fundamental bound the band half way between partials.
	halfWayPeriods = 0.45
	// foldHz: partials below it make the reference track.
	foldHz = 1500.0
	// longRunWaves is how many half waves tell how well a partial's mean is known.
	longRunWaves = 8
	// weighings of the partials find their mean, sdOfMedian times the median distance from
	// which is the standard deviation of a normal distribution, and mostErrors of them
	// count as independent.
	weighings, sdOfMedian, mostErrors = 4, 1.4826, 4.0
	// aside of the power on either side of the middle must agree: of two that are nearly
	// as loud nobody can say whose the pitch is.
	aside = 0.2
)

// partialTrack is the pitch of one partial, hop by hop.
type partialTrack struct {
	k      int
	level  float64 // usual power over the frames asked for
	z      []complex128
	cents  []float64 // above the reference, per hop; len(z)-1
	weight float64   // in the pitch of all
}

// partialsOf returns the partials of f that stand out over the active frames, the
// strongest first, and their pitch. Hum is left out. It remembers them.
func (n *reading) partialsOf(f float64) []partialTrack {
	key := [3]float64{f, float64(n.from), float64(n.to)}
	if _, ok := n.cuts[key]; !ok {
		ps := n.standingOut(f, n.from, n.to)
		n.follow(ps, f)
		n.cuts[key] = slices.DeleteFunc(ps, func(p partialTrack) bool { return n.Without&StageHum == 0 && p.isHum(f, n.from, n.to) })
	}
	return slices.Clone(n.cuts[key])
}

func (s *sound) standingOut(f float64, from, to int) []partialTrack {
	level := func(hz, width float64) float64 { return usualPower(s.cut(hz, width)[from:to]) }
	var kept []partialTrack
	best, below := 0.0, 0.0
	for k := 1; k <= mostPartials; k++ {
		hz := float64(k) * f
		if hz > min(topPartial, 0.45*s.rate) && k > 1 {
			break
		}
		width := bandOf(hz, f)
		between := min(width, halfWayPeriods*f) // neither partial reaches in
		p := partialTrack{k: k, z: s.cut(hz, width)}
		p.level = usualPower(p.z[from:to])
		if k == 1 {
			below = level(hz/2, between)
		}
		above := level(hz+f/2, between)
		if best = max(best, p.level); p.level > aboveFloor*(below+above)/2*width/between {
			kept = append(kept, p)
		}
		below = above
	}
	kept = slices.DeleteFunc(kept, func(p partialTrack) bool { return p.level*belowBest <= best })
	slices.SortFunc(kept, func(a, b partialTrack) int { return cmp.Compare(b.level, a.level) })
	return kept[:min(len(kept), keptPartials)]
}

// usualPower is the median power of z: a drum hardly counts.
func usualPower(z []complex128) float64 {
	const every = 4 // frames: they overlap
	powers := make([]float64, 0, len(z)/every+1)
	for i := 0; i < len(z); i += every {
		powers = append(powers, power(z[i]))
	}
	return pitch.Median(powers)
}

// follow fills the pitch of ps, the partials of f.
func (s *sound) follow(ps []partialTrack, f float64) {
	common := s.common(ps, f)
	cents := 1200 / math.Ln2 / (2 * math.Pi * f * s.tick) // of a radian in a tick
	for i := range ps {
		p := &ps[i]
		p.cents = make([]float64, len(common))
		for m, c := range common {
			beyond := p.step(m) * cmplx.Rect(1, -float64(p.k)*c)
			p.cents[m] = cents * (c + cmplx.Phase(beyond)/float64(p.k))
		}
	}
}

// common is by how many radians the fundamental f is ahead in each hop, as the partials
// of low frequency, which cannot be mistaken by a turn, have it.
func (s *sound) common(ps []partialTrack, f float64) []float64 {
	lowest := mostPartials
	for _, p := range ps {
		lowest = min(lowest, p.k)
	}
	ahead, weights := make([]float64, s.frames-1), make([]float64, s.frames-1)
	for _, p := range ps {
		if float64(p.k)*f > foldHz && p.k > lowest {
			continue
		}
		for m := range ahead {
			w := cmplx.Abs(p.step(m)) + 1e-300
			weights[m] += w
			ahead[m] += (cmplx.Phase(p.step(m))/float64(p.k) - ahead[m]) * w / weights[m]
		}
	}
	usual := make([]float64, len(ahead)) // a click turns one hop out of five
	for m := range usual {
		usual[m] = pitch.Median(ahead[max(0, m-2):min(len(ahead), m+3)])
	}
	return usual
}

// step is what p turns and how strong it is in hop m.
func (p *partialTrack) step(m int) complex128 { return p.z[m+1] * cmplx.Conj(p.z[m]) }

// mean returns the pitch of p over hops [a, b) and its mean power there.
func (p *partialTrack) mean(a, b int) (mean, level float64) {
	for _, z := range p.z[a:b] {
		level += power(z)
	}
	return stat.Mean(p.cents[a:b], nil), level / float64(b-a)
}

// pooled is the centre of a stretch.
type pooled struct {
	centre     float64
	separation float64 // standard error between partials
	apart      float64 // how far from the centre the means of the middle of the power reach
}

// pool finds the centre of the partials over hops [a, b), and weighs and sorts them.
func (n *reading) pool(ps []partialTrack, a, b int) (pooled, bool) {
	if len(ps) == 0 {
		return pooled{}, false
	}
	slices.SortFunc(ps, func(x, y partialTrack) int {
		return cmp.Compare(stat.Mean(x.cents[a:b], nil), stat.Mean(y.cents[a:b], nil))
	})
	means, powers, squares := make([]float64, len(ps)), make([]float64, len(ps)), make([]float64, len(ps))
	for i := range ps {
		means[i], powers[i] = ps[i].mean(a, b)
		squares[i] = longRun(ps[i].cents[a:b])
	}
	// at is the mean of the partial in which so much of the power is reached.
	at := func(share float64) float64 { return stat.Quantile(share, stat.Empirical, means, powers) }
	out := pooled{centre: at(0.5), apart: max(at(0.5)-at(0.5-aside), at(0.5+aside)-at(0.5))}
	weights, mean, sigma := weigh(means, powers, squares, out.centre)
	for i := range ps {
		ps[i].weight = weights[i]
	}
	out.separation = max(sigma, stat.PopStdDev(means, weights)) / math.Sqrt(min(mostErrors, float64(len(ps))))
	if n.Without&StageMedian != 0 {
		out.centre = mean
	}
	return out, true
}

// weigh returns the weights of a random-effects mean that begins at mean, that mean, and
// the robust spread about the one before it.
func weigh(means, powers, squares []float64, mean float64) (weights []float64, pooled, sigma float64) {
	weights = make([]float64, len(means))
	off := make([]float64, len(means))
	for range weighings {
		for i := range means {
			off[i] = math.Abs(means[i] - mean)
		}
		sigma = sdOfMedian * pitch.Median(off)
		for i := range weights {
			weights[i] = math.Sqrt(powers[i]) / (squares[i] + sigma*sigma + off[i]*off[i]/2 + 1e-10)
		}
		if i := floats.MaxIdx(weights); len(weights) > 1 { // no more than all others
			most := weights[i]
			weights[i] = 0
			weights[i] = min(most, floats.Sum(weights))
		}
		mean = stat.Mean(means, weights)
	}
	return weights, mean, sigma
}

// longRun is the variance of the mean of y, whose wander its first half waves show.
func longRun(y []float64) float64 {
	sum := 0.0
	for j := 1; j <= longRunWaves; j++ {
		a := settle.HalfWave(y, j)
		sum += a * a
	}
	return sum / longRunWaves / 2
}

// combined is the pitch of all partials together, weighted as pool left them.
func combined(ps []partialTrack) []float64 {
	out, weights := make([]float64, len(ps[0].cents)), 0.0
	for _, p := range ps {
		floats.AddScaled(out, p.weight, p.cents)
		weights += p.weight
	}
	floats.Scale(1/weights, out)
	return out
}
