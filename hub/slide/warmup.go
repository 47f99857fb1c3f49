package slide

import (
	"math"

	"bellrow/proto/pitch"
)

// How instruments warm up. They begin flat and come up fastest at first (UNSW,
// newt.phys.unsw.edu.au/jw/warming.html), within a minute or two by enough to
// matter (D. Sipe, Temperature and Intonation); bands are advised to warm up for
// five minutes at least before they tune. An exponential that is 95 % over by
// then has the time constant warmingSeconds of sound. How flat a cold instrument
// begins is from memory.
const (
	WarmSeconds    = 300
	warmingSeconds = WarmSeconds / 3
	coldMean       = 12 // cents below its place before the first note
	coldSD         = 8
	// paceSD is how instruments and rooms differ in the time constant, as a
	// logarithm: an alto horn is warm when a tuba is not (from memory).
	paceSD = 0.3
	// coldDoubt is how well what is still to come must be known, as a standard
	// deviation in cents, before a slide is moved: half of the usual band.
	coldDoubt = 2.5
	// ColdSeconds of sound are enough for that when nothing else is known:
	// coldSD has gone down to 2.4 cents by then.
	ColdSeconds = 120
)

// Warmup is what is known of one note of an instrument that warms up: its
// place, where it will stand when warm, in cents from the target, and how far
// below it began. The zero value knows nothing.
//
// A reading after p seconds of sound lies at place - cold·exp(-p/τ): a linear
// regression for the two, from reading to reading, with a prior on cold alone.
type Warmup struct {
	place, cold                   float64
	varPlace, varCold, covariance float64
	begun                         bool
}

// left is the share of the cold that is left after seconds of sound.
func left(played float64) float64 { return math.Exp(-played / warmingSeconds) }

// read takes a reading after seconds of sound: its offset from the target and
// its standard deviation, in cents.
func (w Warmup) read(played, offset, sd float64) Warmup {
	h := -left(played) // offset = place + h·cold
	sd = math.Hypot(sd, w.paceDoubt(played))
	if !w.begun {
		const v = coldSD * coldSD
		return Warmup{
			begun: true, place: offset - h*coldMean, cold: coldMean,
			varPlace: sd*sd + h*h*v, varCold: v, covariance: -h * v,
		}
	}
	w.varPlace += wander * wander
	gainPlace, gainCold := w.varPlace+h*w.covariance, w.covariance+h*w.varCold
	s := gainPlace + h*gainCold + sd*sd
	miss := offset - w.place - h*w.cold
	w.place += gainPlace / s * miss
	w.cold += gainCold / s * miss
	w.varPlace -= gainPlace * gainPlace / s
	w.varCold -= gainCold * gainCold / s
	w.covariance -= gainPlace * gainCold / s
	return w
}

// paceDoubt is how far a reading may be off because instruments differ in how
// fast they warm up, SD in cents: how left changes with the time constant.
func (w Warmup) paceDoubt(played float64) float64 {
	cold := coldMean + 0.0
	if w.begun {
		cold = math.Abs(w.cold)
	}
	return paceSD * cold * played / warmingSeconds * left(played)
}

// moved takes a change by the slides, in cents, and its standard deviation.
func (w Warmup) moved(change, sd float64) Warmup {
	w.place += change
	w.varPlace += sd * sd
	return w
}

// unsure reports whether too little is known of what is still to come after
// seconds of sound.
func (w Warmup) unsure(played float64) bool {
	sd := float64(coldSD)
	if w.begun {
		sd = math.Sqrt(w.varCold)
	}
	return left(played)*sd > coldDoubt
}

// outweighs reports whether the way to the warm place is longer than it is
// doubtful, at 95 %.
func (w Warmup) outweighs(played float64) bool {
	return w.begun && math.Abs(w.place) > 1.96*left(played)*math.Sqrt(w.varCold)
}

// wait is how many seconds of playing are still to come until enough is known.
func (w Warmup) wait(played float64) float64 {
	sd := float64(coldSD)
	if w.begun {
		sd = math.Sqrt(w.varCold)
	}
	return max(0, warmingSeconds*math.Log(sd/coldDoubt)-played)
}

// rise is how far the instrument comes up from one moment of sound to another.
func (w Warmup) rise(from, to float64) pitch.Cents {
	return pitch.Cents(w.cold * (left(from) - left(to)))
}

// belief is where the note is thought to stand once the instrument is warm.
func (w Warmup) belief() Belief {
	if !w.begun {
		return Belief{}
	}
	return Belief{Offset: pitch.Cents(w.place), SD: math.Sqrt(w.varPlace)}
}
