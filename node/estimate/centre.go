package estimate

import (
	"cmp"
	"math"
	"math/cmplx"
	"slices"

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
	// mostShare bounds the weight of one partial.
	mostShare = 0.5
	// longRunWaves is how many half waves tell how well a partial's mean is known.
	longRunWaves = 8
	// aside of the power on either side of the middle must agree: of two that are nearly
	// as loud nobody can say whose the pitch is.
	aside = 0.2
)

// partialTrack is the pitch of one partial, hop by hop.
type partialTrack struct {
	k     int
	z     []complex128
	cents []float64 // above the reference, per hop; len(z)-1
	level float64   // usual power over the active part
	floor float64

	weight float64
}

// partialsOf returns the partials of f that stand out over frames [from, to), the
// strongest first. It remembers them.
func (s *sound) partialsOf(f float64, from, to int) []partialTrack {
	if s.cuts == nil || s.cutFrom != from || s.cutTo != to {
		s.cuts, s.cutFrom, s.cutTo = map[float64][]partialTrack{}, from, to
	}
	if _, ok := s.cuts[f]; !ok {
		s.cuts[f] = s.standingOut(f, from, to)
	}
	return s.cuts[f]
}

func (s *sound) standingOut(f float64, from, to int) []partialTrack {
	var all []partialTrack
	best := 0.0
	below := math.Inf(1)
	for k := 1; k <= mostPartials; k++ {
		hz := float64(k) * f
		if hz > min(topPartial, 0.45*s.rate) && k > 1 {
			break
		}
		w := bandOf(hz, f)
		between := min(w, halfWayPeriods*f) // neither partial reaches in
		p := partialTrack{k: k, z: s.cut(hz, w)}
		p.level = usualPower(p.z[from:to])
		if k == 1 {
			below = usualPower(s.cut(hz/2, between)[from:to])
		}
		above := usualPower(s.cut(hz+f/2, between)[from:to])
		p.floor = (below + above) / 2 * w / between
		below = above
		best = max(best, p.level)
		all = append(all, p)
	}
	var kept []partialTrack
	for _, p := range all {
		if p.level > aboveFloor*p.floor && p.level*belowBest > best && p.level > 0 {
			kept = append(kept, p)
		}
	}
	slices.SortFunc(kept, func(a, b partialTrack) int { return cmp.Compare(b.level, a.level) })
	return kept[:min(len(kept), keptPartials)]
}

// tracksOf is partialsOf with their pitch, hum left out.
func (s *sound) tracksOf(f float64, from, to int) []partialTrack {
	ps := slices.Clone(s.partialsOf(f, from, to))
	s.follow(ps, f)
	return slices.DeleteFunc(ps, func(p partialTrack) bool { return s.without&StageHum == 0 && p.isHum(f, from, to) })
}

const (
	// humTop is where mains hum ends, humNear how near to a multiple of the mains
	// hum lies, and humAside how far from it a partial must lie to be none, in Hz.
	humTop, humNear, humAside = 500.0, 0.4, 1.0
)

// isHum reports whether what was cut out as p is a line of the mains nearby.
func (p *partialTrack) isHum(f float64, from, to int) bool {
	place := float64(p.k) * f
	mean, _ := p.mean(from, min(to, len(p.cents)))
	at := place * (1 + mean*math.Ln2/1200)
	if at > humTop {
		return false
	}
	for _, mains := range [...]float64{50, 60} {
		line := mains * math.Round(at/mains)
		if line > 0 && math.Abs(at-line) < humNear && math.Abs(place-line) > humAside {
			return true
		}
	}
	return false
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

// follow fills the pitch of each partial, folded onto a track that those of
// low frequency, which cannot be mistaken by a turn, have in common.
func (s *sound) follow(ps []partialTrack, f float64) {
	if len(ps) == 0 {
		return
	}
	n := len(ps[0].z) - 1
	sum, weight := make([]float64, n), make([]float64, n)
	lowest := math.Inf(1)
	for _, p := range ps {
		lowest = min(lowest, float64(p.k)*f)
	}
	for _, p := range ps {
		if float64(p.k)*f > max(foldHz, lowest) {
			continue
		}
		turn := 2 * math.Pi * float64(p.k) * f * s.tick
		for m := range n {
			w := cmplx.Abs(p.z[m+1] * cmplx.Conj(p.z[m]))
			sum[m] += w * cmplx.Phase(p.z[m+1]*cmplx.Conj(p.z[m])) / turn
			weight[m] += w
		}
	}
	common := make([]float64, n)
	for m := range n {
		if weight[m] > 0 {
			sum[m] /= weight[m]
		}
	}
	var five [5]float64
	for m := range n {
		for i := range five {
			five[i] = sum[min(n-1, max(0, m+i-2))]
		}
		slices.Sort(five[:])
		common[m] = five[2]
	}
	for i := range ps {
		p := &ps[i]
		turn := 2 * math.Pi * float64(p.k) * f * s.tick
		p.cents = make([]float64, n)
		for m := range n {
			fold := turn * common[m]
			d := cmplx.Phase(p.z[m+1]*cmplx.Conj(p.z[m])*cmplx.Rect(1, -fold)) + fold
			p.cents[m] = d / turn * 1200 / math.Ln2
		}
	}
}

// mean returns the pitch of p over hops [a, b) and its mean power there.
func (p *partialTrack) mean(a, b int) (mean, level float64) {
	for m := a; m < b; m++ {
		mean += p.cents[m]
		level += power(p.z[m])
	}
	return mean / float64(b-a), level / float64(b-a)
}

// pooled is the centre of a stretch.
type pooled struct {
	centre     float64
	separation float64 // standard error between partials
	apart      float64 // how far from the centre the means of the middle of the power reach
}

// vote is what a partial says of the centre.
type vote struct {
	of                          *partialTrack
	mean, power, square, weight float64 // square: the variance that its own wander leaves
}

// pool weighs the partials over hops [a, b) as in a random-effects mean.
func (s *sound) pool(ps []partialTrack, a, b int) (pooled, bool) {
	var votes []vote
	total := 0.0
	for i := range ps {
		mean, power := ps[i].mean(a, b)
		if ps[i].weight = 0; power > 0 {
			votes = append(votes, vote{of: &ps[i], mean: mean, power: power, square: longRun(ps[i].cents[a:b])})
			total += power
		}
	}
	if len(votes) == 0 {
		return pooled{}, false
	}
	slices.SortFunc(votes, func(x, y vote) int { return cmp.Compare(x.mean, y.mean) })
	// at is the mean of the partial in which so much of the power is reached.
	at := func(share float64) float64 {
		seen := 0.0
		for _, v := range votes {
			if seen += v.power; seen >= share*total {
				return v.mean
			}
		}
		return votes[len(votes)-1].mean
	}
	out := pooled{centre: at(0.5)}
	out.apart = max(out.centre-at(0.5-aside), at(0.5+aside)-out.centre)
	mean, tau := out.centre, 0.0
	off := make([]float64, len(votes))
	for range 4 {
		for i, v := range votes {
			off[i] = math.Abs(v.mean - mean)
		}
		tau = 1.4826 * pitch.Median(off)
		for i := range votes {
			v := &votes[i]
			v.weight = math.Sqrt(v.power) / (v.square + tau*tau + off[i]*off[i]/2 + 1e-10)
		}
		limitShare(votes)
		mean = 0
		for _, v := range votes {
			mean += v.weight * v.mean
		}
	}
	square := 0.0
	for _, v := range votes {
		square += v.weight * (v.mean - mean) * (v.mean - mean)
		v.of.weight = v.weight
	}
	out.separation = max(tau, math.Sqrt(square)) / math.Sqrt(float64(min(4, len(votes))))
	out.separation = max(out.separation, math.Abs(out.centre-mean)/2)
	if s.without&StageMedian != 0 {
		out.centre = mean
	}
	return out, true
}

// limitShare makes the weights sum to 1 with no share above mostShare where there are
// two or more.
func limitShare(votes []vote) {
	sum := 0.0
	for _, v := range votes {
		sum += v.weight
	}
	for i := range votes {
		votes[i].weight /= sum
	}
	for i := range votes {
		if over := votes[i].weight; over > mostShare && len(votes) > 1 {
			for q := range votes {
				votes[q].weight *= (1 - mostShare) / (1 - over)
			}
			votes[i].weight = mostShare
		}
	}
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
	if len(ps) == 0 {
		return nil
	}
	out := make([]float64, len(ps[0].cents))
	for m := range out {
		sum, weight := 0.0, 0.0
		for i := range ps {
			w := ps[i].weight
			sum += w * ps[i].cents[m]
			weight += w
		}
		if weight > 0 {
			out[m] = sum / weight
		}
	}
	return out
}
