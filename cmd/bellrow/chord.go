package main

import (
	"github.com/spf13/cobra"

	"bellrow/cmd/bellrow/chords"
	"bellrow/cmd/bellrow/plain"
	"bellrow/hub/intonation"
	"bellrow/proto/pitch"
)

func chordCommand(e env) *cobra.Command {
	var q intonation.Question
	var tones, name string
	var notes plain.Notes
	var good, watch float64
	var asJSON bool
	c := &cobra.Command{
		Use: "chord --tones NOTE=HZ[@INSTRUMENT[:FINGERING]],... [--chord NAME]", Short: "what is wrong with a chord, and what to move",
		Long: `Judges a chord: where each tone belongs, which pairs beat, what to move.

Notes are concert notes. A plain HZ stands for the note nearest to it. The
usual fingering or position is taken unless one is given, as 1-3 or 4th position.
Without --chord the chord is told from what sounds.`,
		Example: `bellrow chord --tones 116.54,291.35,349.62
bellrow chord --chord "Bb major first inversion" --tones D3=147.6@tenor_trombone_bb,F3=174.8,Bb3=233.1,D4=292@trumpet_bb:3`,
		Args: noWords("options begin with --; put a chord of several words in quotes"),
	}
	text(c, &tones, "tones", "", "what sounds: `NOTE=HZ` with commas between, @INSTRUMENT after a tone to get its moves")
	text(c, &name, "chord", "", "the chord that was called: \"Bb major\", Bb7, Cm7/Eb")
	namesFlag(c, &notes)
	tuningFlag(c, &q.Tuning)
	choice(c, &q.Anchor, "anchor", intonation.AnchorConsensus, "what the chord hangs from: bass, reference or consensus", intonation.AnchorBass, intonation.AnchorReference, intonation.AnchorConsensus)
	referenceFlag(c, &q.Reference)
	within(c, &good, "good", float64(intonation.DefaultGood), 0.1, maxTypedCents, "band within which a tone is set, in `CENTS`", "5 is usual, 10 for schools")
	within(c, &watch, "watch", float64(intonation.DefaultWatch), 0.1, maxTypedCents, "band beyond which a tone is out, in `CENTS`", "twice --good is usual")
	jsonFlag(c, &asJSON)
	c.RunE = func(*cobra.Command, []string) error {
		if watch < good {
			return misused("for example --good 5 --watch 10", "bands of %g and %g cents make no sense", good, watch)
		}
		q.Good, q.Watch = pitch.Cents(good), pitch.Cents(watch)
		answer, err := chords.Judge(q, tones, name, &notes)
		if err != nil {
			return err
		}
		tell(e, &notes)
		if asJSON {
			return plain.JSON(e.stdout, answer.Report())
		}
		return answer.Print(e.stdout)
	}
	return c
}

func tuningFlag(c *cobra.Command, p *intonation.Tuning) {
	choice(c, p, "tuning", intonation.Just, "just, equal, or keyboard where a fixed pitch plays along", intonation.Just, intonation.Equal, intonation.Keyboard)
}
