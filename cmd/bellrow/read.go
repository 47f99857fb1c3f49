package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"

	"github.com/spf13/cobra"

	"bellrow/cmd/bellrow/plain"
	"bellrow/node/capture"
	"bellrow/node/listen"
	"bellrow/proto/pitch"
)

// wholeSeconds bounds what --whole takes into memory at once: longer than any
// breath, and 46 MB at 48 kHz.
const wholeSeconds = 120

// reader is the read command: readings from sound files.
type reader struct {
	json, whole bool
	reference   pitch.Reference
	clockPPM    float64
	picture     *picture // nil without one
	out, said   io.Writer
}

// readLine is one reading of `read --json`.
type readLine struct {
	File    string          `json:"file"`
	OnsetS  float64         `json:"onset_s"`
	StartS  float64         `json:"start_s"`
	EndS    float64         `json:"end_s"`
	Hz      float64         `json:"hz"`
	CI95    float64         `json:"ci95_cents"`
	Spread  float64         `json:"spread_cents"`
	Drift   float64         `json:"drift_cents_per_s"`
	Level   float64         `json:"level_dbfs"`
	Early   float64         `json:"early_cents"`
	Note    string          `json:"note"`  // nearest equal-tempered note, empty without a pitch
	Cents   float64         `json:"cents"` // from that note, positive is sharp
	Settled bool            `json:"settled"`
	Reason  string          `json:"reason"` // empty when settled
	Clipped bool            `json:"clipped,omitempty"`
	Octave  bool            `json:"octave_in_doubt,omitempty"`
	Vibrato *listen.Vibrato `json:"vibrato,omitempty"`
	RateHz  float64         `json:"rate_hz"`
}

func readCommand(e env) *cobra.Command {
	r := reader{out: e.stdout, said: e.stderr}
	var drawn string
	var force bool
	c := &cobra.Command{
		Use: "read FILE...", Short: "settled readings from sound files",
		Long: "Reads the settled pitches of the notes in WAV or FLAC files.",
		Example: `bellrow read note.wav
bellrow read --json --a4 442 note.wav
bellrow read --picture note.svg note.wav`,
		Args: takes(1, many, "file", "for example: bellrow read note.wav"),
	}
	text(c, &drawn, "picture", "", "draw level, pitch and reading of each note to this `FILE`, whose name ends in .svg")
	flag(c, &force, "force", "with --picture: replace the file if it is there")
	c.Flags().BoolVar(&r.json, "json", false, "print one JSON object per reading and line")
	flag(c, &r.whole, "whole", "take each whole file as one settled stretch, for measuring")
	within(c, &r.clockPPM, "clock-ppm", 0, 0, 1000, "how far the recorder's clock may be out, in parts per million (one standard `DEVIATION`); 0 takes the file's rate as exact", "100 is usual for a laptop")
	referenceFlag(c, &r.reference)
	c.RunE = func(c *cobra.Command, paths []string) (err error) {
		ctx := c.Context()
		switch err := needs(c, "force", "picture"); {
		case err != nil:
			return err
		case drawn == "":
			return r.files(ctx, e, paths)
		case r.whole:
			return misused("leave one out", "--picture draws how a note was found, which --whole does not ask for")
		}
		if r.picture, err = newPicture(drawn, force); err != nil {
			return err
		}
		err = r.files(ctx, e, paths)
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if failed := r.picture.save(); failed != nil {
			return failed
		}
		return err
	}
	return c
}

// files reads one file after the other. What goes wrong with one is said at
// once and does not keep the next from being read.
func (r *reader) files(ctx context.Context, e env, paths []string) error {
	var failed error
	bad := 0
	for _, path := range paths {
		err := r.file(ctx, path)
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if err == nil {
			continue
		}
		if failed, bad = err, bad+1; len(paths) > 1 {
			plain.Print(e.stderr, "bellrow read", err)
		}
	}
	if bad > 0 && len(paths) > 1 {
		return fmt.Errorf("%d of %d files gave no reading or ended early", bad, len(paths))
	}
	return failed
}

func (r *reader) file(ctx context.Context, path string) error {
	src, err := openSound(path)
	if err != nil {
		return err
	}
	defer src.Close()
	config := listen.Config{Rate: src.Info().Rate, ClockPPM: r.clockPPM, KeepPath: r.picture != nil}
	if config.ClockPPM == 0 {
		config.ClockPPM = -1 // exact
	}
	if r.whole {
		err = r.measure(ctx, path, src, config)
	} else {
		err = r.listen(ctx, path, src, config)
	}
	return hintedFile(err)
}

// listen prints a reading for each note. It holds a few blocks in memory.
func (r *reader) listen(ctx context.Context, path string, src capture.Source, c listen.Config) error {
	l, err := listen.New(c)
	if err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	r.picture.begin(path, c.Rate)
	found, pitched, peak, eaten := 0, 0, 0.0, false
	print := func(events []listen.Event) error {
		for _, ev := range events {
			if ev.Eaten && !eaten {
				eaten = true
				plain.Print(r.said, "bellrow read", say("if you held it and did not play softer, switch off noise suppression, echo cancellation and automatic level for this microphone, and record again", "%s: a held note was taken for noise and turned down", path))
			}
			if ev.Reading == nil {
				continue
			}
			found++
			if ev.Reading.Hz.Valid() {
				pitched++
			}
			r.picture.note(*ev.Reading)
			if err := r.print(path, c.Rate, *ev.Reading); err != nil {
				return err
			}
		}
		return nil
	}
	for {
		b, err := src.Read(ctx)
		if err != nil {
			if perr := print(l.Flush()); perr != nil {
				return perr
			}
			err = r.ended(path, err, found, pitched, peak)
			r.picture.end(r.reference, err)
			return err
		}
		r.picture.hear(b.Samples, b.Lost)
		for _, x := range b.Samples {
			peak = max(peak, math.Abs(x))
		}
		if b.Lost > 0 {
			l.Gap(b.Lost)
		}
		if err := print(l.Write(b.Samples)); err != nil {
			return err
		}
	}
}

// ended says what a file without a reading held. found notes were printed, pitched
// of them with a pitch.
func (r *reader) ended(path string, err error, found, pitched int, peak float64) error {
	switch {
	case errors.Is(err, capture.ErrTruncated) && pitched > 0:
		return say("the readings up to there are good; copy or record the file again for the rest", "%w", err)
	case !errors.Is(err, io.EOF):
		return err
	case pitched > 0:
		return nil
	case found > 0:
		return say("hold one note for two seconds, close to the microphone and in a quiet room", "%s: no note in it has a pitch", path)
	case peak == 0:
		return say("check that the right microphone was recorded", "%s: the file is silent", path)
	default:
		return say("hold one note for two seconds, or measure with --whole",
			"%s: no held note found, the loudest sample is %.0f dBFS", path, 20*math.Log10(peak))
	}
}

// measure prints one reading of the whole file.
func (r *reader) measure(ctx context.Context, path string, src capture.Source, c listen.Config) error {
	var all []float64
	limit := int(wholeSeconds * c.Rate)
	for {
		b, err := src.Read(ctx)
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return err
		}
		if all = append(all, b.Samples...); len(all) > limit {
			return say("cut the stretch to be measured out of it", "%s: --whole takes at most %d s", path, wholeSeconds)
		}
	}
	reading := listen.Whole(all, c)
	if !reading.Hz.Valid() {
		return say("--whole needs a steady note from start to end", "%s: no pitch found in it", path)
	}
	return r.print(path, c.Rate, reading)
}

func (r *reader) print(path string, rate float64, g listen.Reading) error {
	line := r.line(path, rate, g)
	if r.json {
		return json.NewEncoder(r.out).Encode(line)
	}
	_, err := fmt.Fprintln(r.out, r.text(line, g))
	return err
}

func (r *reader) line(path string, rate float64, g listen.Reading) readLine {
	s := func(sample int64) float64 { return float64(sample) / rate }
	line := readLine{
		File: path, OnsetS: s(g.Onset), StartS: s(g.Start), EndS: s(g.End),
		Hz: float64(g.Hz), CI95: float64(g.CI95), Spread: float64(g.Spread), Drift: g.Drift,
		Level: float64(g.Level), Early: float64(g.Early),
		Settled: g.Settled, Reason: string(g.Reason),
		Clipped: g.Clipped, Octave: g.Octave, Vibrato: g.Vibrato, RateHz: rate,
	}
	if g.Hz.Valid() {
		note, cents := r.reference.Nearest(g.Hz)
		line.Note, line.Cents = note.String(), float64(cents)
	}
	return line
}

// text is a reading for people: when, which note, how far off, how sure.
func (r *reader) text(l readLine, g listen.Reading) string {
	when := fmt.Sprintf("%s  %6.2f to %6.2f s", l.File, l.StartS, l.EndS)
	if !g.Hz.Valid() {
		return fmt.Sprintf("%s  no pitch: %s", when, l.Reason)
	}
	note, cents := r.reference.Nearest(g.Hz)
	verdict := "settled"
	switch {
	case g.Octave:
		verdict = "octave in doubt"
	case !g.Settled:
		verdict = "unsettled: " + l.Reason
	}
	return fmt.Sprintf("%s  %-4s %s  ± %.2f  %9.3f Hz  %4.0f dBFS  %s",
		when, note.Display(), offText(float64(cents)), max(l.CI95, 0.01), l.Hz, l.Level, verdict)
}

// offText says cents in words: sharp and flat are what players say.
func offText(cents float64) string {
	switch c := math.Round(cents*10) / 10; {
	case c > 0:
		return fmt.Sprintf("%4.1f cents sharp", c)
	case c < 0:
		return fmt.Sprintf("%4.1f cents flat ", -c)
	default:
		return "  in tune       "
	}
}
