package attribute

import (
	"math"
	"slices"
)

// Figures of the vote of the partials, all in cents.
const (
	voteReach = 60.0 // to either side of the called note
	voteStep  = 0.25
	voteWidth = 1.2 // how far partials of one player lie apart
	agrees    = 3.0 // a partial within this is for a pitch
	rivals    = 4.0 // pitches farther apart than this are two
	mostCands = 3
)

// guess is a pitch that a chair may be playing in one window, and what
// speaks for it.
type guess struct {
	cents, hz float64 // from the called note; in Hz
	sd, n     float64 // of the partials that agree: their spread, how many they are worth
	facts     []float64
	score     float64 // log odds
	path      []float64
}

// ballot is what one partial says of the pitch.
type ballot struct {
	cents, weight float64
}

// ballots are those of one kind of track (both for -1) over a part of the window.
func ballots(vs []strand, kind, part int) []ballot {
	var out []ballot
	for i := range vs {
		for k := range vs[i].says {
			if kind < 0 || k == kind {
				out = append(out, ballot{vs[i].says[k].cents[part], vs[i].says[k].weight})
			}
		}
	}
	return out
}

const voteSize = int(2*voteReach/voteStep) + 1

// density is where the ballots lie.
func density(bs []ballot) []float64 {
	d := make([]float64, voteSize)
	reach := int(math.Round(3.5 * voteWidth / voteStep))
	for _, b := range bs {
		if !(math.Abs(b.cents) <= voteReach) {
			continue
		}
		mid := int((b.cents + voteReach) / voteStep)
		for i := max(0, mid-reach); i <= min(voteSize-1, mid+reach); i++ {
			x := (float64(i)*voteStep - voteReach - b.cents) / voteWidth
			d[i] += b.weight * math.Exp(-x*x/2)
		}
	}
	return d
}

// tops are the highest places of d, two never within rivals.
func tops(d []float64) []int {
	var out []int
	d = slices.Clone(d)
	for range mostCands {
		best := 0
		for i, v := range d {
			if v > d[best] {
				best = i
			}
		}
		if d[best] < leastDensity {
			break
		}
		out = append(out, best)
		w := int(rivals / voteStep)
		clear(d[max(0, best-w):min(len(d), best+w+1)])
	}
	return out
}

const leastDensity = 0.02

// around sums up the ballots within some cents of at: their share of all weight,
// mean, spread and how many they are worth.
func around(bs []ballot, at, within float64) (share, mean, sd, n float64) {
	var all, sum, w2, sq float64
	for _, b := range bs {
		all += b.weight
		if math.Abs(b.cents-at) <= within {
			sum += b.weight
			w2 += b.weight * b.weight
			mean += b.weight * b.cents
			sq += b.weight * b.cents * b.cents
		}
	}
	if sum == 0 {
		return 0, at, 0, 0
	}
	mean /= sum
	return sum / all, mean, math.Sqrt(max(0, sq/sum-mean*mean)), sum * sum / w2
}

// guesses are the pitches that each chair's partials vote for.
func (w *window) guesses(all [][]strand) [][]guess {
	out := make([][]guess, len(all))
	for c, vs := range all {
		if len(vs) < 2 {
			continue
		}
		both := ballots(vs, -1, 0)
		d := density(both)
		for _, at := range tops(d) {
			share, mean, sd, n := around(both, float64(at)*voteStep-voteReach, agrees)
			if share == 0 {
				continue
			}
			x := guess{cents: mean, sd: sd, n: n, hz: float64(w.in.Chairs[c].Expected) * math.Exp2(mean/1200)}
			rival := 0.0
			for i, v := range d {
				if math.Abs(float64(i-at))*voteStep > rivals {
					rival = max(rival, v)
				}
			}
			x.facts = append(x.facts, math.Log(rival/d[at]+0.05), share, math.Log(n))
			for kind := range 2 {
				share, _, _, _ := around(ballots(vs, kind, 0), mean, agrees)
				x.facts = append(x.facts, share)
			}
			for half := 1; half <= 2; half++ {
				share, _, _, _ := around(ballots(vs, -1, half), mean, agrees+1)
				x.facts = append(x.facts, share)
			}
			claim := w.claim(all, c, x.hz)
			f := w.follow(c, vs, mean)
			x.path = f.path
			x.facts = append(x.facts, nearer(vs, mean), claim, max(0, claim-share), f.array, f.own, f.tone, f.spread)
			out[c] = append(out[c], x)
		}
	}
	return out
}

// nearer is the log of how much stronger the partials that agree are at the own
// microphone than at any other.
func nearer(vs []strand, cents float64) float64 {
	sum, all := 0.0, tiny
	for i := range vs {
		for _, s := range vs[i].says {
			if math.Abs(s.cents[0]-cents) <= agrees {
				sum += s.weight * math.Log(max(s.tone, 0.1))
				all += s.weight
			}
		}
	}
	return sum / all
}

// claim is the largest share of another chair's votes that are for the same
// sound.
func (w *window) claim(all [][]strand, c int, hz float64) float64 {
	most := 0.0
	for o, vs := range all {
		if o == c {
			continue
		}
		sum, total := 0.0, tiny
		for i := range vs {
			n := math.Round(vs[i].hz / hz)
			at := 1200 * math.Log2(max(1, n)*hz/(float64(vs[i].n)*float64(w.in.Chairs[o].Expected)))
			for _, s := range vs[i].says {
				total += s.weight
				if n >= 1 && math.Abs(at-s.cents[0]) <= agrees-1 {
					sum += s.weight
				}
			}
		}
		most = max(most, sum/total)
	}
	return most
}
