package estimate

import "math"

const (
	// humTop is where mains hum ends, humNear how near to a multiple of the mains
	// a partial's hum lies, and humAside how far from it its place must be, in Hz.
	humTop, humNear, humAside = 500.0, 0.4, 1.0
	// humAlone, in Hz, is above what hum alone is read as, the mains or twice them: their
	// higher lines are notes that are played, 350 Hz F4 at +4 cents. Below, the nearest notes
	// are 35 cents away. mainsOff is how far hum may be read from its nominal frequency, as a
	// share, and mainsWander the RMS wander, in cents, that noise as loud as it makes of it.
	humAlone, mainsOff, mainsWander = 125.0, 0.002, 6.0
)

// mainsNear returns the multiple of 50 or 60 Hz that is nearest to hz.
func mainsNear(hz float64) float64 {
	a, b := 50*max(1, math.Round(hz/50)), 60*max(1, math.Round(hz/60))
	if math.Abs(hz-a) < math.Abs(hz-b) {
		return a
	}
	return b
}

// isHum reports whether what was cut out as partial p of f over frames [from, to) is a
// line of the mains nearby.
func (p *partialTrack) isHum(f float64, from, to int) bool {
	place := float64(p.k) * f
	mean, _ := p.mean(from, min(to, len(p.cents)))
	at := place * (1 + mean*math.Ln2/1200)
	line := mainsNear(at)
	return at < humTop && math.Abs(at-line) < humNear && math.Abs(place-line) > humAside
}

// isHum reports whether the reading is of hum alone, which does not wander as what lips
// drive does.
func (e *Estimate) isHum() bool {
	hz := float64(e.Hz)
	line := mainsNear(hz)
	return hz < humAlone && math.Abs(hz-line) < mainsOff*line && e.Wander < mainsWander
}
