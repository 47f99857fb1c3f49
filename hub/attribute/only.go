package attribute

import "math"

// only is what a pitch of a chair explains that no other chair's does.
type only struct {
	share float64 // of the power at its own microphone
	tone  float64 // log amplitude at its own microphone over the strongest other
	lead  float64 // share of lines that its own microphone hears most of, less that of the best other one
}

// only looks at a path of chair c in window k beside the paths of all others.
func (p *pooled) only(k, c int, path []float64) only {
	w := p.windows[k]
	ratios := ratiosOf(path)
	levels, leads := make([]float64, len(w.in.Chairs)), make([]float64, len(w.in.Chairs))
	share, all, weight := 0.0, tiny, tiny
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
				share += g * left / v.rms[c]
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
	tone := max(-3, min(3, math.Log(levels[c]/level+tiny)/2))
	return only{share / all, tone, (leads[c] - lead) / weight}
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
