package estimate

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"

	"bellrow/node/simulate/tone"
	"bellrow/proto/pitch"
)

// condition is what a laptop or a room does to a note.
type condition struct {
	name   string
	target string
	config func(*tone.Config)
	change func(x []float64, random *rand.Rand)
}

var conditions = []condition{
	{"untouched", "0", nil, nil},
	{"200 Hz 4th-order high-pass", "0", func(c *tone.Config) { c.HighpassHz = 200 }, nil},
	{"hum at -20 dB", "0", nil, func(x []float64, r *rand.Rand) { hum(x, -20, r) }},
	{"hum at -10 dB", "1 in 1000", nil, func(x []float64, r *rand.Rand) { hum(x, -10, r) }},
	{"clipped", "0", nil, func(x []float64, _ *rand.Rand) { clip(x) }},
	{"gain wandering by 6 dB either way", "0", nil, func(x []float64, _ *rand.Rand) { ride(x) }},
	{"white noise at 10 dB SNR", "-", nil, func(x []float64, r *rand.Rand) { hiss(x, -10, r) }},
	{"high-pass and hum at -20 dB", "-", func(c *tone.Config) { c.HighpassHz = 200 }, func(x []float64, r *rand.Rand) { hum(x, -20, r) }},
}

// hum adds mains hum of 50 or 60 Hz: its low multiples, the odd ones stronger,
// as transformers and dimmers give.
func hum(x []float64, levelDB float64, r *rand.Rand) {
	mains := 50.0
	if r.IntN(2) == 0 {
		mains = 60
	}
	mains += 0.02 * r.NormFloat64() // grids keep within a few hundredths
	h := make([]float64, len(x))
	for m, a := range [...]float64{1, 0.3, 0.5, 0.1, 0.25, 0.05, 0.1} {
		phase := 2 * math.Pi * r.Float64()
		for i := range h {
			h[i] += a * math.Sin(2*math.Pi*mains*float64(m+1)*float64(i)/rate+phase)
		}
	}
	gain := rms(x) / rms(h) * math.Pow(10, levelDB/20)
	for i := range x {
		x[i] += gain * h[i]
	}
}

// clip drives the note 12 dB into full scale.
func clip(x []float64) {
	peak := 0.0
	for _, v := range x {
		peak = max(peak, math.Abs(v))
	}
	for i := range x {
		x[i] = max(-1, min(1, 4*x[i]/peak))
	}
}

// ride is an automatic gain that wanders by 6 dB either way, 0.7 times a second.
func ride(x []float64) {
	for i := range x {
		x[i] *= math.Pow(10, 6*math.Sin(2*math.Pi*0.7*float64(i)/rate)/20)
	}
}

func hiss(x []float64, levelDB float64, r *rand.Rand) {
	gain := rms(x) * math.Pow(10, levelDB/20)
	for i := range x {
		x[i] += gain * r.NormFloat64()
	}
}

// gross counts octave and other gross errors; r.n segments under each
// condition, half a second and a second in turn.
func (r *run) gross(ctx context.Context) error {
	for i, c := range conditions {
		random := rand.New(rand.NewPCG(uint64(i), 4))
		var v verdicts
		for j := range r.n {
			if err := ctx.Err(); err != nil {
				return err
			}
			r.table.wrong(v.add(grossSegment(c, j, random)))
		}
		r.table.figure("gross errors, "+c.name, v.String(), c.target)
	}
	return nil
}

func grossSegment(c condition, j int, random *rand.Rand) segment {
	hz := lowestTone * math.Pow(highestTone/lowestTone, random.Float64())
	config := tone.Natural(tone.Config{
		Rate: rate, F0: pitch.Hertz(hz), Level: toneLevel, Seed: uint64(j) + 7000, Voice: voiceAt(hz, j),
		Brightness: 2*random.Float64() - 1, Room: &tone.Room{Decay: 0.5, WetDB: -10},
	})
	if c.config != nil {
		c.config(&config)
	}
	t := mustTone(config)
	x := make([]float64, 2*rate)
	t.Read(x)
	from, length := int(steadyFrom*rate), rate/(1+j%2)
	x = x[from : from+length]
	if c.change != nil {
		c.change(x, random)
	}
	truth, _ := t.Truth(int64(from), int64(from+length)) // just read
	return segment{name: fmt.Sprintf("%.1f Hz, voice %d, %d samples", hz, config.Voice, length), samples: x, truth: truth}
}
