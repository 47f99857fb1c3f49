package settle

import "math"

// Vibrato is a periodic modulation of a track.
type Vibrato struct {
	RateHz float64
	Extent float64 // cents, peak to peak
	// Cycles is the number of hops in the largest whole number of cycles that
	// fits the stretch it was sought in.
	Cycles int
}

// The rule for vibrato. Measured brass vibrato lies at 3.3–4.6 Hz and 20–57
// cents peak to peak; other instruments and singers go up to 8 Hz.
const (
	minVibratoHz = 3.0
	maxVibratoHz = 8.0
	vibratoStep  = 0.1 // Hz
	// MinVibrato is the extent, in cents peak to peak, below which a wavering
	// is not called vibrato: it is within what rests.
	MinVibrato = 8.0
	// vibratoShare is how much of the track's variance, its drift taken out,
	// the best sinusoid must explain: half, where a random wander gives a
	// third or less to any one rate.
	vibratoShare = 0.55
	// vibratoCycles is how many cycles must be heard.
	vibratoCycles = 2.5
)

// Vibrato looks for a vibrato over hops [from, to).
func (r *Rule) Vibrato(from, to int) (Vibrato, bool) {
	n := to - from
	seconds := float64(n) / r.hops
	if n < 4 || seconds*minVibratoHz < vibratoCycles {
		return Vibrato{}, false
	}
	r.detrend(from, to)
	total := 0.0
	for _, v := range r.scratch {
		total += v * v
	}
	best, share, amplitude := 0.0, 0.0, 0.0
	for hz := max(minVibratoHz, vibratoCycles/seconds); hz <= maxVibratoHz; hz += vibratoStep {
		s, a := r.sinusoid(hz, total)
		if s > share {
			best, share, amplitude = hz, s, a
		}
	}
	v := Vibrato{RateHz: best, Extent: 2 * amplitude}
	if share < vibratoShare || v.Extent < MinVibrato {
		return Vibrato{}, false
	}
	cycle := r.hops / best
	v.Cycles = int(math.Round(math.Floor(float64(n)/cycle) * cycle))
	return v, true
}

// detrend leaves hops [from, to) in scratch without their least-squares line.
func (r *Rule) detrend(from, to int) {
	r.scratch = r.scratch[:0]
	n := float64(to - from)
	sum, moment := 0.0, 0.0
	for i, p := range r.points[from:to] {
		sum += p.Cents
		moment += p.Cents * (float64(i) - (n-1)/2)
	}
	slope := moment / (n * (n*n - 1) / 12)
	for i, p := range r.points[from:to] {
		r.scratch = append(r.scratch, p.Cents-sum/n-slope*(float64(i)-(n-1)/2))
	}
}

// sinusoid fits scratch by a sinusoid at hz and returns the share of the
// variance it explains and its amplitude.
func (r *Rule) sinusoid(hz, total float64) (share, amplitude float64) {
	var cc, cs, ss, yc, ys float64
	for i, y := range r.scratch {
		s, c := math.Sincos(2 * math.Pi * hz * float64(i) / r.hops)
		cc, cs, ss = cc+c*c, cs+c*s, ss+s*s
		yc, ys = yc+y*c, ys+y*s
	}
	det := cc*ss - cs*cs
	if !(det > 0) || !(total > 0) {
		return 0, 0
	}
	a, b := (ss*yc-cs*ys)/det, (cc*ys-cs*yc)/det
	return (a*yc + b*ys) / total, math.Hypot(a, b)
}
