package attribute

import (
	"cmp"
	"math"
	"slices"

	"bellrow/proto/pitch"
)

// Range bounds what a chair's instrument sounds.
type Range struct {
	Low, High pitch.Hertz
}

// Figures of the search for notes.
const (
	// weakest is how far a peak may lie below the strongest of its microphone
	// to count, dB: what is softer is mostly reverberation of others.
	weakest = -30.0
	// samePeak is how near two peaks must be to be one partial, cents: more
	// than a note wanders in a window, less than a comma.
	samePeak = 15.0
	// topPartial is the highest partial that may be the strongest one of a
	// note: laptop microphones lose the lowest ones of a tuba.
	topPartial = 12
	// fullShare is from where on a partial counts as there: a neighbour's on the
	// same place leaves a chair a good part of it.
	fullShare = 0.3
	// bottomNeeded and topNeeded bound the partials, in Hz, that must be there:
	// laptop microphones lose what is lower, soft notes have little above.
	bottomNeeded, topNeeded = 150.0, 2000.0
	// bent is how far beyond its range an instrument may sound, cents.
	bent pitch.Cents = 50
	// leastScore is the least that a note must explain.
	leastScore = 0.3
)

// Notes finds what each chair holds where no note was called. A partial is a
// chair's own as far as its microphone hears it more strongly, for all that it
// hears, than the others do; a chair's note is the one whose partials are its
// own, with few of them missing and little of its own sound left over (recall
// times precision). Frequencies are 0 for chairs without tracks or whose sound
// is unclear; they are good to some cents, to be the Expected of a fit, and now
// and then an octave off. ranges are those of in.Chairs, whose Expected is not
// looked at.
func Notes(in Input, ranges []Range) []pitch.Hertz {
	w := &window{in: &in, ref: reference(&in), mid: (in.Start + in.End) / 2, half: (in.End - in.Start) / 2}
	found := make([]pitch.Hertz, len(in.Chairs))
	if w.ref == 0 || !(w.half > 0 && w.half <= longestWindow/2) || len(in.Chairs) > mostChairs {
		return found
	}
	heard := make([][]peak, len(in.Chairs))
	for c := range in.Chairs {
		heard[c] = w.peaks(&in.Chairs[c])
	}
	for c := range in.Chairs {
		found[c] = pitch.Hertz(noteOf(shares(heard, c), w.covers, ranges[c]))
	}
	return found
}

// peak is a partial in what one microphone heard; power is relative to all
// that it heard.
type peak struct {
	hz, power float64
}

// keptCents and keptHertz are the neighbourhood of a multiple that nodes keep,
// whichever is wider; a peak at its edge is not trusted.
const keptCents, keptHertz = 45.0, 7.0

func keptHalf(hz float64) float64 { return max(keptHertz, hz*(math.Exp2(keptCents/1200)-1)) }

// covers reports whether a partial at hz would be within the tracks.
func (w *window) covers(hz float64) bool {
	k := math.Round(hz / w.ref)
	return hz > bottomNeeded && k >= 1 && math.Abs(hz-k*w.ref) < 0.9*keptHalf(k*w.ref)
}

// peaks lists the partials that a chair's microphone heard, strongest first.
func (w *window) peaks(c *Chair) []peak {
	var all []peak
	total := tiny
	for _, k := range multiples(&Input{Chairs: []Chair{*c}}, w.ref) {
		step := stepSeconds(c, k)
		count := int(2 * w.half / max(step, tiny))
		if count < leastFrames {
			continue
		}
		l := line{grid: w.gridOf(count, step), k: k, hz: float64(k) * w.ref}
		y := w.resample(c, k, l.t)
		if y == nil {
			continue
		}
		total += meanPower(y)
		all = append(all, l.peaks(y, 1/(8*w.half))...)
	}
	slices.SortFunc(all, func(a, b peak) int { return cmp.Compare(b.power, a.power) })
	var out []peak
	for _, p := range all {
		if p.power < all[0].power*math.Pow(10, weakest/10) {
			break
		}
		if !slices.ContainsFunc(out, func(q peak) bool { return near(p.hz, q.hz) }) {
			out = append(out, peak{p.hz, p.power / total})
		}
	}
	return out
}

func near(a, b float64) bool { return math.Abs(1200*math.Log2(a/b)) < samePeak }

// peaks finds the maxima of a line's spectrum, every step Hz.
func (l *line) peaks(y []complex128, step float64) []peak {
	half := keptHalf(l.hz)
	n := int(2 * half / step)
	spectrum := make([]float64, n)
	for i := range spectrum {
		spectrum[i] = at(l, y, l.hz-half+float64(i)*step)
	}
	var out []peak
	for i := 1; i+1 < n; i++ {
		if spectrum[i] > spectrum[i-1] && spectrum[i] >= spectrum[i+1] {
			out = append(out, peak{l.hz - half + float64(i)*step, spectrum[i]})
		}
	}
	return out
}

// shares adds to the peaks of chair c how much of the sum over all
// microphones its own hears of them.
func shares(heard [][]peak, c int) []sharedPeak {
	out := make([]sharedPeak, 0, len(heard[c]))
	for _, p := range heard[c] {
		sum := p.power
		for o := range heard {
			if o == c {
				continue
			}
			if i := slices.IndexFunc(heard[o], func(q peak) bool { return near(p.hz, q.hz) }); i >= 0 {
				sum += heard[o][i].power
			}
		}
		out = append(out, sharedPeak{p.hz, math.Sqrt(p.power), p.power / sum})
	}
	return out
}

// sharedPeak is a partial with its amplitude and the share that is a chair's own.
type sharedPeak struct {
	hz, amplitude, share float64
}

// noteOf is the fundamental within the range that explains the peaks best.
func noteOf(own []sharedPeak, covered func(hz float64) bool, r Range) float64 {
	best, most := 0.0, leastScore
	for _, p := range own {
		for n := 1; n <= topPartial; n++ {
			f := p.hz / float64(n)
			if f < float64(r.Low.Shift(-bent)) || f > float64(r.High.Shift(bent)) {
				continue
			}
			if score := explains(f, own, covered); score > most {
				best, most = f, score
			}
		}
	}
	return best
}

// explains is how well the partials of f are what is the chair's own: the part
// of its own sound that they make up, times the part of them that is its own.
func explains(f float64, own []sharedPeak, covered func(hz float64) bool) float64 {
	taken, all := 0.0, tiny
	var heard [topPartial + 1]float64
	for _, p := range own {
		a := p.amplitude * p.share * p.share
		all += a
		n := int(math.Round(p.hz / f))
		if n < 1 || !near(p.hz, float64(n)*f) {
			continue
		}
		taken += a
		if n <= topPartial {
			heard[n] = max(heard[n], min(1, p.share/fullShare))
		}
	}
	present, wanted := 0.0, tiny
	for n := 1; n <= topPartial; n++ {
		if hz := float64(n) * f; hz < topNeeded && covered(hz) {
			u := 1 / math.Sqrt(float64(n)) // the lower ones are surer to be there
			present += u * heard[n]
			wanted += u
		}
	}
	return taken / all * present / wanted
}

// at is the power of y at f Hz under a Hann taper.
func at(l *line, y []complex128, f float64) float64 {
	s, c := math.Sincos(-2 * math.Pi * (f - l.hz) * (l.t[1] - l.t[0]))
	zr, zi := 1.0, 0.0
	var re, im float64
	for i, v := range y {
		w := l.taper[i]
		vr, vi := real(v)*w, imag(v)*w
		re += vr*zr - vi*zi
		im += vr*zi + vi*zr
		zr, zi = zr*c-zi*s, zr*s+zi*c
	}
	return re*re + im*im
}
