package estimate

import (
	"math"
	"math/cmplx"
)

const (
	// trackPartials is how many partials the track follows: on low notes the
	// strongest is up to the ninth.
	trackPartials = 10
	// trackPeriods is the length of the Hann window, in periods, through which
	// each partial is seen: its neighbours fall on the window's nulls.
	trackPeriods = 4
	// shortestWindow keeps high notes from being seen through less than this
	// many seconds, which would only let noise in.
	shortestWindow = 0.02
	// coarseEvery is how many hops pass between two looks at the coarse
	// fundamental while a note is followed: enough to catch a new note at once.
	coarseEvery = 3
	// lostCents is how far the coarse fundamental must lie from the track, and
	// lostLooks how many times in a row, to be another note.
	lostCents = 60.0
	lostLooks = 2
	// stillThere is how high the normalised difference must stand at the
	// track's own period, against its best, for the track to be kept.
	stillThere = 0.8
	// LeastClarity is the least height of the normalised difference in a note.
	// Speech and hands stay below, breathy notes above.
	LeastClarity = 0.8
)

// A Tracker follows the pitch of what it hears, one point per hop. It sees
// samples at a lowered rate, each partial through a window of four periods,
// and takes the pitch from how far the partials' phases move in a hop: the
// low partials first, which cannot be mistaken for a neighbouring turn, then
// each higher one against what is known, weighted by k²|a|² as its phase tells
// of the pitch. Hop does not allocate.
type Tracker struct {
	rate   float64 // of the lowered samples
	hop    float64 // seconds
	factor int
	coarse *Coarse
	buffer []float64
	window []float64 // Hann, for the present length

	hz      float64 // followed, 0 when nothing is
	looks   int     // hops until the next coarse look
	lost    int
	clarity float64
}

// Point is the pitch at one hop.
type Point struct {
	Hz      float64
	Clarity float64
	Lag     int  // samples ago, at the full rate: the middle of what was seen
	Fresh   bool // the pitch was found anew, not followed from the hop before
}

// NewTracker returns a Tracker of what a Decimator of samples at rate gives,
// asked every hop seconds.
func NewTracker(rate, hop float64) *Tracker {
	factor := lowFactor(rate)
	low := rate / float64(factor)
	c := NewCoarse(low)
	longest := int(trackPeriods/MinHz*low) + 2
	return &Tracker{
		rate: low, hop: hop, factor: factor, coarse: c,
		buffer: make([]float64, 0, 4*(max(c.Window(), longest)+int(hop*low)+2)),
		window: make([]float64, 0, longest),
	}
}

// Write takes one sample at the lowered rate.
func (t *Tracker) Write(y float64) {
	if len(t.buffer) == cap(t.buffer) {
		keep := cap(t.buffer) / 4
		copy(t.buffer, t.buffer[len(t.buffer)-keep:])
		t.buffer = t.buffer[:keep]
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
func (t *Tracker) Hop() (Point, bool) {
	fresh := false
	if t.looks--; t.hz == 0 || t.looks < 0 {
		var ok bool
		if fresh, ok = t.look(); !ok {
			return Point{}, false
		}
	}
	lag, ok := t.follow()
	if !ok {
		t.Lose()
		return Point{}, false
	}
	return Point{Hz: t.hz, Clarity: t.clarity, Lag: lag * t.factor, Fresh: fresh}, true
}

// look asks the coarse fundamental whether the track is right.
func (t *Tracker) look() (fresh, ok bool) {
	t.looks = coarseEvery - 1
	if len(t.buffer) < t.coarse.Window() {
		return false, false
	}
	hz, clarity, found := t.coarse.Find(t.buffer[len(t.buffer)-t.coarse.Window():])
	t.clarity = clarity
	if !found || clarity < LeastClarity {
		if t.lost++; t.hz == 0 || t.lost >= lostLooks {
			t.Lose()
			return false, false
		}
		return false, true
	}
	if t.hz == 0 {
		t.hz, t.lost = hz, 0
		return true, true
	}
	// Hum lets the coarse fundamental fall to a fraction of the note's, whose
	// period then still explains the sound.
	if math.Abs(1200*math.Log2(hz/t.hz)) <= lostCents || hz < t.hz && t.coarse.at(t.hz) >= stillThere*clarity {
		t.lost = 0
		return false, true
	}
	t.looks = 0 // look again at once
	if t.lost++; t.lost < lostLooks {
		return false, true
	}
	t.hz, t.lost = hz, 0
	return true, true
}

// follow moves the pitch by one hop and returns how many low samples ago the
// middle of what it saw is.
func (t *Tracker) follow() (lag int, ok bool) {
	n := int(max(trackPeriods/t.hz, shortestWindow) * t.rate)
	if had := len(t.window); had-n < n/32 && n-had < n/32 {
		n = had // near enough: the nulls are broad
	}
	hop := int(math.Round(t.hop * t.rate))
	if n+hop > len(t.buffer) || t.hz < MinHz || t.hz > 1.1*MaxHz {
		return 0, false
	}
	t.shape(n)
	now, then := t.buffer[len(t.buffer)-n:], t.buffer[len(t.buffer)-n-hop:len(t.buffer)-hop]
	move, weight := 0.0, 0.0 // of the pitch, as a ratio
	for k := 1; k <= trackPartials && float64(k)*t.hz < 0.42*t.rate; k++ {
		w := 2 * math.Pi * float64(k) * t.hz / t.rate
		a, b := t.partial(now, w), t.partial(then, w)
		p := power(a) + power(b)
		if p == 0 {
			continue
		}
		// What the partial's phase moved beyond k·hz and beyond move.
		ahead := w * float64(hop)
		extra := cmplx.Phase(a * cmplx.Conj(b) * cmplx.Rect(1, -ahead*(1+move)))
		own := float64(k*k) * p
		weight += own
		move += extra / ahead * own / weight
	}
	if weight == 0 || math.Abs(move) > 0.06 {
		return 0, false
	}
	t.hz *= 1 + move
	return (n + hop) / 2, true
}

// shape makes the Hann window of n points.
func (t *Tracker) shape(n int) {
	if len(t.window) == n {
		return
	}
	t.window = t.window[:0]
	for i := range n {
		t.window = append(t.window, 0.5-0.5*math.Cos(2*math.Pi*(float64(i)+0.5)/float64(n)))
	}
}

// partial is the windowed sum of x turned back by w radians per sample, by
// Goertzel's recurrence.
func (t *Tracker) partial(x []float64, w float64) complex128 {
	sin, cos := math.Sincos(w)
	s1, s2 := 0.0, 0.0
	for i, v := range x {
		s1, s2 = v*t.window[i]+2*cos*s1-s2, s1
	}
	// The recurrence gives Σ x[i] exp(j w (n-1-i)): a fixed turn, the same for
	// both windows, which the phase difference does not see.
	return complex(s1-cos*s2, sin*s2)
}
