package attribute

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"path/filepath"

	"bellrow/hub/attribute"
	"bellrow/node/capture"
	"bellrow/node/partials"
	"bellrow/node/simulate/room"
	"bellrow/proto/pitch"
)

// Sound that none of the simulated players' code made: notes from files, each
// shifted by up to 15 cents, mixed in the simulated room. A note's true pitch
// is what the fit finds in it dry and alone, over the same window. Notes that
// are not read alone are left out: sound fonts record some instruments as
// sections, and several players have no one pitch.

// recordedNotes are the notes of a tuning B flat looked for in the folder.
var recordedNotes = []pitch.Note{46, 58, 70}

// lowest is the reference of the tracks.
var lowest = pitch.Reference{}.Frequency(recordedNotes[0])

// recordedChairs is the size of the section mixed from files.
const recordedChairs = 4

// sampled plays a recording at another speed, by cubic interpolation: at 48
// kHz its error lies below −60 dB for what tracks carry.
type sampled struct {
	x        []float64
	at, step float64
}

func (s *sampled) Read(dst []float64) {
	for i := range dst {
		n := int(s.at)
		dst[i] = 0
		if n >= 1 && n+2 < len(s.x) {
			dst[i] = cubic(s.x[n-1], s.x[n], s.x[n+1], s.x[n+2], s.at-float64(n))
		}
		s.at += s.step
	}
}

// cubic is Catmull and Rom's spline between b and c.
func cubic(a, b, c, d, t float64) float64 {
	return b + t/2*(c-a+t*(2*a-5*b+4*c-d+t*(3*(b-c)+d-a)))
}

// note is one recording.
type note struct {
	midi pitch.Note
	x    []float64
	rate float64
}

func readNotes(ctx context.Context, dir string) ([]note, error) {
	var out []note
	for _, n := range recordedNotes {
		names, err := filepath.Glob(filepath.Join(dir, fmt.Sprintf("*_%d.wav", n)))
		if err != nil {
			return nil, err
		}
		for _, name := range names {
			w, err := capture.OpenWAV(name)
			if err != nil {
				return nil, err
			}
			x, err := readAll(ctx, w)
			if err != nil {
				return nil, err
			}
			out = append(out, note{n, x, w.Info().Rate})
		}
	}
	return out, nil
}

// hasOnePitch tells whether the note is read when alone and dry.
func (n note) hasOnePitch(seconds float64) (bool, error) {
	c, err := chairOf(n.x, n.midi, 0, n.rate)
	if err != nil {
		return false, err
	}
	r := attribute.Fit(attribute.Input{Start: begin, End: begin + seconds, Chairs: []attribute.Chair{c}})
	return r.Chairs[0].Verdict == attribute.Sounding, nil
}

func readAll(ctx context.Context, s capture.Source) ([]float64, error) {
	defer s.Close()
	var x []float64
	for {
		b, err := s.Read(ctx)
		if errors.Is(err, io.EOF) {
			return x, nil
		}
		if err != nil {
			return nil, err
		}
		x = append(x, b.Samples...)
	}
}

// recorded mixes sections from files.
func (p plan) recorded(ctx context.Context, w io.Writer) error {
	all, err := readNotes(ctx, p.notes)
	if err != nil {
		return err
	}
	var notes []note
	for _, n := range all {
		one, err := n.hasOnePitch(p.seconds)
		if err != nil {
			return err
		}
		if one {
			notes = append(notes, n)
		}
	}
	if len(notes) < recordedChairs {
		return fmt.Errorf("accuracy: %d notes %v of one pitch in %s, need %d", len(notes), recordedNotes, p.notes, recordedChairs)
	}
	fmt.Fprintf(w, "%d of %d notes from files have one pitch; sections of %d of them, window %g s\n", len(notes), len(all), recordedChairs, p.seconds)
	for _, rt := range rooms {
		var t tally
		scenes := max(1, p.readings/(len(rooms)*recordedChairs))
		for i := range scenes {
			if err := ctx.Err(); err != nil {
				return err
			}
			take, err := p.mix(notes, rt, p.seed<<16+uint64(i))
			if err != nil {
				return err
			}
			t.add(&take, attribute.Fit(take.Input))
		}
		fmt.Fprintf(w, "RT60 %.1f s: %d of %d read; error median %.3f, 95 %% %.3f, worst %.2f cents; %d wrong; truth inside the interval %.0f %%\n",
			rt, t.read, t.playing, t.joint.quantile(0.5), t.joint.quantile(0.95), t.joint.quantile(1), t.wrong, 100*float64(t.inside)/max(1, float64(t.read)))
	}
	return nil
}

// mix seats notes drawn at random.
func (p plan) mix(notes []note, rt float64, seed uint64) (Take, error) {
	rng := rand.New(rand.NewPCG(seed, 0x6d6978))
	s := Scene{Chairs: recordedChairs, RT60: rt, Seconds: p.seconds, PPM: p.ppm, Rate: 48000, Seed: seed}
	cfg := s.room(rng)
	t := Take{Rate: s.Rate, Input: attribute.Input{Start: begin, End: begin + s.Seconds}}
	var wet []room.Stream
	var cast []note
	var steps []float64
	for range s.Chairs {
		n := notes[rng.IntN(len(notes))]
		cast = append(cast, n)
		steps = append(steps, n.rate/s.Rate*math.Exp2((30*rng.Float64()-15)/1200))
		wet = append(wet, &sampled{x: n.x, step: steps[len(steps)-1]})
	}
	heard, err := s.hear(cfg, wet)
	if err != nil {
		return t, err
	}
	for i, n := range cast {
		m := cfg.Mics[i]
		chair, err := chairOf(heard[i], n.midi, m.Start+0.002*rng.NormFloat64(), s.Rate)
		if err != nil {
			return t, err
		}
		chair.ID, chair.PPMError = int64(i+1), s.PPM
		t.Input.Chairs = append(t.Input.Chairs, chair)
		t.Bytes = append(t.Bytes, 0)

		dry := cfg
		dry.RT60, dry.Mode, dry.Seats, dry.Mics = 0, room.Live, cfg.Seats[i:i+1], make([]room.Mic, 1)
		alone, err := s.hear(dry, []room.Stream{&sampled{x: n.x, step: steps[i]}})
		if err != nil {
			return t, err
		}
		c, err := chairOf(alone[0], n.midi, 0, s.Rate)
		if err != nil {
			return t, err
		}
		hz, ok := likeliest(attribute.Input{Start: t.Input.Start, End: t.Input.End, Chairs: []attribute.Chair{c}})
		t.Truth = append(t.Truth, Truth{Playing: ok, Hz: hz})
	}
	return t, nil
}

// likeliest is the likeliest pitch of the only chair of in.
func likeliest(in attribute.Input) (pitch.Hertz, bool) {
	all := attribute.Candidates(in)
	if len(all[0]) == 0 {
		return 0, false
	}
	return in.Chairs[0].Expected.Shift(all[0][0].Cents), true
}

// hear is what the microphones hear until a little after the window.
func (s Scene) hear(cfg room.Config, streams []room.Stream) ([][]float64, error) {
	r, err := room.New(cfg, streams)
	if err != nil {
		return nil, err
	}
	heard := make([][]float64, len(streams))
	for i := range heard {
		heard[i] = make([]float64, int((begin+s.Seconds+tail)*s.Rate))
	}
	r.Read(heard)
	return heard, nil
}

func chairOf(x []float64, n pitch.Note, zero, rate float64) (attribute.Chair, error) {
	c := attribute.Chair{Expected: pitch.Reference{}.Frequency(n), Able: true, Zero: zero, ClockError: 0.005}
	e, err := partials.New(partials.Config{Rate: rate, Reference: lowest})
	if err != nil {
		return c, err
	}
	c.Chunks, _, err = sent(e, x)
	return c, err
}
