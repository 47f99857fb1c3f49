package estimate

import (
	"math"
	"math/rand/v2"

	"bellrow/node/simulate/room"
)

// A second room, made in another way than by image sources, so that nothing
// is right for one model only: a direct sound, a dozen early reflections, and
// a network of delay lines whose feedback matrix keeps the energy (Jot and
// Chaigne 1991, AES 90th Convention, preprint 3030), with a shorter decay
// above.

const (
	networkLines = 16
	// networkTop is where, in Hz, the decay of the network is half as long.
	networkTop = 4000.0
)

// network adds a random room to x, which is n samples long in the end.
func network(x []float64, n int, rt60 float64, random *rand.Rand) []float64 {
	out := make([]float64, n)
	copy(out, x)
	for range 12 {
		at, gain := int((0.004+0.06*random.Float64())*rate), either(random)*(0.1+0.35*random.Float64())
		for i, v := range x[:max(0, min(len(x), n-at))] {
			out[at+i] += gain * v
		}
	}
	lines := make([]delayLine, networkLines)
	for i := range lines {
		long := (0.023 + 0.06*random.Float64()) * rate
		lines[i] = newDelayLine(int(long), rt60, random)
	}
	wet := make([]float64, n)
	var taps [networkLines]float64
	for i := range wet {
		v := 0.0
		if i < len(x) {
			v = x[i]
		}
		sum := 0.0
		for j := range lines {
			taps[j] = lines[j].out()
			wet[i] += lines[j].sign * taps[j]
			sum += taps[j]
		}
		for j := range lines { // Householder's reflection
			lines[j].in(lines[j].sign*v + taps[j] - 2*sum/networkLines)
		}
	}
	// The reverberant field lies as far below or above the direct sound as
	// between 0.3 m and 1.5 m from a bell.
	gain := math.Pow(10, (-9+12*random.Float64())/20) * rms(out) / max(1e-12, rms(wet))
	for i := range out {
		out[i] += gain * wet[i]
	}
	return out
}

// delayLine is one line of the network with its loss.
type delayLine struct {
	line       []float64
	at         int
	sign       float64
	gain, pole float64
	low        float64
}

func newDelayLine(long int, rt60 float64, random *rand.Rand) delayLine {
	g := func(seconds float64) float64 { return math.Pow(10, -3*float64(long)/rate/seconds) }
	low, high := g(rt60), g(rt60/2)
	// A one-pole low-pass of gain low at 0 Hz and high at networkTop.
	d := delayLine{line: make([]float64, long), sign: either(random), gain: low}
	for d.pole < 0.95 {
		w := 2 * math.Pi * networkTop / rate
		if low*(1-d.pole)/math.Sqrt(1-2*d.pole*math.Cos(w)+d.pole*d.pole) <= high {
			break
		}
		d.pole += 0.01
	}
	return d
}

func (d *delayLine) out() float64 { return d.line[d.at] }

func (d *delayLine) in(v float64) {
	d.low = d.pole*d.low + (1-d.pole)*v
	d.line[d.at] = d.gain * d.low
	d.at = (d.at + 1) % len(d.line)
}

// bare is a room without walls in which the microphone hears what reaches its
// membrane.
func (h hall) bare(m room.Mic) room.Config {
	return room.Config{Rate: rate, Mode: room.Full, Seed: h.config.Seed,
		Seats: []room.Seat{{Bell: room.Point{X: 4, Y: 4, Z: 1}, Mic: room.Point{X: 4, Y: 5, Z: 1}}}, Mics: []room.Mic{m}}
}
