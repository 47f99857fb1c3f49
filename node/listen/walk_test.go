package listen

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"bellrow/node/simulate/tone"
	"bellrow/proto/pitch"
	"bellrow/testdata/golden"
)

// TestWalk writes down what a listener makes of some sounds: when it says what, and the reading, as
// far as the estimate itself does not matter (node/estimate).
func TestWalk(t *testing.T) {
	note := func(c tone.Config) sound {
		if c.F0 == 0 {
			c.F0 = 233.2
		}
		if c.Duration == 0 {
			c.Duration = 1.6
		}
		c.Seed = 7
		return played(t, c)
	}
	room := func(s sound) sound { return under(s, hiss(float64(len(s))/testRate, -72, 3)) }
	quiet := silence(0.4)
	fade := func(s sound, from, to float64) sound { // dB a second
		out := append(sound(nil), s...)
		for i := range out {
			x := float64(i) / testRate
			out[i] *= math.Pow(10, -math.Max(0, x-from)*to/20)
		}
		return out
	}
	step := func(cents pitch.Cents) func(float64) pitch.Cents {
		return func(s float64) pitch.Cents {
			if s > 0.8 {
				return cents
			}
			return 0
		}
	}
	plain := note(tone.Config{})
	loud := append(sound(nil), plain...)
	for i := range loud {
		loud[i] = math.Max(-1, math.Min(1, 40*loud[i]))
	}
	sounds := []struct {
		name string
		s    sound
		call pitch.Hertz
		gap  bool
	}{
		{name: "plain", s: join(quiet, plain, quiet)},
		{name: "two notes", s: join(quiet, plain, silence(0.3), note(tone.Config{F0: 311}), quiet)},
		{name: "slurred", s: join(quiet, note(tone.Config{Path: step(200)}), quiet)},
		{name: "an octave up", s: join(quiet, note(tone.Config{Path: step(1200)}), quiet)},
		{name: "a step of a comma", s: join(quiet, note(tone.Config{Path: step(22)}), quiet)},
		{name: "falls", s: join(quiet, note(tone.Config{Path: func(s float64) pitch.Cents { return pitch.Cents(-25 * s) }}), quiet)},
		{name: "scooped", s: join(quiet, note(tone.Config{Path: func(s float64) pitch.Cents { return pitch.Cents(-60 * math.Exp(-s/0.1)) }}), quiet)},
		{name: "begins sharp", s: join(quiet, note(tone.Config{Path: func(s float64) pitch.Cents { return pitch.Cents(20 * math.Exp(-s/0.25)) }, Duration: 2}), quiet)},
		{name: "vibrato", s: join(quiet, note(tone.Config{VibratoHz: 5.5, VibratoCents: 45, Duration: 2}), quiet)},
		{name: "short", s: join(quiet, note(tone.Config{Duration: 0.35}), quiet)},
		{name: "very short", s: join(quiet, note(tone.Config{Duration: 0.12}), quiet)},
		{name: "soft", s: join(quiet, note(tone.Config{Level: -71}), quiet)},
		{name: "softer than a room", s: room(join(quiet, note(tone.Config{Level: -66}), quiet))},
		{name: "in a room", s: room(join(quiet, plain, quiet))},
		{name: "overloaded", s: join(quiet, loud, quiet)},
		{name: "dies away", s: join(quiet, fade(note(tone.Config{Duration: 2.5}), 1, 25), quiet)},
		{name: "a hiccup", s: join(quiet, plain[:testRate], silence(0.05), plain[testRate:], quiet)},
		{name: "a breath", s: join(quiet, plain[:testRate], silence(0.15), plain, quiet)},
		{name: "under a clap", s: under(join(quiet, plain, quiet), join(silence(1.1), clap(5)))},
		{name: "hum", s: join(quiet, mains(50, 1.5), quiet)},
		{name: "a tick", s: join(quiet, tick(), quiet)},
		{name: "a string", s: join(quiet, piano(233, 4e-4, 1.6), quiet)},
		{name: "speech", s: join(quiet, speech(1.6, 4), quiet)},
		{name: "noise", s: join(quiet, hiss(1, -30, 8), quiet)},
		{name: "called, and played", s: join(quiet, plain, quiet), call: 233.08},
		{name: "called, another played", s: join(quiet, note(tone.Config{F0: 277.2}), quiet), call: 233.08},
		{name: "low", s: join(quiet, note(tone.Config{F0: 58.5, Duration: 2}), quiet)},
		{name: "sound lost", s: join(quiet, plain, quiet), gap: true},
		{name: "cut off", s: join(quiet, plain)},
		{name: "louder notes before", s: join(quiet, plain, silence(0.5), plain, silence(0.5), note(tone.Config{Level: -52}), quiet), call: 311},
	}
	var out strings.Builder
	for _, x := range sounds {
		l, err := New(Config{Rate: testRate, KeepPath: true})
		if err != nil {
			t.Fatal(err)
		}
		l.Call(x.call)
		fmt.Fprintf(&out, "%s\n", x.name)
		tell := func(events []Event) {
			for _, e := range events {
				fmt.Fprintf(&out, "  %.2f s %s enough %t", float64(e.Sample)/testRate, e.State, e.Enough)
				if r := e.Reading; r != nil {
					fmt.Fprintf(&out, ": %s settled %t from %.1f to %.1f s, %.0f cents ± %.0f early %.0f level %.0f peak %.0f floor %.0f clipped %t octave %t other %t vibrato %t path %d", r.Reason, r.Settled, float64(r.Start-r.Onset)/testRate, float64(r.End-r.Onset)/testRate,
						float64(pitch.Between(233.2, max(r.Hz, 1))), float64(r.CI95), float64(r.Early), float64(r.Level), float64(r.Peak), float64(r.Floor), r.Clipped, r.Octave, r.Other, r.Vibrato != nil, (len(r.Path)+5)/10)
				}
				out.WriteString("\n")
			}
		}
		for at := 0; at < len(x.s); at += 4800 {
			if x.gap && at == 48000 {
				l.Gap(9600)
			}
			tell(l.Write(x.s[at:min(len(x.s), at+4800)]))
		}
		tell(l.Flush())
		fmt.Fprintf(&out, "  floor %.0f level %.0f\n", float64(l.Floor()), float64(l.Level()))
	}
	golden.Lines(t, "walk.txt", out.String())
}
