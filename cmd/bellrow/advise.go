package main

import (
	"io"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"bellrow/cmd/bellrow/advise"
	"bellrow/cmd/bellrow/plain"
	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

func adviseCommand(e env) *cobra.Command {
	var t advise.Typed
	var cents, ci, good, vibrato float64
	var readings, section, temperature string
	var asJSON bool
	c := &cobra.Command{
		Use: "advise --instrument ID --cents N | --readings FILE | --section FILE", Short: "the slide move for readings typed or read",
		Long: `Says which slide to move, which way and how many millimetres.

FILE holds one note a line, "NOTE CENTS [FINGERING]", for example "Bb4 +12" or
"C4 +20 1-3", or the lines of "bellrow read --json". Notes are concert notes. With
--section a line is one player, "INSTRUMENT NOTE CENTS [SLIDE=MM ...]": what all
have in common is told apart from what is each one's own.`,
		Example: `bellrow advise --instrument trumpet_bb --cents 12 --setting main=12
bellrow advise --instrument tenor_trombone_bb --note D4 --position 4 --cents 15 --chord
bellrow advise --instrument trumpet_bb --note F4 --cents 9 --also "Bb4 +12" --also "A4 +10 2"
bellrow advise --instrument trumpet_bb --readings notes.txt`,
		Args: noWords("options begin with --; for example --cents 12"),
	}
	instrumentFlag(c, &t.Instrument, "`ID` from bellrow instruments")
	t.Notes = new(plain.Notes)
	names := namesFlag(c, t.Notes)
	names.flag(c, &t.Note, "note", "", "the concert `NOTE` that was called; the instrument's tuning B flat when left out (F for horns)")
	names.flag(c, &t.Written, "written", "", "the note as written for this instrument, instead of --note")
	text(c, &t.Fingering, "fingering", "", "how it was played: open, 1-3, \"Bb side 2\"; the usual way when left out")
	text(c, &t.Position, "position", "", "the hand-slide position: 4, \"F 6\"")
	within(c, &cents, "cents", 0, -maxTypedCents, maxTypedCents, "where the note settled, in `CENTS`: positive is sharp", "cents run from -50 to +50 between neighbouring notes")
	within(c, &ci, "ci", advise.TypedCI, 0, 100, "how far --cents may be off, in `CENTS`", "2 is usual for a settled note")
	within(c, &vibrato, "vibrato", 0, 0, 200, "extent of a vibrato in the reading, peak to peak in `CENTS`", "leave it out for a straight note")
	c.Flags().StringArrayVar(&t.Also, "also", nil, "another note of the same tune-up, `\"NOTE CENTS [FINGERING]\"`; may be repeated")
	text(c, &t.Mute, "mute", "", "what was in the bell: straight, cup, stopped or other")
	text(c, &section, "section", "", "the players of a section from a `FILE`, - for standard input")
	text(c, &readings, "readings", "", "several notes from a `FILE`, - for standard input")
	c.Flags().StringArrayVar(&t.Settings, "setting", nil, "where a slide stands, `SLIDE=MM` out; may be repeated")
	c.Flags().StringArrayVar(&t.Travel, "travel", nil, "how far a slide really goes, `SLIDE=MM`; may be repeated")
	text(c, &temperature, "temperature", "", "the room, in °`C` or with F: 21, 70F")
	referenceFlag(c, &t.Reference)
	within(c, &good, "good", float64(slide.DefaultGood), 1, 50, "what counts as in tune, in `CENTS`", "5 is usual, 10 for schools")
	flag(c, &t.Chord, "chord", "the note is a chord tone: leave the main slide")
	flag(c, &t.FSideFirst, "f-side-first", "double horn: set the main slide on the F side")
	jsonFlag(c, &asJSON)
	c.RunE = func(c *cobra.Command, _ []string) error {
		given := c.Flags().Changed
		if err := first(oneOf(c, "cents", "readings", "section"), oneOf(c, "note", "written"), oneOf(c, "fingering", "position"),
			needs(c, "ci", "cents"), needs(c, "note", "cents"), needs(c, "written", "cents"), needs(c, "fingering", "cents"),
			needs(c, "position", "cents"), needs(c, "chord", "cents"), needs(c, "vibrato", "cents"), needs(c, "also", "cents"), needs(c, "mute", "cents")); err != nil {
			return err
		}
		if err := names.read(); err != nil {
			return err
		}
		defer func() { tell(e, names.Notes) }()
		t.Good = pitch.Cents(good)
		if err := roomAir(&t, temperature); err != nil {
			return err
		}
		if section != "" {
			return adviseSection(e, section, t, asJSON)
		}
		switch {
		case t.Instrument == nil:
			return misused("bellrow instruments lists them; for example --instrument trumpet_bb", "no instrument was named")
		case !given("cents") && !given("readings"):
			return misused("for example --cents 12 for 12 cents sharp, --cents -8 for 8 flat", "no reading was given")
		}
		t.Vibrato = pitch.Cents(vibrato)
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

// roomAir reads the temperature of the room into the air; nothing typed leaves it.
func roomAir(t *advise.Typed, typed string) error {
	if typed == "" {
		return nil
	}
	c, err := instrument.ParseRoom(typed)
	if err == nil {
		_, err = instrument.EveningAt(c)
	}
	if err != nil {
		return misused("write the room as 21, 21C or 70F", "a temperature of %s makes no sense in a rehearsal", typed)
	}
	t.Air = instrument.DefaultAir
	t.Air.TemperatureC = c
	bare, err := strconv.ParseFloat(typed, 64)
	t.Fahrenheit = strings.ContainsAny(typed, "fF") || err == nil && bare != c
	return nil
}

// adviseSection answers a section's readings of one note.
func adviseSection(e env, file string, t advise.Typed, asJSON bool) error {
	return withFile(e, file, func(r io.Reader) error {
		s, err := advise.ReadSection(file, r, t)
		switch {
		case err != nil:
			return err
		case asJSON:
			return plain.JSON(e.stdout, s)
		}
		_, err = io.WriteString(e.stdout, s.Text())
		return err
	})
}
