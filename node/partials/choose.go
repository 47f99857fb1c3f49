package partials

import (
	"math"
	"slices"
)

// choose decides which partials this chunk carries: the strongest, weighted
// a little towards the upper ones, which tell players apart best, until the
// traffic budget is spent. Partials already being sent stay unless clearly
// outdone.
func (e *Extractor) choose() {
	e.order = e.order[:0]
	mid := e.next + int64(e.chunk/2)
	for i := range e.bands {
		b := &e.bands[i]
		z := b.at(e.ring, mid-int64(e.chunk/3))
		y := b.at(e.ring, mid+int64(e.chunk/3))
		x := b.at(e.ring, mid)
		p := real(x)*real(x) + imag(x)*imag(x) + real(y)*real(y) + imag(y)*imag(y) + real(z)*real(z) + imag(z)*imag(z)
		b.power = p * float64(b.k)
		if slices.Contains(e.chosen, i) {
			b.power *= math.Pow(10, stay/10.0)
		}
		e.order = append(e.order, i)
	}
	slices.SortFunc(e.order, func(a, b int) int {
		switch pa, pb := e.bands[a].power, e.bands[b].power; {
		case pa > pb:
			return -1
		case pa < pb:
			return 1
		}
		return a - b
	})
	e.chosen = e.chosen[:0]
	most := mostPartials
	if e.cfg.Reference < gridBelow {
		most = mostOfGrid
	}
	left := wireBytes*e.chunk/int(e.cfg.Rate) - chunkBytes
	for _, i := range e.order {
		cost := base64(2*e.chunk/e.bands[i].step) + partialBytes
		if len(e.chosen) == most {
			break
		}
		if cost > left {
			continue
		}
		left -= cost
		e.chosen = append(e.chosen, i)
	}
	slices.Sort(e.chosen)
}

// base64 is the length of n bytes as JSON carries them.
func base64(n int) int { return (n + 2) / 3 * 4 }
