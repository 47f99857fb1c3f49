package attribute

import (
	"math"
	"math/cmplx"
	"slices"
)

// followed is a pitch path that all lines of a chair agree on.
type followed struct {
	path   []float64 // cents from the called note, by steps of pathStep
	array  float64   // how much of the lines is coherent with it over all microphones, 0 to 1
	own    float64   // share of the own microphone's power that it explains
	tone   float64   // log amplitude at its own microphone over the strongest other
	spread float64
}

const (
	pathStep   = 0.01 // seconds
	pathSmooth = 0.06
	follows    = 4
)

// follow finds the path near cents.
func (w *window) follow(c int, vs []strand, cents float64) followed {
	expected := float64(w.in.Chairs[c].Expected)
	count := int(2 * w.half / pathStep)
	p := make([]float64, count) // cents
	for i := range p {
		p[i] = cents
	}
	var out followed
	tracks := make([][]complex128, len(vs))
	weights := make([]float64, len(vs))
	for round := range follows {
		out.array, out.own, out.tone = 0, 0, 0
		var sum float64
		levels := make([]float64, len(w.in.Chairs))
		ratios := ratiosOf(p)
		for i := range vs {
			v := &vs[i]
			r := comb(v.line, v.n, ratios, expected)
			if round == 0 {
				k := 0
				if math.Abs(v.says[1].cents[0]-cents) < math.Abs(v.says[0].cents[0]-cents) {
					k = 1
				}
				weights[i] = 0
				if math.Abs(v.says[k].cents[0]-cents) <= agrees {
					weights[i], tracks[i] = v.says[k].weight, demodulated(v.tracks[k], r)
				}
				continue
			}
			x := make([]complex128, len(v.mics))
			g := make([]complex128, len(v.mics))
			for j, m := range v.mics {
				x[j] = inner(r, v.y[m])
				g[j] = x[j]
			}
			v.chol.solve(x)
			coherence := 0.0
			for j := range x {
				coherence += real(cmplx.Conj(g[j]) * x[j])
			}
			weights[i] = coherence
			if round < follows-1 {
				tracks[i] = demodulated(v.mixed(x), r)
			}
			own := 0.0
			for j, m := range v.mics {
				// As loud at each microphone as the line is in the mean.
				levels[m] += power(g[j])
				if m == c {
					own = power(g[j]) / (v.rms[c] * v.rms[c])
				}
			}
			out.array += coherence * v.rms[c]
			out.own += own * v.rms[c]
			sum += v.rms[c]
		}
		if round > 0 {
			out.array /= sum
			out.own /= sum
			most := tiny
			for m, l := range levels {
				if m != c {
					most = max(most, l)
				}
			}
			out.tone = math.Log(levels[c]/most+tiny) / 2
		}
		if round == follows-1 {
			break
		}
		w.bend(p, vs, tracks, weights, expected, cents)
	}
	out.path = p
	out.spread = inner80(p)
	return out
}

// ratiosOf are a path's frequencies over that of the called note.
func ratiosOf(p []float64) []float64 {
	r := make([]float64, len(p))
	for i, x := range p {
		r[i] = math.Exp2(x / 1200)
	}
	return r
}

// comb is partial n of a path, given as ratiosOf, on a line.
func comb(v *line, n int, ratios []float64, expected float64) []complex128 {
	out := make([]complex128, len(v.t))
	turns := 0.0
	half := float64(len(v.t)-1) / 2 * v.step
	hz := float64(n) * expected
	for i := range out {
		out[i] = turn(turns)
		at := (v.t[i] + v.step/2 + half) / pathStep
		turns += (hz*ratios[max(0, min(len(ratios)-1, int(at)))] - v.hz) * v.step
	}
	return out
}

func demodulated(y, r []complex128) []complex128 {
	z := make([]complex128, len(y))
	for i := range z {
		z[i] = y[i] * cmplx.Conj(r[i])
	}
	return z
}

// bend moves the path by what the tracks still turn.
func (w *window) bend(p []float64, vs []strand, tracks [][]complex128, weights []float64, expected, cents float64) {
	num, den := make([]float64, len(p)), make([]float64, len(p))
	for i := range vs {
		if weights[i] == 0 {
			continue
		}
		v, z := &vs[i], tracks[i]
		scale := weights[i] / (meanPower(z) + tiny)
		half := float64(len(v.t)-1) / 2 * v.step
		per := float64(v.n) * expected * perCent * v.step * 2 * math.Pi // radians a step for one cent
		for t := 1; t < len(z); t++ {
			d := z[t] * cmplx.Conj(z[t-1])
			a := cmplx.Abs(d) * scale
			turn := cmplx.Phase(d)
			at := int((v.t[t] - v.step/2 + half) / pathStep)
			// Spread over the frame.
			wide := max(1, int(v.step/pathStep))
			for k := range wide {
				if j := at + k - wide/2; j >= 0 && j < len(p) {
					num[j] += a * per * turn / float64(wide)
					den[j] += a * per * per / float64(wide)
				}
			}
		}
	}
	n := int(pathSmooth / pathStep)
	taper := make([]float64, 2*n+1)
	for i := range taper {
		taper[i] = 0.5 + 0.5*math.Cos(math.Pi*float64(i-n)/float64(n+1))
	}
	all, sum := 0.0, 0.0
	for i := range den {
		sum += num[i]
		all += den[i]
	}
	if all == 0 {
		return
	}
	floor := 0.05 * all / float64(len(p))
	mean := sum / all
	for i := range p {
		a, b := mean*floor, floor
		for k, t := range taper {
			if j := i + k - n; j >= 0 && j < len(p) {
				a += t * num[j]
				b += t * den[j]
			}
		}
		p[i] += max(-20, min(20, a/b))
	}
	off := -cents
	for _, x := range p {
		off += x / float64(len(p))
	}
	for i := range p {
		p[i] -= off
	}
}

// lean is how far the mean of a path lies above the slope of its phase, for which
// the middle of the window weighs most (least squares: 6u(1-u)).
func lean(p []float64) float64 {
	sum := 0.0
	for i, x := range p {
		u := (float64(i) + 0.5) / float64(len(p))
		sum += x * (1 - 6*u*(1-u))
	}
	return sum / float64(len(p))
}

// inner80 is how far apart a tenth from below and a tenth from above lie.
func inner80(x []float64) float64 {
	s := slices.Sorted(slices.Values(x))
	return s[len(s)*9/10] - s[len(s)/10]
}
