package estimate

import (
	"math"
	"math/cmplx"
	"slices"

	"bellrow/node/settle"
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
	slices.SortFunc(kept, func(a, b partialTrack) int {
		switch {
		case a.level > b.level:
			return -1
		case a.level < b.level:
			return 1
		}
		return 0
	})
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
	return medianOf(powers)
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
	count      int
	powerGap   float64
}

// pool weighs the partials over hops [a, b) as in a random-effects mean.
func (s *sound) pool(ps []partialTrack, a, b int) (pooled, bool) {
	n := len(ps)
	means, vars, pows := make([]float64, 0, n), make([]float64, 0, n), make([]float64, 0, n)
	index := make([]int, 0, n)
	seconds := float64(b-a) * s.tick
	j := settle.HalfWaves(seconds)
	buffer := make([]float64, b-a)
	for i := range ps {
		m, w := ps[i].mean(a, b)
		ps[i].weight = 0
		if w == 0 {
			continue
		}
		for q := range buffer {
			buffer[q] = ps[i].cents[a+q] - m
		}
		means, pows, index = append(means, m), append(pows, w), append(index, i)
		vars = append(vars, longRun(buffer, j))
	}
	if len(means) == 0 {
		return pooled{}, false
	}
	// Power-weighted median.
	order := make([]int, len(means))
	total := 0.0
	for i := range order {
		order[i] = i
		total += pows[i]
	}
	slices.SortFunc(order, func(x, y int) int {
		if means[x] < means[y] {
			return -1
		}
		return 1
	})
	mu, seen := means[order[0]], 0.0
	for _, i := range order {
		if seen += pows[i]; seen >= total/2 {
			mu = means[i]
			break
		}
	}
	powerCentre := mu
	w := make([]float64, len(means))
	tau := 0.0
	for range 4 {
		dev := make([]float64, len(means))
		for i, m := range means {
			dev[i] = math.Abs(m - mu)
		}
		tau = 1.4826 * medianOf(dev)
		sum := 0.0
		for i, m := range means {
			d := m - mu
			w[i] = math.Sqrt(pows[i]) / (vars[i] + tau*tau + d*d/2 + 1e-10)
			sum += w[i]
		}
		limitShare(w, sum)
		mu = 0
		for i, m := range means {
			mu += w[i] * m
		}
	}
	out := pooled{centre: powerCentre, count: len(means), powerGap: math.Abs(powerCentre - mu)}
	if s.without&StageMedian != 0 {
		out.centre = mu
	}
	rms := 0.0
	for i, m := range means {
		rms += w[i] * (m - mu) * (m - mu)
		ps[index[i]].weight = w[i]
	}
	out.separation = max(tau, math.Sqrt(rms)) / math.Sqrt(float64(min(4, len(means))))
	out.separation = max(out.separation, out.powerGap/2)
	return out, true
}

// limitShare makes w sum to 1 with no share above mostShare where there are two
// or more.
func limitShare(w []float64, sum float64) {
	for i := range w {
		w[i] /= sum
	}
	if len(w) < 2 {
		return
	}
	for i := range w {
		if w[i] > mostShare {
			rest := 1 - w[i]
			for q := range w {
				if q != i && rest > 0 {
					w[q] *= (1 - mostShare) / rest
				}
			}
			w[i] = mostShare
		}
	}
}

// longRun is the variance of the mean of y, whose wander its first j half waves
// show.
func longRun(y []float64, j int) float64 {
	sum := 0.0
	for i := 1; i <= j; i++ {
		a := settle.HalfWave(y, i)
		sum += a * a
	}
	return sum / float64(j) / 2
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
