package estimate

import (
	"fmt"
	"math"
	"math/rand/v2"

	"bellrow/node/simulate/room"
)

// A hall is one random room with a player, a laptop beside them, and a place
// where everything else comes from.
type hall struct {
	config room.Config // seats: the player, the others
	ppm    float64
	noise  float64 // dBFS of pink noise
	random *rand.Rand
	// The second model of a room, and another laptop.
	network, compressed bool
}

// chainHighPass is the corner of a laptop's microphone in Hz.
const chainHighPass = 150

// newHall draws a room of the given reverberation time; 0 is none at all.
func newHall(rt60 float64, seed uint64) hall {
	random := rand.New(rand.NewPCG(seed, 0x68616c6c))
	between := func(low, high float64) float64 { return low + (high-low)*random.Float64() }
	size := room.Point{X: between(4, 14), Y: between(5, 18), Z: between(2.6, 6)}
	bell := room.Point{X: between(1, size.X-1), Y: between(1, size.Y-1), Z: between(0.9, 1.3)}
	around := func(near, far, z float64) room.Point {
		for {
			d, a := between(near, far), between(0, 2*math.Pi)
			p := room.Point{X: bell.X + d*math.Cos(a), Y: bell.Y + d*math.Sin(a), Z: z}
			if p.X > 0.3 && p.Y > 0.3 && p.X < size.X-0.3 && p.Y < size.Y-0.3 {
				return p
			}
		}
	}
	mic := around(0.35, 0.8, between(0.6, 0.9))
	others := around(1, 4, between(0.9, 1.3))
	ppm := between(-50, 50)
	m := room.Mic{HighPass: chainHighPass, PPM: ppm}
	return hall{
		config: room.Config{
			Rate: rate, Size: size, RT60: rt60, Mode: room.Full, Seed: seed,
			Seats: []room.Seat{{Bell: bell, Mic: mic}, {Bell: others, Mic: mic}},
			Mics:  []room.Mic{m, m},
		},
		ppm: ppm, noise: between(-60, -50), random: random,
	}
}

// stream plays samples, then silence.
type stream struct{ left []float64 }

func (s *stream) Read(dst []float64) {
	n := copy(dst, s.left)
	clear(dst[n:])
	s.left = s.left[n:]
}

// heard is what the microphone's membrane gets of x played at a seat, n
// samples of the microphone's clock, at any level.
func (h hall) heard(x []float64, seat, n int) []float64 {
	c := h.config
	c.Seats, c.Mics = c.Seats[seat:seat+1], c.Mics[seat:seat+1]
	if h.network {
		if c.RT60 > 0 {
			x = network(x, n, c.RT60, rand.New(rand.NewPCG(c.Seed, uint64(seat))))
		}
		c = h.bare(c.Mics[0])
	}
	r, err := room.New(c, []room.Stream{&stream{x}})
	if err != nil {
		panic("accuracy: " + err.Error()) // our own numbers
	}
	out := [][]float64{make([]float64, n)}
	r.Read(out)
	return out[0]
}

// delay is the way of the direct sound, in seconds.
func (h hall) delay() float64 {
	s := h.config.Seats[0]
	if h.network {
		s = h.bare(room.Mic{}).Seats[0]
	}
	return s.Bell.Distance(s.Mic) / room.SpeedOfSound
}

// chain is what the laptop does to x: a level that pumps slowly by up to 3 dB
// either way, and pink noise. The high-pass and the clock are the room's.
func (h hall) chain(x []float64) {
	if h.compressed {
		h.compress(x)
		return
	}
	hz, phase, depth := 0.2+0.5*h.random.Float64(), 2*math.Pi*h.random.Float64(), 1+2*h.random.Float64()
	p := pink(len(x), h.random)
	gain := math.Pow(10, h.noise/20) / math.Sqrt2 / rms(p)
	for i := range x {
		pump := math.Pow(10, depth*math.Sin(2*math.Pi*hz*float64(i)/rate+phase)/20)
		x[i] = max(-1, min(1, x[i]*pump+gain*p[i]))
	}
}

// compress is another laptop: a resonance of its case, white noise, and a gain
// that follows the level quickly, as speech is treated.
func (h hall) compress(x []float64) {
	hz, wide := 250+1500*h.random.Float64(), 0.97+0.02*h.random.Float64()
	a1, a2 := -2*wide*math.Cos(2*math.Pi*hz/rate), wide*wide
	var y1, y2, power float64
	gain := math.Pow(10, h.noise/20) / math.Sqrt2
	for i, v := range x {
		y := (1-wide)*v - a1*y1 - a2*y2
		y1, y2 = y, y1
		v += y
		speed := 1 / (0.3 * rate)
		if v*v > power {
			speed = 1 / (0.015 * rate)
		}
		power += speed * (v*v - power)
		v *= math.Pow(max(power, 1e-6)*1e2, -0.3) // 10 dB more become 4
		x[i] = max(-1, min(1, v+gain*h.random.NormFloat64()))
	}
}

func (h hall) String() string {
	s := h.config.Size
	return fmt.Sprintf("%.1f × %.1f × %.1f m, RT60 %.1f s", s.X, s.Y, s.Z, h.config.RT60)
}

// pink is noise that falls by 3 dB an octave, by octave-spaced first-order
// sections (Kellet's coefficients, as given on musicdsp.org, 1999).
func pink(n int, random *rand.Rand) []float64 {
	var b [7]float64
	poles := [6]float64{0.99886, 0.99332, 0.96900, 0.86650, 0.55000, -0.7616}
	gains := [6]float64{0.0555179, 0.0750759, 0.1538520, 0.3104856, 0.5329522, -0.0168980}
	x := make([]float64, n)
	for i := range x {
		white := random.NormFloat64()
		sum := b[6] + 0.5362*white
		for j := range poles {
			b[j] = poles[j]*b[j] + gains[j]*white
			sum += b[j]
		}
		b[6] = 0.115926 * white
		x[i] = sum
	}
	return x
}
