package estimate

import (
	"context"
	"errors"
	"io"
	"math"

	"bellrow/node/capture"
	"bellrow/node/listen"
	"bellrow/proto/pitch"
)

// A trial is one recording that the node's listener hears, and the truth
// about the note in it.
type trial struct {
	name     string
	source   capture.Source
	on, off  float64 // where the note sounds, seconds of the recording
	call     pitch.Hertz
	truth    func(from, to float64) float64 // mean pitch in Hz over seconds of the recording
	end      float64                        // Hz where the note ends; 0 unless it moves
	practice *practice
}

// newListener is the listener that a recording is given to, with an exact
// clock as `bellrow read` has it. call is the note asked for, 0 without one.
func newListener(hz float64, call pitch.Hertz) (*listen.Listener, error) {
	l, err := listen.New(listen.Config{Rate: hz, ClockPPM: -1})
	if err == nil {
		l.Call(call)
	}
	return l, err
}

// otherNote is the reason of a reading that is not of the called note.
const otherNote listen.Reason = "other-note"

// outcome is what became of a trial.
type outcome struct {
	read      bool
	reason    listen.Reason // of the refusal; "nothing" when there was no note at all
	off       float64       // cents from the truth over its own stretch
	half      float64       // half width of the interval
	vibrato   bool
	another   bool    // not taken for the called note
	eaten     bool    // a program was said to take the note for noise
	end       float64 // cents from the reading to the note's end
	truth, hz float64
	stretch   [2]float64
}

// octave reports a reading in another octave or on another note.
func (o outcome) octave() bool { return o.read && math.Abs(o.off) > grossCents }

// wrong reports a reading that is off beyond its interval by more than
// excuse.
func (o outcome) wrong() bool { return o.read && math.Abs(o.off) > o.half+excuse }

// excuse is how far beyond its interval, in cents, a reading may be: a slide
// is not set finer by ear.
const excuse = 3.0

// nothing is the reason where the listener heard no note.
const nothing listen.Reason = "nothing"

// hear gives the trial's recording to the listener as `bellrow read` does and
// returns the outcome of the note: its settled reading if there is one, else
// the refusal that covers most of it. Readings that lie mostly outside the
// note are other people's.
func (t trial) hear(ctx context.Context) (outcome, error) {
	readings, eaten, err := listened(ctx, t.source, t.call)
	if err != nil {
		return outcome{}, err
	}
	hz := t.source.Info().Rate
	best, found := outcome{reason: nothing}, 0.0
	for _, r := range readings {
		from, to := float64(r.Start)/hz, float64(r.End)/hz
		inside := min(to, t.off) - max(from, t.on)
		if inside <= (to-from)/2 {
			continue
		}
		o := t.judge(r, from, to)
		// A second settled reading of the same note counts if it is the worse.
		switch {
		case o.read && (!best.read || math.Abs(o.off)-o.half > math.Abs(best.off)-best.half),
			o.read == best.read && !o.read && inside > found:
			best, found = o, inside
		}
	}
	best.eaten = eaten
	return best, nil
}

func (t trial) judge(r listen.Reading, from, to float64) outcome {
	o := outcome{
		read: r.Settled, reason: r.Reason, half: float64(r.CI95), vibrato: r.Vibrato != nil,
		truth: t.truth(from, to), hz: float64(r.Hz), stretch: [2]float64{from, to},
	}
	if r.Hz.Valid() {
		o.off = float64(pitch.Between(pitch.Hertz(o.truth), r.Hz))
		if t.end > 0 {
			o.end = float64(pitch.Between(r.Hz, pitch.Hertz(t.end)))
		}
		o.another = t.call > 0 && math.Abs(float64(pitch.Between(t.call, r.Hz))) > 100
	}
	o.another = o.another || r.Reason == otherNote
	return o
}

// listened returns the readings of a source, and whether a program was said to take what
// was held for noise, and closes it.
func listened(ctx context.Context, src capture.Source, call pitch.Hertz) (all []listen.Reading, eaten bool, err error) {
	defer src.Close()
	l, err := newListener(src.Info().Rate, call)
	if err != nil {
		return nil, false, err
	}
	keep := func(events []listen.Event) {
		for _, e := range events {
			eaten = eaten || e.Eaten
			if e.Reading != nil {
				all = append(all, *e.Reading)
			}
		}
	}
	for {
		b, err := src.Read(ctx)
		if errors.Is(err, io.EOF) {
			keep(l.Flush())
			return all, eaten, nil
		}
		if err != nil {
			return nil, false, err
		}
		if b.Lost > 0 {
			l.Gap(b.Lost)
		}
		keep(l.Write(b.Samples))
	}
}
