package tone

import (
	"math"
	"math/rand/v2"
)

// Voice is a family of spectra.
type Voice int

// The voices. Each has a formant of the kind its instrument shows (Meyer,
// Acoustics and the Performance of Music, 2009, chapter 3, rounded; from
// memory): partials grow towards it and fall beyond it, so that the strongest
// partial of a low note is well above the first.
const (
	Plain     Voice = iota // 1/k: no instrument, for plain tests
	Trumpet                // formant near 1200 Hz
	Horn                   // near 450 Hz, weak fundamental low down
	Trombone               // near 550 Hz
	Euphonium              // near 400 Hz
	Tuba                   // near 250 Hz
)

// formant in Hz, slope below it and above it in powers of frequency.
type formant struct{ hz, rise, fall float64 }

var formants = map[Voice]formant{
	Trumpet:   {1200, 0.9, 3.0},
	Horn:      {450, 2.0, 3.2},
	Trombone:  {550, 1.2, 2.6},
	Euphonium: {400, 1.1, 3.2},
	Tuba:      {250, 1.3, 3.0},
}

const (
	maxPartials = 40
	// audibleHz is where partials end, unless the rate ends them sooner.
	audibleHz = 10000
	// raggedDB is how unevenly neighbouring partials of real spectra stand.
	raggedDB = 3
	// brightnessSlope is how many powers of frequency one unit of brightness is worth.
	brightnessSlope = 0.8
)

// partial is one multiple of the fundamental.
type partial struct {
	k         int
	written   float64 // amplitude without shimmer
	amplitude float64
	slope     float64 // change per sample
	cos, sin  float64 // of its phase
	shimmer   wander
}

func newPartials(c Config, random *rand.Rand) []partial {
	var ps []partial
	power := 0.0
	for k := 1; k <= maxPartials; k++ {
		f := float64(k) * float64(c.F0)
		if f > math.Min(audibleHz, 0.45*c.Rate) {
			break
		}
		p := partial{k: k, written: spectrum(c, f, k)}
		if c.Voice != Plain {
			p.written *= math.Pow(10, raggedDB*random.NormFloat64()/20)
		}
		p.sin, p.cos = math.Sincos(2 * math.Pi * random.Float64())
		p.shimmer = newWander(random, c.Rate/tickSamples)
		power += p.written * p.written
		ps = append(ps, p)
	}
	for i := range ps {
		ps[i].written /= math.Sqrt(power)
		ps[i].amplitude = ps[i].written
	}
	return ps
}

// spectrum is the amplitude of the partial k at f Hz, unnormalised.
func spectrum(c Config, f float64, k int) float64 {
	shape, ok := formants[c.Voice]
	if !ok {
		return 1 / float64(k)
	}
	x := f / shape.hz
	fall := math.Max(shape.fall-brightnessSlope*c.Brightness, 0.5)
	return math.Pow(x, shape.rise) / (1 + math.Pow(x, shape.rise+fall))
}

// step moves the shimmer.
func (p *partial) step(random *rand.Rand, shimmerDB float64) {
	target := p.written
	if shimmerDB > 0 {
		p.shimmer.step(random)
		target *= math.Pow(10, shimmerDB*p.shimmer.value/20)
	}
	p.slope = (target - p.amplitude) / tickSamples
}
