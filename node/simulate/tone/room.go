package tone

import (
	"math"
	"math/rand/v2"
)

// Room describes reflections.
type Room struct {
	// Decay is the time in which the tail falls by 60 dB, in seconds.
	Decay float64
	// WetDB is the level of all reflections relative to the direct sound.
	WetDB float64
}

// roomDelays are the lengths of the recirculating lines, in seconds: mutually
// prime at common rates, as in Schroeder (1962), Natural sounding artificial
// reverberation.
var roomDelays = [...]float64{0.0297, 0.0371, 0.0411, 0.0437, 0.0533, 0.0617}

// room is a bank of recirculating delays with damping.
type room struct {
	lines []delayLine
	wet   float64
}

type delayLine struct {
	ring     []float64
	at       int
	feedback float64
	damped   float64
	sign     float64
}

func newRoom(c Room, rate float64, random *rand.Rand) *room {
	r := &room{}
	energy := 0.0
	for _, d := range roomDelays {
		d *= 0.9 + 0.2*random.Float64() // no two players sit in the same place
		g := math.Pow(10, -3*d/math.Max(c.Decay, 0.05))
		sign := 1.0
		if random.IntN(2) == 0 {
			sign = -1
		}
		r.lines = append(r.lines, delayLine{ring: make([]float64, max(1, int(d*rate))), feedback: g, sign: sign})
		energy += 1 / (1 - g*g)
	}
	r.wet = math.Pow(10, c.WetDB/20) / math.Sqrt(energy)
	return r
}

func (r *room) next(x float64) float64 {
	sum := 0.0
	for i := range r.lines {
		l := &r.lines[i]
		y := l.ring[l.at]
		sum += l.sign * y
		const damping = 0.3 // the air and the walls take the top away
		l.damped = damping*l.damped + (1-damping)*y
		l.ring[l.at] = x + l.feedback*l.damped
		if l.at++; l.at == len(l.ring) {
			l.at = 0
		}
	}
	return x + r.wet*sum
}
