package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"bellrow/proto/instrument"
)

func runInstruments(_ context.Context, e env, args []string) error {
	fs := flagSet(e, "instruments", "[--json] [ID]\n\nLists the instruments, or the slides of one.")
	asJSON := fs.Bool("json", false, "print JSON")
	if err := parse(fs, args); err != nil {
		return err
	}
	list := instrument.Catalogue()
	if fs.NArg() > 0 {
		in, err := findInstrument(fs.Arg(0))
		if err != nil {
			return err
		}
		list = []*instrument.Instrument{in}
	}
	switch {
	case fs.NArg() > 1:
		return misused("name one instrument, or none for the list", "%d instruments were named", fs.NArg())
	case *asJSON:
		return json.NewEncoder(e.stdout).Encode(list)
	case fs.NArg() == 1:
		return printInstrument(e.stdout, list[0])
	}
	return printInstruments(e.stdout, list)
}

func printInstruments(w io.Writer, list []*instrument.Instrument) error {
	tw := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(tw, "ID\tNAME\tTUNING NOTE\tSLIDES")
	for _, in := range list {
		n := tuningNote(in)
		fmt.Fprintf(tw, "%s\t%s\t%s, written %s\t%s\n", in.ID, in.Name, n.Display(), in.Written(n).Display(), slideIDs(in))
	}
	return tw.Flush()
}

func printInstrument(w io.Writer, in *instrument.Instrument) error {
	fmt.Fprintf(w, "%s (%s)\n", in.Name, in.ID)
	fmt.Fprintf(w, "sounds %s to %s, written in %s clef %s\n", in.Low.Display(), in.High.Display(), in.Clef, transposes(in.Transposition))
	fmt.Fprintf(w, "air path %.3f m, c/(2 f1)\n\n", in.Length(instrument.Path{Partial: 1, Position: first(in), Side: openSide(in)}, nil, instrument.Air{}))
	tw := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(tw, "SLIDE\tNAME\tUSUALLY\tTRAVEL")
	for _, s := range in.Slides {
		if s.Legs == 0 {
			fmt.Fprintf(tw, "%s\t%s\t\t\n", s.ID, s.Name)
			continue
		}
		fmt.Fprintf(tw, "%s\t%s\t%.0f mm out\t%.0f mm\n", s.ID, s.Name, s.UsualMM, s.TravelMM)
	}
	if err := tw.Flush(); err != nil {
		return err
	}
	_, err := fmt.Fprintf(w, "\nTravel varies by maker: measure both ends once.\n%s\n", in.Source)
	return err
}

func first(in *instrument.Instrument) float64 {
	if in.HandSlide {
		return 1
	}
	return 0
}

func openSide(in *instrument.Instrument) string {
	if in.Double {
		return "F"
	}
	return ""
}

func transposes(semitones int) string {
	switch {
	case semitones == 0:
		return "as it sounds"
	case semitones < 0:
		return fmt.Sprintf("%d semitones above the sound", -semitones)
	}
	return strings.TrimSpace(fmt.Sprintf("%d semitones below the sound", semitones))
}
