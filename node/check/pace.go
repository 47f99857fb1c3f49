package check

import (
	"fmt"
	"math"
	"time"
)

// Pace compares a source's sample count with the laptop's clock. One goroutine
// uses it.
type Pace struct {
	rate  float64
	marks []mark
}

// mark is one block: the index behind its last sample, and when it came.
type mark struct {
	end int64
	at  time.Duration
}

// NewPace returns a check of a source that states rate Hz.
func NewPace(rate float64) *Pace { return &Pace{rate: rate} }

// Mark notes that the source has delivered all samples before end at a time
// counted from any start.
func (p *Pace) Mark(end int64, at time.Duration) { p.marks = append(p.marks, mark{end, at}) }

// warmUp is left out at the start, while buffers fill.
const warmUp = time.Second

// paceParts is into how many parts the time is cut. In each the block with the
// least delay counts: what comes late says little, what comes early is true.
const paceParts = 8

// Offset is how far the true rate is above the stated one, as a ratio, with
// the half width of its 95 % interval; known is false when there is too little.
func (p *Pace) Offset() (offset, ci float64, known bool) {
	marks := p.marks
	for len(marks) > 0 && marks[0].at < p.marks[0].at+warmUp {
		marks = marks[1:]
	}
	if len(marks) < 4*paceParts {
		return 0, 0, false
	}
	var t, d [paceParts]float64
	for i := range paceParts {
		part := marks[i*len(marks)/paceParts : (i+1)*len(marks)/paceParts]
		d[i] = math.Inf(1)
		for _, m := range part {
			if late := m.at.Seconds() - float64(m.end)/p.rate; late < d[i] {
				t[i], d[i] = m.at.Seconds(), late
			}
		}
	}
	slope, ci := fit(t[:], d[:])
	if slope >= 1 {
		return 0, 0, false
	}
	// samples = rate' (t - late), so late grows by 1 - rate'/rate a second.
	return -slope, ci, true
}

// fit is the least-squares slope of y over x with the half width of its 95 %
// interval; 2.447 is the t quantile of 6 degrees of freedom (NIST/SEMATECH
// e-Handbook of Statistical Methods, 1.3.6.7.2).
func fit(x, y []float64) (slope, ci float64) {
	n := float64(len(x))
	var mx, my float64
	for i := range x {
		mx += x[i] / n
		my += y[i] / n
	}
	var xx, xy float64
	for i := range x {
		xx += (x[i] - mx) * (x[i] - mx)
		xy += (x[i] - mx) * (y[i] - my)
	}
	if xx == 0 {
		return 0, math.Inf(1)
	}
	slope = xy / xx
	rest := 0.0
	for i := range x {
		e := y[i] - my - slope*(x[i]-mx)
		rest += e * e
	}
	return slope, 2.447 * math.Sqrt(rest/(n-2)/xx)
}

// wrongRate is the offset beyond which the stated rate is simply wrong: no
// crystal is out by half a per cent, and the nearest confusion, 47.952 for
// 48 kHz, is 0.1 %, less than a short check can tell.
const wrongRate = 0.005

// tellPPM is the interval below which parts per million are worth printing.
const tellPPM = 100e-6

// Line says whether the stated rate is the true one.
func (p *Pace) Line() Line {
	const name = "rate"
	offset, ci, known := p.Offset()
	switch {
	case !known:
		return skipped(name, "needs a few seconds of sound in real time")
	case math.Abs(offset) > wrongRate+ci:
		return told(name, "check.rate.wrong", whole(p.rate), whole(p.rate*(1+offset)), whole(1200*math.Abs(math.Log2(1+offset))))
	case ci < tellPPM:
		return ok(name, fmt.Sprintf("%.0f Hz, clock %+.0f ± %.0f ppm of this laptop's", p.rate, offset*1e6, ci*1e6))
	}
	return ok(name, fmt.Sprintf("%.0f Hz, as stated", p.rate))
}
