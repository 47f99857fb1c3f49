package estimate

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/floats"
)

// Samples lost without notice make the sound jump ahead in time: from before to
// after, the phase of partial k moves by k times one part of a turn, at once, and the
// periods before do not go on in those after, but would a part of a period later. A quick
// wander does the one, a drum the other.
const (
	// lossAside frames before and after are compared, beyond what the bands smear; the
	// lossPitch frames beyond those tell how the pitch goes on, to within lossDoubt cents.
	lossAside, lossPitch, lossDoubt = 5, 8, 3.0
	// lostTurns is the least part of a turn of the fundamental that is a loss, besides
	// that doubt; stillShare how well the partials agree at most on none, jumpShare at
	// least on it; breakShare by how much better the periods go on later, goesOnShare how
	// well at least; someLosses how many in a note are no chance.
	lostTurns, stillShare, jumpShare = 0.06, 0.85, 0.95
	breakShare, goesOnShare          = 0.35, 0.8
	someLosses                       = 4
)

// losses counts the moments at which the note jumps ahead.
func (n *reading) losses() int {
	count, last := 0, -2*lossAside
	for m := n.from + lossAside + lossPitch; m+lossAside+lossPitch < min(n.to, n.frames-1); m++ {
		if m-last > 2*lossAside && n.jumps(m) && n.breaks(m) {
			count, last = count+1, m
		}
	}
	return count
}

// jumps reports whether the partials jump ahead together around frame m.
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
	if len(n.partials) < 2 || agree(0) > stillShare {
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

// breaks reports whether around frame m some periods do not go on in the next as they do
// there on either side, but would a part of a period later.
func (n *reading) breaks(m int) bool {
	period := n.rate / n.hz / (1 + n.track[m]*math.Ln2/1200)
	periods, off := 3, 1.0
	for p := 3; p <= 6; p++ {
		if o := math.Abs(math.Remainder(float64(p)*period, 1)); o < off {
			periods, off = p, o
		}
	}
	size := int(math.Round(float64(periods) * period))
	from, to := int(float64(m-lossAside)*n.tick*n.rate), int(float64(m+lossAside)*n.tick*n.rate)
	worst, later := 1.0, 0.0
	for at := max(size+int(period), from); at < to && at+2*size+int(period) < len(n.x); at += max(1, int(period/4)) {
		if same := alike(n.x[at-size:at], n.x[at:at+size]); same < worst {
			worst, later = same, 0
			for lag := range int(period) + 1 {
				later = max(later, alike(n.x[at-size:at], n.x[at+lag:at+lag+size]))
			}
		}
	}
	return later > worst+breakShare && later > goesOnShare
}

// alike is how well a goes on as b: 1 as one, 0 as strangers.
func alike(a, b []float64) float64 {
	return floats.Dot(a, b) / (math.Sqrt(floats.Dot(a, a)*floats.Dot(b, b)) + 1e-300)
}
