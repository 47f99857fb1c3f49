package room

import (
	"math"
	"math/rand/v2"
)

// live carries direct sound over delay lines and adds one shared tail.
type live struct {
	lines [][]float64 // one ring for each player
	at    int
	delay [][]int
	gain  [][]float64
	tail  *tail
}

func newLive(cfg Config) *live {
	l := &live{}
	longest := 0
	for _, s := range cfg.Seats {
		var delay []int
		var gain []float64
		for _, p := range cfg.Seats {
			d := p.Bell.Distance(s.Mic)
			n := int(math.Round(d / SpeedOfSound * cfg.Rate))
			longest = max(longest, n)
			delay = append(delay, n)
			gain = append(gain, 1/d)
		}
		l.delay = append(l.delay, delay)
		l.gain = append(l.gain, gain)
	}
	for range cfg.Seats {
		l.lines = append(l.lines, make([]float64, longest+block))
	}
	if cfg.RT60 > 0 {
		l.tail = newTail(cfg)
	}
	return l
}

func (l *live) carry(in, out [][]float64) {
	size := len(l.lines[0])
	for p, x := range in {
		line := l.lines[p]
		first := copy(line[l.at:], x)
		copy(line, x[first:])
	}
	for m, y := range out {
		for p := range in {
			i := (l.at - l.delay[m][p] + size) % size
			addScaled(y, l.lines[p], i, l.gain[m][p])
		}
	}
	if l.tail != nil {
		l.tail.carry(in, out)
	}
	l.at = (l.at + len(in[0])) % size
}

// addScaled adds gain times the ring from index i on.
func addScaled(y, ring []float64, i int, gain float64) {
	for n := 0; n < len(y); {
		part := ring[i:min(len(ring), i+len(y)-n)]
		dst := y[n:][:len(part)]
		for j, v := range part {
			dst[j] += gain * v
		}
		n += len(part)
		i = 0
	}
}

// tail is a feedback delay network of eight lines (Jot and Chaigne 1991, AES
// preprint 3030) that all players share; each microphone hears the lines with
// its own signs, so that tails differ between microphones.
type tail struct {
	lines [8][]float64
	at    [8]int
	loss  [8]float64
	send  [][8]float64 // for each player
	signs [][8]float64 // for each microphone
	gain  float64
}

// Delays in seconds, mutually prime in samples at usual rates.
var tailDelays = [8]float64{0.0297, 0.0371, 0.0411, 0.0437, 0.0533, 0.0617, 0.0683, 0.0797}

func newTail(cfg Config) *tail {
	t := &tail{}
	rng := rand.New(rand.NewPCG(cfg.Seed, 0x7461696c))
	energy := 0.0
	for i, d := range tailDelays {
		n := int(d*cfg.Rate) | 1
		t.lines[i] = make([]float64, n)
		t.loss[i] = math.Pow(10, -3*float64(n)/cfg.Rate/cfg.RT60)
		energy += 1 / (1 - t.loss[i]*t.loss[i])
	}
	for range cfg.Seats {
		var send, signs [8]float64
		for i := range send {
			send[i], signs[i] = sign(rng), sign(rng)
		}
		t.send = append(t.send, send)
		t.signs = append(t.signs, signs)
	}
	// An impulse leaves sum 1/(1-loss²) behind over the eight lines; scale that
	// to the diffuse field of one player.
	t.gain = math.Sqrt(diffuse(cfg) / energy)
	return t
}

func sign(rng *rand.Rand) float64 { return float64(2*rng.IntN(2) - 1) }

// diffuse is the energy of the reverberant field of a player relative to its
// direct sound at one metre, 16π/A, with the absorption area A from Sabine's
// formula (Kuttruff, Room Acoustics, 5th ed., section 5.1).
func diffuse(cfg Config) float64 {
	volume := cfg.Size.X * cfg.Size.Y * cfg.Size.Z
	area := 0.161 * volume / cfg.RT60
	return 16 * math.Pi / area
}

func (t *tail) carry(in, out [][]float64) {
	for n := range in[0] {
		var v [8]float64
		for i := range v {
			v[i] = t.lines[i][t.at[i]]
		}
		for m := range out {
			s := &t.signs[m]
			out[m][n] += t.gain * (s[0]*v[0] + s[1]*v[1] + s[2]*v[2] + s[3]*v[3] + s[4]*v[4] + s[5]*v[5] + s[6]*v[6] + s[7]*v[7])
		}
		for i := range v {
			v[i] *= t.loss[i]
		}
		mix(&v)
		for p := range in {
			x, s := in[p][n], &t.send[p]
			for i := range v {
				v[i] += s[i] * x
			}
		}
		for i := range v {
			t.lines[i][t.at[i]] = v[i]
			if t.at[i]++; t.at[i] == len(t.lines[i]) {
				t.at[i] = 0
			}
		}
	}
}

// mix is the orthogonal Hadamard matrix of order eight.
func mix(v *[8]float64) {
	for h := 1; h < 8; h *= 2 {
		for i := 0; i < 8; i += 2 * h {
			for j := i; j < i+h; j++ {
				v[j], v[j+h] = v[j]+v[j+h], v[j]-v[j+h]
			}
		}
	}
	for i := range v {
		v[i] *= 0.35355339059327373
	}
}
