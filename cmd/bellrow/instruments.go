package main

import (
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"bellrow/cmd/bellrow/advise"
	"bellrow/cmd/bellrow/plain"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

func instrumentsCommand(e env) *cobra.Command {
	var asJSON bool
	var names plain.Notes
	c := &cobra.Command{
		Use: "instruments [ID]", Short: "the instruments and their slides",
		Long: "Lists the instruments, or the slides of one.",
		Example: `bellrow instruments
bellrow instruments horn_double`,
		Args: takes(0, 1, "instrument", "name one instrument, or none for the list"), ValidArgsFunction: completeInstruments,
	}
	jsonFlag(c, &asJSON)
	namesFlag(c, &names)
	c.RunE = func(_ *cobra.Command, words []string) error {
		list := instrument.Band()
		if len(words) > 0 {
			in, err := findInstrument(words[0])
			if err != nil {
				return err
			}
			list = []*instrument.Instrument{in}
		}
		switch {
		case asJSON:
			return plain.JSON(e.stdout, list)
		case len(words) > 0:
			return printInstrument(e.stdout, list[0], names.Style)
		}
		return printInstruments(e.stdout, list, names.Style)
	}
	return c
}

func printInstruments(w io.Writer, list []*instrument.Instrument, y pitch.Style) error {
	rows := [][]string{{"ID", "NAME", "TUNING NOTE", "SLIDES"}}
	for _, in := range list {
		n := advise.TuningNote(in)
		rows = append(rows, []string{string(in.ID), in.Name, y.Both(pitch.Usual(n)) + ", written " + y.Both(pitch.Usual(in.Written(n))), advise.SlideIDs(in)})
	}
	return plain.Table(w, rows...)
}

func printInstrument(w io.Writer, in *instrument.Instrument, y pitch.Style) error {
	fmt.Fprintf(w, "%s (%s)\n", in.Name, in.ID)
	fmt.Fprintf(w, "sounds %s to %s, written in %s clef %s\n", y.Both(pitch.Usual(in.Low)), y.Both(pitch.Usual(in.High)), in.Clef, transposes(in.Transposition))
	if !in.Tuned() {
		_, err := fmt.Fprintf(w, "no slide: readings count for the overview and for chords, and nobody is told millimetres\n%s\n", in.Source)
		return err
	}
	fmt.Fprintf(w, "air path %.3f m, c/(2 f1)\n\n", in.Length(openPath(in), nil, instrument.Air{}))
	rows := [][]string{{"SLIDE", "NAME", "USUALLY", "TRAVEL"}}
	for _, s := range in.Slides {
		row := []string{string(s.ID), s.Name, "", ""}
		if s.Legs > 0 {
			row[2], row[3] = fmt.Sprintf("%.0f mm out", s.UsualMM), fmt.Sprintf("%.0f mm", s.TravelMM)
		}
		rows = append(rows, row)
	}
	if err := plain.Table(w, rows...); err != nil {
		return err
	}
	_, err := fmt.Fprintf(w, "\nTravel varies by maker: measure both ends once.\n%s\n", in.Source)
	return err
}

// openPath is the instrument with nothing pressed and the hand slide in.
func openPath(in *instrument.Instrument) instrument.Path {
	p := instrument.Path{Partial: 1}
	if in.HandSlide {
		p.Position = 1
	}
	if in.Double {
		p.Side = "F"
	}
	return p
}

func transposes(semitones int) string {
	switch {
	case semitones == 0:
		return "as it sounds"
	case semitones < 0:
		return fmt.Sprintf("%d semitones above the sound", -semitones)
	}
	return fmt.Sprintf("%d semitones below the sound", semitones)
}
