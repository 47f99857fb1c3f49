package attribute

import "math"

// only is what a pitch of a chair explains that no other chair's does.
type only struct {
	share float64 // of the power at its own microphone
	tone  float64 // log amplitude at its own microphone over the strongest other
	lead  float64 // share of lines that its own microphone hears most of, less that of the best other one
	// beside is by order the part of share that lies beside every m-th partial; all of it
	// where no other partial would be in the tracks.
	beside [len(orders)]float64
}

// orders are the m of notes whose partials fall on every m-th of the called one, or on
// some of those: an octave or a fourth above it, a twelfth or a fifth, a major third or
// sixth, a natural seventh.
var orders = [...]int{2, 3, 5, 7}

// besideShare of what a pitch explains at a player's own microphone lies beside every m-th
// partial, at least, or another note may be played: in 6 of 920 right readings of recorded
// notes it was less, in 37 of 44 of players on another note.
const besideShare = 0.05

// another reports whether what was seen in two windows may be another note than the
// called one: in both next to nothing of it is a partial that such a note has not.
func another(a, b only) bool {
	for i := range orders {
		if max(a.beside[i]-besideShare*a.share, b.beside[i]-besideShare*b.share) < 0 {
			return true
		}
	}
	return false
}

// only looks at a path of chair c in window k beside the paths of all others.
func (p *pooled) only(k, c int, path []float64) only {
	w := p.windows[k]
	ratios := ratiosOf(path)
	levels, leads := make([]float64, len(w.in.Chairs)), make([]float64, len(w.in.Chairs))
	all, weight := tiny, tiny
	var out only
	sent := w.sent(float64(w.in.Chairs[c].Expected))
	for i := range p.strands[k][c] {
		v := &p.strands[k][c][i]
		r := v.alone(c, comb(v.line, v.n, ratios, float64(w.in.Chairs[c].Expected)), p.paths(k)[v.split])
		left := meanPower(r)
		best, at := 0.0, c
		for _, m := range v.mics {
			g := power(inner(r, v.y[m])) / ((left + ridgeShare) * (left + ridgeShare))
			levels[m] += g * left
			if g > best {
				best, at = g, m
			}
			if m == c {
				out.add(v.n, g*left/v.rms[c], sent)
			}
		}
		all += v.rms[c]
		weight += left
		leads[at] += left
	}
	level, lead := tiny, 0.0
	for m := range levels {
		if m != c {
			level = max(level, levels[m])
			lead = max(lead, leads[m])
		}
	}
	out.tone = max(-3, min(3, math.Log(levels[c]/level+tiny)/2))
	out.lead = (leads[c] - lead) / weight
	out.share /= all
	for i := range out.beside {
		out.beside[i] /= all
	}
	return out
}

// sent tells by order whether partials of a note at f besides every m-th lie within
// the tracks, as those of each called note do near a multiple of the reference.
func (w *window) sent(f float64) (out [len(orders)]bool) {
	for n := 1; float64(n)*f < topNeeded; n++ {
		if partialAt(f, math.Round(float64(n)*f/w.ref)*w.ref) != n {
			continue
		}
		for i, m := range orders {
			out[i] = out[i] || n%m != 0
		}
	}
	return out
}

// add counts what the own microphone hears of partial n.
func (o *only) add(n int, more float64, sent [len(orders)]bool) {
	o.share += more
	for i, m := range orders {
		if n%m != 0 || !sent[i] {
			o.beside[i] += more
		}
	}
}

// alone is what is left of a comb of chair c without those of the others.
func (s *split) alone(c int, r []complex128, by [][]complex128) []complex128 {
	var others [][]complex128
	for o, x := range by {
		if o != c && x != nil && (len(others)+1)*framesPerUnknown <= len(r) {
			others = append(others, x)
		}
	}
	for j, g := range ridge(others, r, ridgeShare) {
		subtract(r, others[j], g)
	}
	return r
}

// paths are what the paths chosen in window k sound like on each line, by chair.
func (p *pooled) paths(k int) map[*split][][]complex128 {
	if p.combs[k] != nil {
		return p.combs[k]
	}
	chairs := p.windows[k].in.Chairs
	chosen := p.chosen(k)
	for o, path := range chosen {
		if path != nil {
			chosen[o] = ratiosOf(path)
		}
	}
	p.combs[k] = map[*split][][]complex128{}
	for _, vs := range p.strands[k] {
		for _, v := range vs {
			if p.combs[k][v.split] != nil {
				continue
			}
			combs := make([][]complex128, len(chosen))
			for o, r := range chosen {
				if n := v.line.n[o]; r != nil && n > 0 {
					combs[o] = comb(v.line, n, r, float64(chairs[o].Expected))
				}
			}
			p.combs[k][v.split] = combs
		}
	}
	return p.combs[k]
}
