package estimate

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
		d, _, ok := decided(naturalNote(i))
		total++
		if ok {
			settled++
			after = append(after, d)
		}
	}
	r.table.figure("players: at rest after the onset, s", fmt.Sprintf("median %.2f, 90 %% %.2f, %d of %d settle", quantile(after, 0.5), quantile(after, 0.9), settled, total), "0.7 / 1.5")
	moving := 0
	for i := range r.n / 2 {
		if _, _, ok := decided(movingNote(i)); ok {
			moving++
		}
	}
	r.table.figure("moving notes called settled", fmt.Sprintf("%d of %d", moving, r.n/2), "0")
	notes, err := r.rendered(ctx)
	if err != nil {
		return err
	}
	r.renderedAtRest(notes)
	return nil
}

// renderedAtRest does the same for rendered notes, and says of those that did
// not settle whether a reference method finds one source at rest in them.
func (r *run) renderedAtRest(notes []note) {
	var after []float64
	settled, total, steady, steadySettled := 0, 0, 0, 0
	for _, n := range notes {
		if n.choir {
			continue
		}
		d, reading, ok := decided(n.samples)
		total++
		disagreement, sway := n.unrest()
		calm := disagreement < settledDisagreement && sway <= 5
		if calm {
			steady++
		}
		if !ok {
			r.table.note(fmt.Sprintf("  %s: %s; reference: sways by %.1f cents, partials disagree by %.3f", n.name, reading.Reason, sway, disagreement))
			continue
		}
		settled++
		after = append(after, d)
		if calm {
			steadySettled++
		}
	}
	r.table.figure("rendered notes: at rest after the onset, s", fmt.Sprintf("median %.2f, 90 %% %.2f, %d of %d settle", quantile(after, 0.5), quantile(after, 0.9), settled, total), "0.7 / 1.5")
	r.table.figure("  of those that a reference finds at rest", fmt.Sprintf("%d of %d settle", steadySettled, steady), "all")
}

// unrest is what the reference method finds of n in the second after
// steadyFrom, or as much of it as can be measured: how far the partials
// disagree about the mean pitch, and how far the pitch sways, both in cents.
func (n note) unrest() (disagreement, sway float64) {
	from := int(steadyFrom * rate)
	to := from + rate
	hz, disagreement, ok := meanPitch(n.samples, from, to, n.nominal())
	if !ok {
		return math.Inf(1), math.Inf(1)
	}
	return disagreement, swayOf(n.samples, from, to, hz)
}

// nominal is the equal-tempered pitch of n's key, in Hz.
func (n note) nominal() float64 { return 440 * math.Exp2(float64(n.midi-69)/12) }

// decided returns how long after its onset the first note of x was called at
// rest, in seconds, and its reading; ok is false when it was not, or its reading
// did not settle.
func decided(x []float64) (seconds float64, reading listen.Reading, ok bool) {
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
				reading = *e.Reading
				seconds, ok = float64(at-reading.Onset)/rate, at >= 0 && reading.Settled
				return true
			}
		}
		return false
	}
	for len(x) > 0 {
		n := min(len(x), 480)
		if hear(l.Write(x[:n])) {
			return seconds, reading, ok
		}
		x = x[n:]
	}
	hear(l.Flush())
	return seconds, reading, ok
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
