// Package estimate measures the estimator and the listener against their
// targets, beside reference libraries on the same segments, and prints the
// table that the project's figures are taken from. Nothing at run time needs
// it.
//
// Three kinds of sound: synthetic lip-driven tones with exactly known pitch
// (node/simulate/tone), clean, in noise and as players in a room; notes
// rendered from soundfonts, whose mean pitch is found by another method
// (meanPitch); and mixes of two of either.
package estimate

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"strings"
)

// options are the program's flags.
type options struct {
	n          int    // segments per synthetic case
	only       string // sections to run, comma-separated; empty for all
	peers      bool
	step       int    // every step-th rendered note of each program
	notes      string // folder of recorded notes; empty for the usual one
	rooms      int    // random rooms for each recorded note and condition
	seed       uint64
	speech     string // folder of recorded speech; empty for a synthetic voice
	network    bool   // rooms of delay lines instead of image sources
	compressed bool   // another laptop
}

// Run prints the table. Flags: -n segments per synthetic case, -only sections
// (clean, noise, solo, bleed, gross, octave, onset, cost, ablation, and real for recorded
// notes or one of its parts), -peers=false to leave the reference libraries out,
// -step to take every so-manieth rendered note, -notes another folder of
// recorded notes, -rooms random rooms for each of them, -seed other rooms.
func Run(ctx context.Context, w io.Writer, args []string) error {
	var o options
	fs := flag.NewFlagSet("estimate", flag.ContinueOnError)
	fs.SetOutput(w)
	fs.IntVar(&o.n, "n", 200, "segments in each synthetic case")
	fs.StringVar(&o.only, "only", "", "sections to run, separated by commas: clean, noise, solo, bleed, gross, octave, onset, cost, ablation, real, or of the last only "+strings.Join(realNames(), ", "))
	fs.BoolVar(&o.peers, "peers", true, "measure the reference libraries too")
	fs.IntVar(&o.step, "step", 1, "take every so-manieth rendered note")
	fs.StringVar(&o.notes, "notes", "", "`folder` of recorded notes with manifest.csv; usually "+practiceFolder)
	fs.IntVar(&o.rooms, "rooms", 20, "random rooms for each recorded note")
	fs.Uint64Var(&o.seed, "seed", 1, "of rooms, company and movements")
	fs.StringVar(&o.speech, "speech", "", "`folder` of WAV files with speech; without it espeak-ng speaks")
	fs.BoolVar(&o.network, "network", false, "with real: rooms made by a network of delay lines instead of image sources")
	fs.BoolVar(&o.compressed, "compressed", false, "with real: another laptop, with a resonance and a quick gain")
	if err := fs.Parse(args); err != nil {
		return err
	}
	if o.n < 1 || o.step < 1 || o.rooms < 1 {
		return fmt.Errorf("accuracy: -n %d -step %d -rooms %d, need at least 1", o.n, o.step, o.rooms)
	}
	r := &run{options: o, table: newTable(w)}
	r.methods = []method{ownMethod}
	if o.peers {
		found, why := peers(ctx)
		r.methods = append(r.methods, found...)
		for _, reason := range why {
			r.table.note("left out: " + reason)
		}
	}
	return r.all(ctx)
}

// run is one run of the program.
type run struct {
	options
	table      *table
	methods    []method
	renderings []note // rendered once
	crowd      *crowd // recorded notes and company, read once
}

func (r *run) wants(section string) bool {
	if r.only == "" {
		return true
	}
	for _, s := range strings.Split(r.only, ",") {
		s = strings.TrimSpace(s)
		if s == section || s == "real" && strings.HasPrefix(section, "real-") {
			return true
		}
	}
	return false
}

// section is a part of the table that can be asked for by name.
type section struct {
	name string
	run  func(context.Context) error
}

func (r *run) all(ctx context.Context) error {
	sections := []section{
		{"clean", r.clean}, {"noise", r.noise}, {"solo", r.solo}, {"bleed", r.bleed},
		{"gross", r.gross}, {"octave", r.octave}, {"onset", r.onset}, {"cost", r.cost}, {"ablation", r.ablation},
	}
	for _, s := range realSections {
		sections = append(sections, section{s.name, func(ctx context.Context) error { return s.run(r, ctx) }})
	}
	for _, s := range sections {
		if !r.wants(s.name) {
			continue
		}
		err := s.run(ctx)
		switch {
		case errors.Is(err, errNoSynth):
			r.table.note(s.name + ": rendered notes left out: " + err.Error())
		case errors.Is(err, errNoPractice):
			r.table.note(s.name + " left out: " + err.Error())
		case err != nil:
			return err
		}
		if err := ctx.Err(); err != nil {
			return err
		}
	}
	return r.table.err
}

// rendered renders the notes once.
func (r *run) rendered(ctx context.Context) ([]note, error) {
	if r.renderings == nil {
		notes, err := render(ctx, r.step)
		if err != nil {
			return nil, err
		}
		r.renderings = notes
	}
	return r.renderings, nil
}
