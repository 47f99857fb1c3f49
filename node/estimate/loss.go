package estimate

import (
	"math"
	"math/cmplx"
)

// Samples lost without notice make the sound jump ahead in time: from before to
// after, the phase of partial k moves by k times one part of a turn, at once. Nothing
// else does: lips take longer, and a drum moves the partials each its own way.
const (
	// lossAside frames before and after are compared, beyond what the bands smear; the
	// lossPitch frames beyond those tell how the pitch goes on, to within lossDoubt cents.
	lossAside, lossPitch, lossDoubt = 5, 8, 6.0
	// lostTurns is the least part of a turn of the fundamental that is a loss, besides
	// that doubt; stillShare how well the partials agree at most on none, jumpShare at
	// least on it; someLosses how many in a note are no chance.
	lostTurns, stillShare, jumpShare = 0.12, 0.7, 0.97
	someLosses                       = 4
)

// losses counts the moments at which the note jumps ahead.
func (n *reading) losses() int {
	count, last := 0, -2*lossAside
	for m := n.from + lossAside + lossPitch; m+lossAside+lossPitch < min(n.to, n.frames-1); m++ {
		if m-last > 2*lossAside && n.jumps(m) {
			count, last = count+1, m
		}
	}
	return count
}

// jumps reports whether the sound jumps ahead around frame m.
func (n *reading) jumps(m int) bool {
	var steps [keptPartials]complex128
	all, seconds := 0.0, 2*lossAside*n.tick
	for i := range n.partials {
		p := &n.partials[i]
		before, _ := p.mean(m-lossAside-lossPitch, m-lossAside)
		after, _ := p.mean(m+lossAside, m+lossAside+lossPitch)
		ahead := 2 * math.Pi * float64(p.k) * n.hz * seconds * (before + after) / 2 * math.Ln2 / 1200
		z := p.z[m+lossAside] * cmplx.Conj(p.z[m-lossAside])
		w := math.Sqrt(cmplx.Abs(z))
		steps[i] = cmplx.Rect(w, cmplx.Phase(z)-ahead)
		all += w
	}
	agree := func(turns float64) float64 {
		sum := 0.0
		for i := range n.partials {
			sum += real(steps[i] * cmplx.Rect(1, -2*math.Pi*float64(n.partials[i].k)*turns))
		}
		return sum / max(all, 1e-300)
	}
	if len(n.partials) < 3 || agree(0) > stillShare {
		return false
	}
	best, at := 0.0, 0.0
	for turns := -0.5; turns < 0.5; turns += 0.02 {
		if a := agree(turns); a > best {
			best, at = a, turns
		}
	}
	return best > jumpShare && math.Abs(at) > lostTurns+n.hz*seconds*lossDoubt*math.Ln2/1200
}
