package estimate

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/window"
)

const (
	// trackPartials is how many partials the track follows, as far as trackTop of the
	// rate: on low notes the strongest is up to the ninth.
	trackPartials, trackTop = 10, 0.42
	// trackPeriods is the length of the Hann window, in periods, through which
	// each partial is seen: its neighbours fall on the window's nulls. shortestWindow
	// seconds keep a high note's from only letting noise in.
	trackPeriods, shortestWindow = 4, 0.02
	// coarseEvery is how many hops pass between two looks at the coarse
	// fundamental while a note is followed: enough to catch a new note at once.
	coarseEvery = 3
	// lostCents is how far the coarse fundamental must lie from the track, and
	// lostLooks how many times in a row, to be another note.
	lostCents, lostLooks = 60.0, 2
	// stillThere is how high the normalised difference must stand at the
	// track's own period, against its best, for the track to be kept.
	stillThere = 0.8
	// leastClarity is the least height of the normalised difference in a note.
	// Speech and hands stay below, breathy notes above.
	leastClarity = 0.8
	// furthest is how far the pitch may move in a hop, as a ratio.
	furthest = 0.06
)

// A Tracker follows the pitch of what it hears, one point per hop. It sees
// samples at a lowered rate, each partial through a window of four periods,
// and takes the pitch from how far the partials' phases move in a hop: the
// low partials first, which cannot be mistaken for a neighbouring turn, then
// each higher one against what is known, weighted by k²|a|² as its phase tells
// of the pitch. Hop does not allocate.
type Tracker struct {
	rate   float64 // of the lowered samples
	hop    int     // lowered samples
	factor int
	coarse *coarse
	buffer []float64
	window []float64 // Hann, for the present length

	hz    float64 // followed, 0 when nothing is
	looks int     // hops until the next coarse look
	lost  int
}

// Point is the pitch at one hop.
type Point struct {
	Hz    float64
	Lag   int  // samples ago, at the full rate: the middle of what was seen
	Fresh bool // the pitch was found anew, not followed from the hop before
}

// NewTracker returns a Tracker of what a Decimator of samples at rate gives,
// asked every hop seconds.
func NewTracker(rate, hop float64) *Tracker {
	t := &Tracker{factor: lowFactor(rate)}
	t.rate = rate / float64(t.factor)
	t.hop, t.coarse = int(math.Round(hop*t.rate)), newCoarse(t.rate)
	longest := int(trackPeriods/MinHz*t.rate) + 1
	t.buffer = make([]float64, 0, 4*(max(t.coarse.window, longest)+t.hop))
	t.window = make([]float64, 0, longest)
	return t
}

// Write takes one sample at the lowered rate.
func (t *Tracker) Write(y float64) {
	if len(t.buffer) == cap(t.buffer) {
		t.buffer = t.buffer[:copy(t.buffer, t.buffer[cap(t.buffer)*3/4:])]
	}
	t.buffer = append(t.buffer, y)
}

// Reset forgets everything heard.
func (t *Tracker) Reset() {
	t.buffer = t.buffer[:0]
	t.Lose()
}

// Lose forgets the note that is followed.
func (t *Tracker) Lose() { t.hz, t.looks, t.lost = 0, 0, 0 }

// Hop returns the pitch now. ok is false when there is none.
func (t *Tracker) Hop() (p Point, ok bool) {
	if t.looks--; t.hz == 0 || t.looks < 0 {
		p.Fresh = t.look()
	}
	if t.hz == 0 {
		return Point{}, false
	}
	lag, ok := t.follow()
	if !ok {
		t.Lose()
		return Point{}, false
	}
	p.Hz, p.Lag = t.hz, lag*t.factor
	return p, true
}

// look asks the coarse fundamental whether the track is right. Where it is lost, hz is
// what is there now, afresh, or 0.
func (t *Tracker) look() (fresh bool) {
	t.looks = coarseEvery - 1
	from := len(t.buffer) - t.coarse.window
	if from < 0 {
		return false
	}
	hz, clarity, ok := t.coarse.find(t.buffer[from:])
	ok = ok && clarity >= leastClarity
	// Hum lets the coarse fundamental fall to a fraction of the note's, whose
	// period then still explains the sound.
	if ok && t.hz > 0 && (math.Abs(1200*math.Log2(hz/t.hz)) <= lostCents || hz < t.hz && t.coarse.at(t.hz) >= stillThere*clarity) {
		t.lost = 0
		return false
	}
	if t.lost++; t.hz > 0 && t.lost < lostLooks {
		if ok {
			t.looks = 0 // look again at once
		}
		return false
	}
	t.hz, t.lost = 0, 0
	if ok {
		t.hz = hz
	}
	return ok
}

// follow moves the pitch by one hop and returns how many low samples ago the
// middle of what it saw is.
func (t *Tracker) follow() (lag int, ok bool) {
	n := int(max(trackPeriods/t.hz, shortestWindow) * t.rate)
	from := len(t.buffer) - n
	if from < t.hop || t.hz < MinHz || t.hz > 1.1*MaxHz {
		return 0, false
	}
	if len(t.window) != n {
		t.window = t.window[:n]
		for i := range t.window {
			t.window[i] = 1
		}
		window.Hann(t.window)
	}
	now, then := t.buffer[from:], t.buffer[from-t.hop:]
	move, weight := 0.0, 0.0 // of the pitch, as a ratio
	for k := 1.0; k <= trackPartials && k*t.hz < trackTop*t.rate; k++ {
		w := 2 * math.Pi * k * t.hz / t.rate
		a, b := t.partial(now, w), t.partial(then, w)
		own := k * k * (power(a) + power(b))
		if own == 0 {
			continue
		}
		// What the partial's phase moved beyond k·hz and beyond move.
		ahead := w * float64(t.hop)
		extra := cmplx.Phase(a * cmplx.Conj(b) * cmplx.Rect(1, -ahead*(1+move)))
		weight += own
		move += extra / ahead * own / weight
	}
	t.hz *= 1 + move
	return (n + t.hop) / 2, weight > 0 && math.Abs(move) <= furthest
}

// partial is the windowed sum of x turned back by w radians per sample, by
// Goertzel's recurrence.
func (t *Tracker) partial(x []float64, w float64) complex128 {
	sin, cos := math.Sincos(w)
	s1, s2 := 0.0, 0.0
	for i, v := range t.window {
		s1, s2 = v*x[i]+2*cos*s1-s2, s1
	}
	// The recurrence gives Σ x[i] exp(j w (n-1-i)): a fixed turn, the same for
	// both windows, which the phase difference does not see.
	return complex(s1-cos*s2, sin*s2)
}
