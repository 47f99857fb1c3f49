package estimate

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"

	"bellrow/node/simulate/tone"
	"bellrow/proto/pitch"
)

// Two timbres in one microphone: a target and, quieter, a neighbour a few
// cents away.

const (
	// steadyFrom is where in a rendered note the stretch may begin, in
	// seconds: the attack is over.
	steadyFrom = 0.8
	// settledDisagreement is how far the partials of a note may disagree about
	// its mean pitch, in cents, for it to have a known one. Some rendered horns
	// are two detuned players in one sample and are left out by it.
	settledDisagreement = 0.05
	// nearNote is how far apart, in semitones, the two notes may have been
	// recorded: what is resampled further sounds like no instrument.
	nearNote = 5
)

// solo is a note with a known mean pitch over a stretch.
type solo struct {
	note
	from, to int
	truth    pitch.Hertz
}

// solos returns the stretches of the given length whose mean pitch is known.
func solos(notes []note, seconds float64) []solo {
	var all []solo
	for _, n := range notes {
		if n.choir {
			continue
		}
		for _, start := range []float64{steadyFrom, steadyFrom + 0.9} {
			from := int(start * rate)
			to := from + int(seconds*rate)
			hz, disagreement, ok := meanPitch(n.samples, from, to, n.nominal())
			if ok && disagreement < settledDisagreement {
				all = append(all, solo{note: n, from: from, to: to, truth: pitch.Hertz(hz)})
			}
		}
	}
	return all
}

// mixes puts a random neighbour beside each solo, at each offset.
func mixes(solos []solo, levelDB float64, offsets []float64, seed uint64) []segment {
	random := rand.New(rand.NewPCG(seed, 7))
	var all []segment
	for i, s := range solos {
		for _, offset := range offsets {
			j := random.IntN(len(solos))
			for tries := 0; !fits(s, solos[j]) && tries < 1000; tries++ {
				j = random.IntN(len(solos))
			}
			if !fits(s, solos[j]) {
				continue
			}
			if random.IntN(2) == 0 {
				offset = -offset
			}
			if m, ok := mixed(solos[i], solos[j], offset, levelDB); ok {
				all = append(all, m)
			}
		}
	}
	return all
}

func fits(a, b solo) bool {
	return a.name != b.name && abs(a.midi-b.midi) <= nearNote
}

func abs(x int) int { return max(x, -x) }

// mixed adds b to a, resampled to lie offset cents from it.
func mixed(a, b solo, offset, levelDB float64) (segment, bool) {
	want := a.truth.Shift(pitch.Cents(offset))
	ratio := float64(want / b.truth)
	x := append([]float64(nil), a.samples[a.from:a.to]...)
	// The stretch of b whose mean pitch is known, played at another speed.
	end := b.from + int(float64(len(x))*ratio) + 2*resampleSide + 2
	if end > len(b.samples) {
		return segment{}, false
	}
	y := resampled(b.samples[b.from-resampleSide:end], ratio)
	if len(y) < len(x) {
		return segment{}, false
	}
	y = y[:len(x)]
	gain := rms(x) / rms(y) * math.Pow(10, levelDB/20)
	for i := range x {
		x[i] += gain * y[i]
	}
	return segment{name: a.name + " + " + b.name, samples: x, truth: a.truth, neighbour: want}, true
}

func rms(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v * v
	}
	return math.Sqrt(sum / float64(len(x)))
}

// neighbours are the distances of the neighbour, in cents, either way.
var neighbours = []float64{3, 8, 15}

// players makes n synthetic players in a room, with the imperfections of held
// notes.
func players(n int, seconds float64, seed uint64) []solo {
	random := rand.New(rand.NewPCG(seed, 2))
	out := make([]solo, n)
	for i := range out {
		hz := 43 * math.Exp2(4.4*random.Float64())
		c := tone.Natural(tone.Config{
			Rate: rate, F0: pitch.Hertz(hz), Level: toneLevel, Seed: seed*1000 + uint64(i), Voice: voiceAt(hz, i),
			Wander: pitch.Cents(0.3 + 2*random.Float64()),
			Room:   &tone.Room{Decay: 0.3 + 0.4*random.Float64(), WetDB: -12 + 4*random.Float64()},
		})
		t := mustTone(c)
		x := make([]float64, 3*rate)
		t.Read(x)
		from := int(steadyFrom * rate)
		to := from + int(seconds*rate)
		truth, _ := t.Truth(int64(from), int64(to)) // just read
		out[i] = solo{
			note: note{name: fmt.Sprintf("player %d at %.0f Hz", i, hz), midi: int(math.Round(69 + 12*math.Log2(hz/440))), samples: x},
			from: from, to: to, truth: truth,
		}
	}
	return out
}

// voiceAt is an instrument that plays at hz.
func voiceAt(hz float64, i int) tone.Voice {
	switch {
	case hz < 110:
		return tone.Tuba
	case hz < 250:
		return [...]tone.Voice{tone.Trombone, tone.Horn, tone.Euphonium}[i%3]
	case hz < 400:
		return [...]tone.Voice{tone.Trumpet, tone.Horn}[i%2]
	}
	return tone.Trumpet
}

func (s solo) segment() segment {
	return segment{name: s.name, samples: s.samples[s.from:s.to], truth: s.truth}
}

// sources returns the solos of each kind of sound for a length of stretch.
func (r *run) sources(ctx context.Context, seconds float64) (map[string][]solo, error) {
	out := map[string][]solo{"players in a room": players(r.n/2, seconds, 21)}
	notes, err := r.rendered(ctx)
	if err != nil {
		return out, err
	}
	out["rendered notes"] = solos(notes, seconds)
	return out, nil
}

// kinds is the order in which kinds of sound are listed.
var kinds = []string{"rendered notes", "players in a room"}

func (r *run) solo(ctx context.Context) error {
	var c coverage
	var missing error
	for _, seconds := range []float64{1, 0.5} {
		sources, err := r.sources(ctx, seconds)
		if err != nil {
			missing = err
		}
		for _, kind := range kinds {
			var segments []segment
			for _, s := range sources[kind] {
				segments = append(segments, s.segment())
			}
			if len(segments) == 0 {
				continue
			}
			own, err := r.measure(ctx, fmt.Sprintf("%s alone, %g s", kind, seconds), "-", segments)
			if err != nil {
				return err
			}
			c.add(own)
		}
	}
	r.table.figure("interval holds the truth, alone", fmt.Sprintf("%.1f %% of %d", 100*c.share(), c.stated), "93-98 %")
	return missing
}

func (r *run) bleed(ctx context.Context) error {
	cases := []struct {
		level, seconds float64
		target         string
	}{
		{-6, 1, "0.05 / 0.5 / 1.0, taken 0.5 %"},
		{-10, 1, "0.05 / 0.4 / 1.0"},
		{-10, 0.5, "0.1 / 0.8 / 1.5"},
		{-6, 0.5, "-"},
	}
	var c coverage
	var kept []float64
	total := 0
	var missing error
	for _, k := range cases {
		sources, err := r.sources(ctx, k.seconds)
		if err != nil {
			missing = err
		}
		for _, kind := range kinds {
			segments := mixes(sources[kind], k.level, neighbours, 5)
			if len(segments) == 0 {
				continue
			}
			own, err := r.measure(ctx, fmt.Sprintf("%s, neighbour %g dB, %g s", kind, k.level, k.seconds), k.target, segments)
			if err != nil {
				return err
			}
			c.add(own)
			kept = append(kept, own.kept...)
			total += len(segments)
		}
	}
	r.table.figure("interval holds the truth, neighbour", fmt.Sprintf("%.1f %% of %d", 100*c.share(), c.stated), "93-98 %")
	r.table.figure(fmt.Sprintf("kept with an interval within %g", keepCents),
		fmt.Sprintf("%.1f %%, worst %s", 100*float64(len(kept))/float64(max(1, total)), cents(quantile(kept, 1))), "80 %, worst 0.5")
	return missing
}
