package room

import (
	"math"
	"math/rand/v2"
)

// earlySeconds is up to when reflections are computed one by one. After 80 ms
// the echoes of a rehearsal room overlap and only their decay can be heard
// (Kuttruff, Room Acoustics, 5th ed., section 4.2).
const earlySeconds = 0.08

// Walls are the pressure reflection coefficients of the six surfaces: [0] at
// the origin, [1] opposite.
type Walls struct{ X, Y, Z [2]float64 }

// Uniform gives every surface the coefficient that yields rt60 by Eyring's
// formula (Eyring 1930, J. Acoust. Soc. Am. 1:217): ln(1-α) = -0.161 V/(S T),
// reflection √(1-α).
func Uniform(size Point, rt60 float64) Walls {
	if rt60 <= 0 {
		return Walls{}
	}
	volume := size.X * size.Y * size.Z
	surface := 2 * (size.X*size.Y + size.Y*size.Z + size.X*size.Z)
	b := math.Exp(-0.161 * volume / (surface * rt60) / 2)
	return Walls{[2]float64{b, b}, [2]float64{b, b}, [2]float64{b, b}}
}

// Images calls each for every image source within seconds of travel, with its
// distance from the microphone and its product of reflection coefficients
// (Allen and Berkley 1979, eq. 10). The direct path comes with gain 1.
func Images(size, source, mic Point, w Walls, seconds float64, each func(distance, gain float64)) {
	ways(size, source, mic, w, seconds, func(d, gain float64, _ Point) { each(d, gain) })
}

// ways is like Images and tells in which direction the sound leaves the source:
// a mirror turns that round along its own axis.
func ways(size, source, mic Point, w Walls, seconds float64, each func(distance, gain float64, way Point)) {
	far := seconds * SpeedOfSound
	nx, ny, nz := order(far, size.X), order(far, size.Y), order(far, size.Z)
	for x := -nx; x <= nx; x++ {
		for px := range 2 {
			dx := float64(1-2*px)*source.X - mic.X + 2*float64(x)*size.X
			gx := power(w.X[0], x-px) * power(w.X[1], x)
			if math.Abs(dx) > far || gx == 0 {
				continue
			}
			for y := -ny; y <= ny; y++ {
				for py := range 2 {
					dy := float64(1-2*py)*source.Y - mic.Y + 2*float64(y)*size.Y
					gy := power(w.Y[0], y-py) * power(w.Y[1], y)
					if math.Hypot(dx, dy) > far || gy == 0 {
						continue
					}
					for z := -nz; z <= nz; z++ {
						for pz := range 2 {
							dz := float64(1-2*pz)*source.Z - mic.Z + 2*float64(z)*size.Z
							g := gx * gy * power(w.Z[0], z-pz) * power(w.Z[1], z)
							if d := math.Sqrt(dx*dx + dy*dy + dz*dz); d <= far && g != 0 {
								each(d, g, Point{-mirrored(dx, px), -mirrored(dy, py), -mirrored(dz, pz)})
							}
						}
					}
				}
			}
		}
	}
}

func mirrored(x float64, n int) float64 {
	if n == 1 {
		return -x
	}
	return x
}

func order(far, size float64) int { return int(math.Ceil(far/(2*size))) + 1 }

// power is b to the |n|; 0 to the 0 is 1.
func power(b float64, n int) float64 {
	p := 1.0
	for range max(n, -n) {
		p *= b
	}
	return p
}

// impulse computes the response from a bell to mic, at most length samples:
// band-limited image pulses (Peterson 1986, J. Acoust. Soc. Am. 80:1527), each as
// the bell radiates in its direction, then noise under an exponential decay that
// carries on their energy.
func impulse(cfg Config, source Seat, mic Point, length int, rng *rand.Rand) []float64 {
	h := make([]float64, length)
	walls := Uniform(cfg.Size, cfg.RT60)
	early := min(earlySeconds, float64(length)/cfg.Rate)
	var by [rings][]float64 // pulses by direction
	ways(cfg.Size, source.Bell, mic, walls, early, func(distance, gain float64, way Point) {
		to := h
		if source.Sound.Radius > 0 {
			r := ring(source.Sound.cosine(way))
			if by[r] == nil {
				by[r] = make([]float64, min(length, int(early*cfg.Rate)+taps))
			}
			to = by[r]
		}
		addPulse(to, distance/SpeedOfSound*cfg.Rate, gain/distance)
	})
	if cfg.RT60 > 0 {
		// Energy of the diffuse field per sample at time t.
		rate := 6 * math.Ln10 / cfg.RT60 // energy decay, 1/s
		scale := math.Sqrt(diffuse(cfg) * rate / cfg.Rate)
		for i := int(early * cfg.Rate); i < length; i++ {
			h[i] += scale * math.Exp(-rate/2*float64(i)/cfg.Rate) * rng.NormFloat64()
		}
	}
	if source.Sound.Radius <= 0 {
		return h
	}
	shape := newShaper(source.Sound, cfg.Rate)
	out := make([]float64, length)
	through(out, h, shape.mean)
	for r, x := range by {
		through(out, x, shape.rings[r])
	}
	return out
}

// addPulse adds a band-limited pulse at a fractional sample.
func addPulse(h []float64, at, gain float64) {
	i := int(at)
	frac := (at - float64(i)) * phases
	p := int(frac)
	a, b, w := &sinc[p], &sinc[p+1], frac-float64(p)
	for j := range taps {
		if n := i + j - taps/2 + 1; n >= 0 && n < len(h) {
			h[n] += gain * (a[j] + w*(b[j]-a[j]))
		}
	}
}

// responseSamples is how long responses are: until the tail is 50 dB down.
func responseSamples(cfg Config) int {
	longest := 0.0
	for _, s := range cfg.Seats {
		for _, p := range cfg.Seats {
			longest = max(longest, s.Mic.Distance(p.Bell))
		}
	}
	return int(cfg.Rate*(longest/SpeedOfSound+cfg.RT60*50/60)) + taps
}
