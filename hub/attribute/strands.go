package attribute

import (
	"math"
	"math/cmplx"
	"slices"
)

// strand is what is taken for one chair's own sound on one line, in two ways: by
// a mask over what its microphone hears, and by unmixing all microphones.
type strand struct {
	*split
	n      int // its partial
	tracks [2][]complex128
	says   [2]saying
}

// saying is what one track of a strand tells.
type saying struct {
	cents  [3]float64 // from the called note: over the whole window and its halves
	weight float64
	tone   float64 // amplitude at the own microphone over the strongest other's
}

// Figures of the strands. They follow a prototype on recorded notes in
// image-source rooms.
const (
	voiceTop    = 3300.0 // Hz: higher partials belong to brighter neighbours
	maskSeconds = 0.34
	maskMost    = 2.0
	unmixRounds = 8
	loading     = 0.02
	mostBand    = 10.0
	mostTone    = 4.0
	leastDip    = 0.05
)

// strands finds what every chair may be playing.
func (w *window) strands() [][]strand {
	gain := w.loudness()
	out := make([][]strand, len(w.in.Chairs))
	for i := range w.lines {
		l := &w.lines[i]
		if l.hz > voiceTop {
			continue
		}
		s := newSplit(l, gain)
		for c := range w.in.Chairs {
			if l.n[c] == 0 || s.y[c] == nil || !w.tracks[c] {
				continue
			}
			v := strand{split: s, n: l.n[c]}
			v.tracks[0] = s.masked(c)
			v.tracks[1] = s.unmixed(v.tracks[0])
			for k := range v.tracks {
				v.says[k] = s.says(c, v.n, v.tracks[k], float64(w.in.Chairs[c].Expected))
			}
			out[c] = append(out[c], v)
		}
	}
	return out
}

// loudness is by microphone what makes all equally loud.
func (w *window) loudness() []float64 {
	gain := make([]float64, len(w.in.Chairs))
	for c := range gain {
		sum := tiny
		for i := range w.lines {
			if y := w.lines[i].heard[c]; y != nil {
				sum += meanPower(y)
			}
		}
		gain[c] = 1 / math.Sqrt(sum)
	}
	return gain
}

// split is one line at all microphones, each as loud as the others in sum.
type split struct {
	*line
	y       [][]complex128   // by chair, nil where not heard
	mics    []int            // who heard it
	spectra [][][]complex128 // by chair, frame and bin
	taper   []float64
	turns   []complex128 // of its length
	hop     int
	rms     []float64
	chol    lower
}

func newSplit(l *line, gain []float64) *split {
	s := &split{line: l, y: make([][]complex128, len(gain)), rms: make([]float64, len(gain)), spectra: make([][][]complex128, len(gain))}
	n := max(4, int(math.Round(maskSeconds/l.step)))
	n = min(n, len(l.t))
	s.hop = max(1, n/4)
	s.taper = make([]float64, n)
	for i := range s.taper {
		s.taper[i] = math.Sin(math.Pi * (float64(i) + 0.5) / float64(n))
	}
	s.turns = roots(n)
	for c := range gain {
		if l.heard[c] == nil {
			continue
		}
		y := make([]complex128, len(l.t))
		for i, z := range l.heard[c] {
			y[i] = z * complex(gain[c], 0)
		}
		s.y[c], s.rms[c] = y, math.Sqrt(meanPower(y)+tiny)
		s.mics = append(s.mics, c)
		s.spectra[c] = s.frames(y)
	}
	s.factor()
	return s
}

// starts calls each for every frame of the mask; frames reach over the ends.
func (s *split) starts(each func(frame, at int)) {
	frame := 0
	for at := s.hop - len(s.taper); at < len(s.t); at += s.hop {
		each(frame, at)
		frame++
	}
}

// frames are short spectra.
func (s *split) frames(y []complex128) [][]complex128 {
	var out [][]complex128
	n := len(s.taper)
	s.starts(func(_, at int) {
		bins := make([]complex128, n)
		for i, w := range s.taper {
			if at+i < 0 || at+i >= len(y) {
				continue
			}
			v := y[at+i] * complex(w, 0)
			k := 0
			for b := range bins {
				bins[b] += v * cmplx.Conj(s.turns[k])
				if k += i; k >= n {
					k -= n
				}
			}
		}
		out = append(out, bins)
	})
	return out
}

func roots(n int) []complex128 {
	r := make([]complex128, n)
	for i := range r {
		sn, cs := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		r[i] = complex(cs, sn)
	}
	return r
}

// masked is what chair c's microphone hears, each moment and pitch by how much
// more it is heard there than at any other.
func (s *split) masked(c int) []complex128 {
	out := make([]complex128, len(s.t))
	sum := make([]float64, len(s.t))
	n := len(s.taper)
	bins := make([]complex128, n)
	s.starts(func(f, at int) {
		for b := range bins {
			own := s.spectra[c][f][b]
			other := 0.0
			for _, m := range s.mics {
				if m != c {
					other = max(other, power(s.spectra[m][f][b]))
				}
			}
			r := min(math.Sqrt(power(own)/(other+tiny)), maskMost)
			bins[b] = own * complex(r*r/float64(n), 0)
		}
		for i, w := range s.taper {
			if at+i < 0 || at+i >= len(out) {
				continue
			}
			var v complex128
			k := 0
			for b := range bins {
				v += bins[b] * s.turns[k]
				if k += i; k >= n {
					k -= n
				}
			}
			out[at+i] += v * complex(w, 0)
			sum[at+i] += w * w
		}
	})
	for i := range out {
		out[i] /= complex(sum[i]+1e-9, 0)
	}
	return out
}

// factor is the Cholesky factor of the microphones' covariance, loaded.
func (s *split) factor() {
	m := len(s.mics)
	s.chol = make(lower, m)
	trace := 0.0
	for i := range s.chol {
		s.chol[i] = make([]complex128, i+1)
		for j := 0; j <= i; j++ {
			s.chol[i][j] = inner(s.y[s.mics[j]], s.y[s.mics[i]])
		}
		trace += real(s.chol[i][i])
	}
	s.chol.factor(loading*trace/float64(m) + tiny)
}

// unmixed is the sum over all microphones that comes nearest to a tone of
// constant strength, begun from first (Treichler and Agee 1983, IEEE Trans.
// Acoust. Speech Signal Process. 31:459; least squares as Agee 1986).
func (s *split) unmixed(first []complex128) []complex128 {
	m := len(s.mics)
	x := make([]complex128, m)
	cur := first
	want := make([]complex128, len(cur))
	for range unmixRounds {
		for i, z := range cur {
			want[i] = 0
			if a := cmplx.Abs(z); a > 0 {
				want[i] = z / complex(a, 0)
			}
		}
		for i, mic := range s.mics {
			x[i] = inner(want, s.y[mic])
		}
		s.chol.solve(x)
		cur = s.mixed(x)
	}
	return cur
}

// mixed is the sum of what the microphones hear, each times the conjugate of x.
func (s *split) mixed(x []complex128) []complex128 {
	z := make([]complex128, len(s.t))
	for i, m := range s.mics {
		add(z, s.y[m], cmplx.Conj(x[i]))
	}
	return z
}

// says is what a track tells of chair c's partial n.
func (s *split) says(c, n int, z []complex128, expected float64) saying {
	turns := make([]float64, len(z))
	size := make([]float64, len(z))
	for i, v := range z {
		size[i] = cmplx.Abs(v)
		if i > 0 {
			turns[i] = turns[i-1] + cmplx.Phase(v*cmplx.Conj(z[i-1]))/(2*math.Pi)
		}
	}
	half := len(z) / 2
	var out saying
	for k, part := range [][]float64{turns, turns[:half], turns[half:]} {
		hz := s.hz + slope(part)/s.step
		out.cents[k] = 1200 * math.Log2(max(hz, 1)/(float64(n)*expected))
	}
	all := math.Sqrt(meanPower(z) + tiny)
	slices.Sort(size)
	dip := size[len(size)/20] / all
	band, tone := 0.0, 0.0
	own := cmplx.Abs(inner(z, s.y[c]))
	for _, m := range s.mics {
		if m != c {
			band = max(band, s.rms[m])
			tone = max(tone, cmplx.Abs(inner(z, s.y[m])))
		}
	}
	out.tone = own / (tone + 1e-3*own + tiny)
	coherence := own / (all*s.rms[c] + tiny)
	out.weight = (leastDip + dip) * min(s.rms[c]/(band+tiny), mostBand) * min(out.tone, mostTone) * coherence
	return out
}

// slope is the least-squares slope of x, per step.
func slope(x []float64) float64 {
	mid := float64(len(x)-1) / 2
	num, den := 0.0, tiny
	for i, v := range x {
		d := float64(i) - mid
		num += d * v
		den += d * d
	}
	return num / den
}
