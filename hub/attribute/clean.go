package attribute

import (
	"cmp"
	"math"
	"slices"
)

// swells are the slow changes of a gain that is taken out: constant, and half
// waves over the window.
const swells = 3

// clean takes the paths out of the strands of all other chairs.
func (w *window) clean(all [][]strand, paths [][]float64) {
	refs := map[*split][][][]complex128{}
	for o, p := range paths {
		if p != nil {
			paths[o] = ratiosOf(p)
		}
	}
	for c := range all {
		for i := range all[c] {
			v := &all[c][i]
			if refs[v.split] == nil {
				refs[v.split] = v.references(w.in.Chairs, paths)
			}
			v.tracks[0] = v.cleaned(c, refs[v.split])
			v.tracks[1] = v.unmixed(v.tracks[0])
			for k := range v.tracks {
				v.says[k] = v.split.says(c, v.n, v.tracks[k], float64(w.in.Chairs[c].Expected))
			}
		}
	}
}

// references are by chair what its path sounds like on the line, each with slow
// swells; nil without one.
func (s *split) references(chairs []Chair, ratios [][]float64) [][][]complex128 {
	refs := make([][][]complex128, len(ratios))
	for o, p := range ratios {
		if p == nil || s.line.n[o] == 0 {
			continue
		}
		r := comb(s.line, s.line.n[o], p, float64(chairs[o].Expected))
		for k := range swells {
			q := make([]complex128, len(r))
			for i := range q {
				u := (float64(i) + 0.5) / float64(len(r))
				q[i] = r[i] * complex(math.Cos(math.Pi*float64(k)*u), 0)
			}
			refs[o] = append(refs[o], q)
		}
	}
	return refs
}

// cleaned is what chair c's microphone hears on a line without the others. The
// chair's own path takes part, so that what is its own stays.
func (s *split) cleaned(c int, by [][][]complex128) []complex128 {
	y := s.y[c]
	refs := slices.Clone(by[c])
	kept := len(refs)
	for _, o := range loudest(by, y) {
		if o != c && by[o] != nil && (len(refs)+swells)*framesPerUnknown <= len(y) {
			refs = append(refs, by[o]...)
		}
	}
	z := slices.Clone(y)
	for k, g := range ridge(refs, y, ridgeShare) {
		if k >= kept {
			subtract(z, refs[k], g)
		}
	}
	return z
}

// loudest are the chairs, whose paths explain most of y first.
func loudest(by [][][]complex128, y []complex128) []int {
	at, much := make([]int, len(by)), make([]float64, len(by))
	for o := range by {
		at[o] = o
		if by[o] != nil {
			much[o] = power(inner(by[o][0], y))
		}
	}
	slices.SortStableFunc(at, func(a, b int) int { return cmp.Compare(much[b], much[a]) })
	return at
}

const (
	// framesPerUnknown keeps short tracks from being explained by anything.
	framesPerUnknown = 3
	ridgeShare       = 0.05
)

// ridge is the least-squares fit of y by refs, damped.
func ridge(refs [][]complex128, y []complex128, damp float64) []complex128 {
	n := len(refs)
	l := make(lower, n)
	x := make([]complex128, n)
	for i := range l {
		l[i] = make([]complex128, i+1)
		x[i] = inner(refs[i], y)
		for j := 0; j <= i; j++ {
			l[i][j] = inner(refs[i], refs[j])
		}
	}
	l.factor(damp)
	l.solve(x)
	return x
}
