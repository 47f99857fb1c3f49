package accuracy

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"

	"bellrow/node/listen"
	"bellrow/node/simulate/tone"
	"bellrow/proto/pitch"
)

// onset measures how soon after a note's beginning its pitch is called at
// rest, and that a note still moving never is.
func (r *run) onset(ctx context.Context) error {
	var after []float64
	settled, total := 0, 0
	for i := range r.n / 2 {
		d, ok := decided(naturalNote(i))
		total++
		if ok {
			settled++
			after = append(after, d)
		}
	}
	r.table.figure("players: at rest after the onset, s", fmt.Sprintf("median %.2f, 90 %% %.2f, %d of %d settle", quantile(after, 0.5), quantile(after, 0.9), settled, total), "0.7 / 1.5")
	moving := 0
	for i := range r.n / 2 {
		if _, ok := decided(movingNote(i)); ok {
			moving++
		}
	}
	r.table.figure("moving notes called settled", fmt.Sprintf("%d of %d", moving, r.n/2), "0")
	notes, err := r.rendered(ctx)
	if err != nil {
		return err
	}
	after, settled, total = nil, 0, 0
	for _, n := range notes {
		if n.choir {
			continue
		}
		d, ok := decided(n.samples)
		total++
		if ok {
			settled++
			after = append(after, d)
		}
	}
	r.table.figure("rendered notes: at rest after the onset, s", fmt.Sprintf("median %.2f, 90 %% %.2f, %d of %d settle", quantile(after, 0.5), quantile(after, 0.9), settled, total), "0.7 / 1.5")
	return nil
}

// decided returns how long after its onset the first note of x was called at
// rest, in seconds; ok is false when it was not, or its reading did not settle.
func decided(x []float64) (seconds float64, ok bool) {
	l, err := listen.New(listen.Config{Rate: rate, ClockPPM: -1})
	if err != nil {
		panic("accuracy: " + err.Error()) // our own constant
	}
	x = append(append(make([]float64, rate/4), x...), make([]float64, rate/2)...)
	at := int64(-1)
	hear := func(events []listen.Event) (done bool) {
		for _, e := range events {
			if e.State == listen.Resting && at < 0 {
				at = e.Sample
			}
			if e.Reading != nil {
				seconds, ok = float64(at-e.Reading.Onset)/rate, at >= 0 && e.Reading.Settled
				return true
			}
		}
		return false
	}
	for len(x) > 0 {
		n := min(len(x), 480)
		if hear(l.Write(x[:n])) {
			return seconds, ok
		}
		x = x[n:]
	}
	hear(l.Flush())
	return seconds, ok
}

// naturalNote is a held note of a player in a room.
func naturalNote(i int) []float64 {
	random := rand.New(rand.NewPCG(uint64(i), 8))
	hz := 58 * math.Exp2(4*random.Float64())
	c := tone.Natural(tone.Config{
		Rate: rate, F0: pitch.Hertz(hz), Level: toneLevel, Seed: uint64(i) + 9000, Voice: voiceAt(hz, i),
		Wander: pitch.Cents(0.8 + 1.2*random.Float64()), Duration: 2.5,
		Path: tone.Scoop(pitch.Cents(20*random.NormFloat64()), 0.04+0.12*random.Float64()),
		Room: &tone.Room{Decay: 0.4, WetDB: -12},
	})
	x := make([]float64, 3*rate)
	return x[:mustTone(c).Read(x)]
}

// movingNote never rests: it glides by 12 to 60 cents a second, either way.
func movingNote(i int) []float64 {
	random := rand.New(rand.NewPCG(uint64(i), 9))
	hz := 58 * math.Exp2(4*random.Float64())
	slope := 12 + 48*random.Float64()
	if i%2 == 0 {
		slope = -slope
	}
	c := tone.Natural(tone.Config{
		Rate: rate, F0: pitch.Hertz(hz), Level: toneLevel, Seed: uint64(i) + 9500, Voice: voiceAt(hz, i),
		Duration: 2, Path: tone.Fall(0, slope), Room: &tone.Room{Decay: 0.4, WetDB: -12},
	})
	x := make([]float64, 3*rate)
	return x[:mustTone(c).Read(x)]
}
