package room

import "math"

// Bell is how a bell radiates. The zero value radiates alike in all directions.
type Bell struct {
	Axis   Point   // where it points; any length
	Radius float64 // of its rim in metres; 0 = alike in all directions
}

// softest is how much of the sound on axis is left at its weakest, from which the
// minima of the piston are filled: measured minima are shallow.
const softest = 0.1

// Gain is the pressure at hz in a direction whose cosine to the axis is cos, over
// that on axis: a rigid piston of the rim's size (Kinsler and others, Fundamentals
// of Acoustics, 4th ed., section 7.4), with the shade of a tube's open end behind
// it as it grows beyond the wavelength. Trumpets come out 3 dB down at ±45° at
// 2 kHz, trombones at ±60° at 1 kHz and ±25° at 2, all alike all around at 200 Hz and
// some 15 dB softer behind at 1 kHz, as Meyer's handbook has them (Acoustics and the
// Performance of Music, 5th ed., chapter 4, from memory). Pätynen and Lokki (2010,
// Acta Acustica united with Acustica 96:138) find that brass radiates in the direction of
// the bell whatever the note or its strength.
func (b Bell) Gain(cos, hz float64) float64 {
	ka := 2 * math.Pi * hz / SpeedOfSound * b.Radius
	if ka == 0 {
		return 1
	}
	g := 1.0
	if x := ka * math.Sqrt(max(0, 1-cos*cos)); x > 1e-6 {
		g = math.Abs(2 * math.J1(x) / x)
	}
	if cos < 0 { // beyond the rim: what goes round it, less and less
		g = min(g, math.Abs(2*math.J1(ka)/ka))
	}
	shade := ka * ka / (1 + ka*ka)
	return max(softest, g*(1-shade*(1-cos)/2))
}

// Mean is the mean over all directions of the squared gain: what the room gets of
// the bell, over what it would get of a source as loud everywhere as this is on axis.
func (b Bell) Mean(hz float64) float64 {
	sum := 0.0
	const n = 64
	for i := range n {
		g := b.Gain((float64(i)+0.5)*2/n-1, hz)
		sum += g * g / n
	}
	return sum
}

// cosine of the angle between the axis and way.
func (b Bell) cosine(way Point) float64 {
	a := b.Axis.Distance(Point{}) * way.Distance(Point{})
	if a == 0 {
		return 1
	}
	return (b.Axis.X*way.X + b.Axis.Y*way.Y + b.Axis.Z*way.Z) / a
}

// shaper has the responses of a bell by direction, as symmetric filters.
type shaper struct {
	rings [rings][]float64
	mean  []float64
}

const (
	rings     = 12
	shapeHalf = 24 // coefficients on either side
)

func newShaper(b Bell, rate float64) *shaper {
	s := &shaper{}
	for r := range s.rings {
		cos := (float64(r)+0.5)*2/rings - 1
		s.rings[r] = symmetric(rate, func(hz float64) float64 { return b.Gain(cos, hz) })
	}
	s.mean = symmetric(rate, func(hz float64) float64 { return math.Sqrt(b.Mean(hz)) })
	return s
}

// ring is where a direction belongs.
func ring(cos float64) int { return min(rings-1, max(0, int((cos+1)/2*rings))) }

// symmetric is a filter of zero phase with the given gain, by sampling it over
// frequency under a Hann window.
func symmetric(rate float64, gain func(hz float64) float64) []float64 {
	const n = 64
	h := make([]float64, shapeHalf+1)
	for k := range n {
		g := gain((float64(k) + 0.5) / n * rate / 2)
		for i := range h {
			h[i] += g / n * math.Cos(math.Pi*float64(i)*(float64(k)+0.5)/n)
		}
	}
	for i := range h {
		h[i] *= 0.5 + 0.5*math.Cos(math.Pi*float64(i)/(shapeHalf+1))
	}
	return h
}

// through adds x, filtered, to y.
func through(y, x, h []float64) {
	for n, v := range x {
		if v == 0 {
			continue
		}
		for i := -shapeHalf; i <= shapeHalf; i++ {
			if j := n + i; j >= 0 && j < len(y) {
				y[j] += v * h[max(i, -i)]
			}
		}
	}
}

// Balance is what microphone m hears at hz if all players are as loud as each
// other on axis, as powers: of its own player the direct sound and the diffuse field (Kuttruff,
// section 5.1), of all others both together. RT60 must be above 0.
func (c Config) Balance(m int, hz float64) (direct, diffused, others float64) {
	for p, s := range c.Seats {
		way := between(s.Bell, c.Seats[m].Mic)
		g := s.Sound.Gain(s.Sound.cosine(way), hz) / way.Distance(Point{})
		far := diffuse(c) * s.Sound.Mean(hz)
		if p == m {
			direct, diffused = g*g, far
		} else {
			others += g*g + far
		}
	}
	return direct, diffused, others
}

func between(a, b Point) Point { return Point{b.X - a.X, b.Y - a.Y, b.Z - a.Z} }
