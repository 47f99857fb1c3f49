package main

import (
	"io"

	"github.com/spf13/cobra"

	"bellrow/cmd/bellrow/advise"
	"bellrow/cmd/bellrow/plain"
	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

func adviseCommand(e env) *cobra.Command {
	var t advise.Typed
	var cents, ci, good, temperature float64
	var readings string
	var asJSON bool
	c := &cobra.Command{
		Use: "advise --instrument ID --cents N | --readings FILE", Short: "the slide move for readings typed or read",
		Long: `Says which slide to move, which way and how many millimetres.

FILE holds one note a line, "NOTE CENTS [FINGERING]", for example "Bb4 +12" or
"C4 +20 1-3", or the lines of "bellrow read --json". Notes are concert notes.`,
		Example: `bellrow advise --instrument trumpet_bb --cents 12 --setting main=12
bellrow advise --instrument tenor_trombone_bb --note D4 --position 4 --cents 15 --chord
bellrow advise --instrument trumpet_bb --readings notes.txt`,
		Args: noWords("options begin with --; for example --cents 12"),
	}
	instrumentFlag(c, &t.Instrument, "`ID` from bellrow instruments")
	noteFlag(c, &t.Note, "note", "", "the concert `NOTE` that was called; the instrument's tuning B flat when left out (F for horns)")
	noteFlag(c, &t.Written, "written", "", "the note as written for this instrument, instead of --note")
	text(c, &t.Fingering, "fingering", "", "how it was played: open, 1-3, \"Bb side 2\"; the usual way when left out")
	text(c, &t.Position, "position", "", "the hand-slide position: 4, \"F 6\"")
	within(c, &cents, "cents", 0, -maxTypedCents, maxTypedCents, "where the note settled, in `CENTS`: positive is sharp", "cents run from -50 to +50 between neighbouring notes")
	within(c, &ci, "ci", advise.TypedCI, 0, 100, "how far --cents may be off, in `CENTS`", "2 is usual for a settled note")
	text(c, &readings, "readings", "", "several notes from a `FILE`, - for standard input")
	c.Flags().StringArrayVar(&t.Settings, "setting", nil, "where a slide stands, `SLIDE=MM` out; may be repeated")
	c.Flags().StringArrayVar(&t.Travel, "travel", nil, "how far a slide really goes, `SLIDE=MM`; may be repeated")
	within(c, &temperature, "temperature", instrument.DefaultAir.TemperatureC, -10, 45, "temperature of the air in the room, in °`C`", "it is the room's, in °C")
	referenceFlag(c, &t.Reference)
	within(c, &good, "good", float64(slide.DefaultGood), 1, 50, "what counts as in tune, in `CENTS`", "5 is usual, 10 for schools")
	flag(c, &t.Chord, "chord", "the note is a chord tone: leave the main slide")
	flag(c, &t.FSideFirst, "f-side-first", "double horn: set the main slide on the F side")
	jsonFlag(c, &asJSON)
	c.RunE = func(c *cobra.Command, _ []string) error {
		given := c.Flags().Changed
		if err := first(oneOf(c, "cents", "readings"), oneOf(c, "note", "written"), oneOf(c, "fingering", "position"),
			needs(c, "ci", "cents"), needs(c, "note", "cents"), needs(c, "written", "cents"), needs(c, "fingering", "cents"),
			needs(c, "position", "cents"), needs(c, "chord", "cents"), needs(c, "f-side-first", "readings")); err != nil {
			return err
		}
		switch {
		case t.Instrument == nil:
			return misused("bellrow instruments lists them; for example --instrument trumpet_bb", "no instrument was named")
		case !given("cents") && !given("readings"):
			return misused("for example --cents 12 for 12 cents sharp, --cents -8 for 8 flat", "no reading was given")
		}
		t.Good = pitch.Cents(good)
		if given("temperature") {
			t.Air = instrument.DefaultAir
			t.Air.TemperatureC = temperature
		}
		a, err := advise.New(t)
		if err != nil {
			return err
		}
		answer := a.One(pitch.Cents(cents), pitch.Cents(ci))
		if given("readings") {
			err = withFile(e, readings, func(r io.Reader) (err error) {
				answer, err = a.Several(readings, r)
				return err
			})
		}
		switch {
		case err != nil:
			return err
		case asJSON:
			return plain.JSON(e.stdout, answer)
		}
		_, err = io.WriteString(e.stdout, answer.Text())
		return err
	}
	return c
}
