package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strings"

	"bellrow/hub/intonation"
	"bellrow/hub/piece"
	"bellrow/hub/score"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

const pieceSynopsis = `[options] FILE.musicxml

Lists what is held in each bar of a MusicXML score (.musicxml, .xml or .mxl),
and finds the one main-slide setting per player that serves the whole piece.
Instruments are told from the names of the parts. - reads standard input.`

// pieceFlags holds the command line as typed.
type pieceFlags struct {
	note, tuning string
	instruments  slideFlag // PART=ID
	shortest     float64
	good         float64
	json         bool
}

func runPiece(_ context.Context, e env, args []string) error {
	var f pieceFlags
	set := flagSet(e, "piece", pieceSynopsis)
	set.StringVar(&f.note, "note", "Bb3", "concert tuning note that the plan is compared with")
	set.StringVar(&f.tuning, "tuning", string(intonation.Just), "just, equal, or keyboard where a fixed pitch plays along")
	set.Var(&f.instruments, "instrument", "PART=ID, the instrument of a part by its name; may be repeated")
	set.Float64Var(&f.shortest, "shortest", score.Held.Quarters(), "shortest sonority that counts, in quarter notes")
	set.Float64Var(&f.good, "good", float64(intonation.DefaultGood), "band beyond which a bar is said to hurt, in cents")
	set.BoolVar(&f.json, "json", false, "print JSON")
	if err := parse(set, args); err != nil {
		return err
	}
	if set.NArg() != 1 {
		return misused("for example bellrow piece chorale.musicxml", "%d files, need one", set.NArg())
	}
	q, typed, err := f.question()
	if err != nil {
		return err
	}
	s, err := readScore(e.stdin, set.Arg(0))
	if err != nil {
		return err
	}
	p, err := piece.New(s, piece.Quarters(f.shortest))
	if err != nil {
		return say("--shortest counts shorter notes, too; a score that is too dense is exported with only the brass parts", "%w", err)
	}
	p, chairs, err := p.EveryPart(typed)
	if err != nil {
		return misused("bellrow instruments lists the instruments", "%v", err)
	}
	var plan *piece.Plan // none when no part is known brass
	if q.Players = p.AsBuilt(chairs, q.Note); len(q.Players) > 0 {
		found, err := p.Plan(q)
		if err != nil {
			return err
		}
		plan = &found
	}
	if f.json {
		return printJSON(e.stdout, p.Report(chairs, plan))
	}
	return printPiece(e.stdout, p.View(chairs), plan)
}

// maxShortest is longer than any held note, in quarter notes.
const maxShortest = 1000

// question reads what was typed.
func (f pieceFlags) question() (q piece.Question, typed map[string]instrument.ID, err error) {
	if q.Note, err = pitch.ParseNote(f.note); err != nil {
		return q, nil, misused("for example --note Bb3", "%v", err)
	}
	if q.Tuning, err = intonation.ParseTuning(f.tuning); err != nil {
		return q, nil, misused("just suits brass alone; keyboard is for a piano in the room", "%v", err)
	}
	if !(f.shortest > 0 && f.shortest <= maxShortest) || !(f.good > 0 && f.good <= maxTypedCents) {
		return q, nil, misused("for example --shortest 1 --good 5", "--shortest %g and --good %g make no sense", f.shortest, f.good)
	}
	q.Good = pitch.Cents(f.good)
	typed = map[string]instrument.ID{}
	for _, pair := range f.instruments {
		name, id, ok := strings.Cut(pair, "=")
		if !ok {
			return q, nil, misused("write it as \"Trumpet 1=trumpet_bb\"", "%q does not say which instrument a part has", pair)
		}
		typed[strings.TrimSpace(name)] = instrument.ID(strings.TrimSpace(id))
	}
	return q, typed, nil
}

func readScore(stdin io.Reader, path string) (*score.Score, error) {
	r := stdin
	if path != "-" {
		f, err := os.Open(path)
		if errors.Is(err, fs.ErrNotExist) {
			return nil, say("check the name of the file", "there is no file %q", path)
		}
		if err != nil {
			return nil, err
		}
		defer f.Close()
		r = f
	}
	s, err := score.Read(r)
	for cause, hint := range map[error]string{
		score.ErrNotMusicXML: "export the score again as MusicXML (.musicxml or .mxl)",
		score.ErrTooBig:      "export only the brass parts and try again",
		score.ErrForbidden:   "a score needs no declarations of its own; export it again, and be wary of where it came from",
	} {
		if errors.Is(err, cause) {
			return nil, say(hint, "%s: %w", path, err)
		}
	}
	return s, err
}

// maxHurts is as many bars of trouble as a page of text should hold; JSON has all.
const maxHurts = 20

func printPiece(w io.Writer, v piece.View, plan *piece.Plan) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n%d parts, %d bars, %d held sonorities\n\n", v.Title, len(v.Parts), v.Bars, len(v.Chords))
	for _, c := range v.Chords {
		fmt.Fprintf(&b, "  bar %-5s %s (%s)\n", c.Bar, strings.Join(append([]string{c.Name}, c.Others...), ", or "), c.When)
	}
	fmt.Fprintln(&b)
	if plan == nil {
		fmt.Fprintln(&b, "No part is known as brass. Say which with --instrument \"PART=ID\".")
	} else {
		printPlan(&b, v, plan)
	}
	for _, r := range v.Remarks {
		fmt.Fprintln(&b, r)
	}
	_, err := io.WriteString(w, b.String())
	return err
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
