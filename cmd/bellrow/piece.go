package main

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"bellrow/cmd/bellrow/plain"
	"bellrow/hub/intonation"
	"bellrow/hub/piece"
	"bellrow/hub/score"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

func pieceCommand(e env) *cobra.Command {
	var q piece.Question
	var style plain.Notes
	var shortest, good float64
	var asJSON bool
	typed := map[string]instrument.ID{}
	c := &cobra.Command{
		Use: "piece FILE.musicxml", Short: "a score: its held chords and one main-slide setting for all of it",
		Long: `Lists what is held in each bar of a MusicXML score (.musicxml, .xml or .mxl),
and finds the one main-slide setting per player that serves the whole piece.
Instruments are told from the names of the parts. - reads standard input.`,
		Example: `bellrow piece chorale.musicxml
bellrow piece --note F3 --instrument "Trumpet 1=cornet_bb" --json chorale.musicxml`,
		Args: takes(1, 1, "file", "for example bellrow piece chorale.musicxml"),
	}
	names := namesFlag(c, &style)
	names.flag(c, &q.Note, "note", "Bb3", "concert tuning `NOTE` that the plan is compared with")
	tuningFlag(c, &q.Tuning)
	taken(c, "instrument", "PART=ID", "", "the instrument of a part by its name, `PART=ID`; may be repeated", func(s string) error {
		name, id, ok := strings.Cut(s, "=")
		if !ok {
			return misused("write it as \"Trumpet 1=trumpet_bb\"", "it does not say which instrument a part has")
		}
		typed[strings.TrimSpace(name)] = instrument.ID(strings.TrimSpace(id))
		return nil
	})
	within(c, &shortest, "shortest", score.Held.Quarters(), 0.01, maxShortest, "shortest sonority that counts, in quarter `NOTES`", "1 is usual")
	within(c, &good, "good", float64(intonation.DefaultGood), 0.1, maxTypedCents, "band beyond which a bar is said to hurt, in `CENTS`", "5 is usual, 10 for schools")
	jsonFlag(c, &asJSON)
	c.RunE = func(_ *cobra.Command, words []string) error {
		if err := names.read(); err != nil {
			return err
		}
		tell(e, names.Notes)
		q.Notes = style.Style
		s, err := readScore(e, words[0])
		if err != nil {
			return err
		}
		p, err := piece.New(s, piece.Quarters(shortest))
		if err != nil {
			return say("--shortest counts shorter notes, too; a score that is too dense is exported with only the brass parts", "%w", err)
		}
		p, chairs, err := p.EveryPart(typed)
		if err != nil {
			return misused("bellrow instruments lists the instruments", "%v", err)
		}
		q.Good = pitch.Cents(good)
		var plan *piece.Plan // none when no part is known brass
		if q.Players = p.AsBuilt(chairs, q.Note); len(q.Players) > 0 {
			found, err := p.Plan(q)
			if err != nil {
				return err
			}
			plan = &found
		}
		if asJSON {
			return plain.JSON(e.stdout, p.Report(chairs, plan))
		}
		return printPiece(e.stdout, p.View(chairs, q.Notes), plan)
	}
	return c
}

func readScore(e env, path string) (s *score.Score, err error) {
	err = withFile(e, path, func(r io.Reader) error {
		s, err = score.Read(r)
		for cause, hint := range map[error]string{
			score.ErrNotMusicXML: "export the score again as MusicXML (.musicxml or .mxl)",
			score.ErrTooBig:      "export only the brass parts and try again",
			score.ErrForbidden:   "a score needs no declarations of its own; export it again, and be wary of where it came from",
		} {
			if errors.Is(err, cause) {
				return say(hint, "%s: %w", path, err)
			}
		}
		return err
	})
	return s, err
}

// namesOf are the names of a chord.
func namesOf(c piece.Chord) []string {
	all := []string{c.Name}
	for _, o := range c.Others {
		all = append(all, o.Label)
	}
	return all
}

// maxHurts is as many bars of trouble as a page of text should hold; JSON has all.
const maxHurts = 20

func printPiece(w io.Writer, v piece.View, plan *piece.Plan) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n%d parts, %d bars, %d held sonorities\n\n", v.Title, len(v.Parts), v.Bars, len(v.Chords))
	for _, c := range v.Chords {
		fmt.Fprintf(&b, "  bar %-5s %s (%s)\n", c.Bar, strings.Join(namesOf(c), ", or "), c.When)
	}
	fmt.Fprintln(&b)
	if plan == nil {
		fmt.Fprintln(&b, "No part is known as brass. Say which with --instrument \"PART=ID\".")
	} else {
		printPlan(&b, v, plan)
	}
	for _, p := range v.Parts {
		if len(p.Could) > 0 && p.Said == "" {
			fmt.Fprintf(&b, "%s could be %s. Say which: --instrument \"%s=%s\".\n", p.Name, couldBe(p.Could), p.Name, p.Could[len(p.Could)-1].ID)
		}
	}
	for _, r := range v.Remarks {
		fmt.Fprintln(&b, r)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// couldBe lists instruments with their IDs; a few tell.
func couldBe(all []piece.Could) string {
	const few = 3
	var names []string
	for _, c := range all[:min(few, len(all))] {
		names = append(names, fmt.Sprintf("a %s (%s)", strings.ToLower(c.Name[:1])+c.Name[1:], c.ID))
	}
	if len(all) > few {
		return strings.Join(names, ", ") + " or another"
	}
	return strings.Join(names, " or ")
}

func printPlan(b *strings.Builder, v piece.View, plan *piece.Plan) {
	of := map[int64]string{}
	for _, s := range v.Seats {
		of[s.Chair] = s.Instrument
	}
	fmt.Fprintln(b, plan.Words)
	for _, pl := range plan.Players {
		fmt.Fprintf(b, "  %s (%s): %s. %s.\n", pl.Label, of[pl.Chair], pl.Words, pl.Gain)
	}
	for i, h := range plan.Hurts {
		if i == 0 {
			fmt.Fprintln(b, "Still out:")
		}
		if i == maxHurts {
			fmt.Fprintf(b, "  and %d more bars; --json has all\n", len(plan.Hurts)-maxHurts)
			break
		}
		fmt.Fprintf(b, "  bar %s: %s\n", h.Bar, strings.Join(h.Words, "; "))
	}
	for _, r := range plan.Remarks {
		fmt.Fprintln(b, r)
	}
}
