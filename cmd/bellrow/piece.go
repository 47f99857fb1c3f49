package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"strings"

	"bellrow/hub/intonation"
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
	s, err := readScore(e.stdin, set.Arg(0))
	if err != nil {
		return err
	}
	p, err := f.solve(s)
	if err != nil {
		return err
	}
	if f.json {
		enc := json.NewEncoder(e.stdout)
		enc.SetIndent("", "  ")
		return enc.Encode(p.report())
	}
	return p.print(e.stdout)
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

// piece is a score with its answer.
type piece struct {
	score      *score.Score
	sonorities []score.Sonority
	plan       *intonation.Plan // nil when no part is known brass
	instrument map[int]*instrument.Instrument
	players    []int // part of each player in the plan
}

func (f pieceFlags) solve(s *score.Score) (*piece, error) {
	note, err := pitch.ParseNote(f.note)
	if err != nil {
		return nil, misused("for example --note Bb3", "%v", err)
	}
	tuning, err := intonation.ParseTuning(f.tuning)
	if err != nil {
		return nil, misused("just suits brass alone; keyboard is for a piano in the room", "%v", err)
	}
	if !(f.shortest > 0 && f.shortest <= maxShortest) || !(f.good > 0 && f.good <= maxTypedCents) {
		return nil, misused("for example --shortest 1 --good 5", "--shortest %g and --good %g make no sense", f.shortest, f.good)
	}
	p := &piece{score: s}
	if p.instrument, err = f.seats(s); err != nil {
		return nil, err
	}
	shortest := score.Ticks(math.Round(f.shortest * score.TicksPerQuarter))
	if p.sonorities, err = s.Sonorities(max(1, shortest)); err != nil {
		return nil, say("export only the brass parts and try again", "%w", err)
	}
	players := map[int]intonation.Player{}
	for part := range s.Parts {
		if in := p.instrument[part]; in != nil {
			p.players = append(p.players, part)
			players[part] = intonation.Player{Name: s.Parts[part].Name, Instrument: in, OneNote: in.TuningNote(note)}
		}
	}
	if len(players) == 0 {
		return p, nil
	}
	plan, err := s.Solve(players, score.Options{Tuning: tuning, Shortest: max(1, shortest), Good: pitch.Cents(f.good)})
	p.plan = &plan
	return p, err
}

// maxShortest is longer than any held note, in quarter notes.
const maxShortest = 1000

// seats finds the instrument of each part: as typed, or told from its name.
func (f pieceFlags) seats(s *score.Score) (map[int]*instrument.Instrument, error) {
	typed := map[string]instrument.ID{}
	for _, pair := range f.instruments {
		name, id, ok := strings.Cut(pair, "=")
		if !ok {
			return nil, misused("write it as \"Trumpet 1=trumpet_bb\"", "%q does not say which instrument a part has", pair)
		}
		typed[strings.TrimSpace(name)] = instrument.ID(strings.TrimSpace(id))
	}
	found := map[int]*instrument.Instrument{}
	for part, p := range s.Parts {
		id, ok := typed[p.Name]
		if !ok {
			if id, ok = score.Guess(p); !ok {
				continue
			}
		}
		in, err := instrument.Find(id)
		if err != nil {
			return nil, misused("bellrow instruments lists them", "%v", err)
		}
		found[part] = in
		delete(typed, p.Name)
	}
	for name := range typed {
		if !hasPart(s, name) {
			return nil, misused("its parts are "+strings.Join(partNames(s), ", "), "the score has no part %q", name)
		}
	}
	return found, nil
}

func hasPart(s *score.Score, name string) bool {
	for _, p := range s.Parts {
		if p.Name == name {
			return true
		}
	}
	return false
}

func partNames(s *score.Score) []string {
	var names []string
	for _, p := range s.Parts {
		names = append(names, p.Name)
	}
	return names
}

// maxHurts is as many lines of trouble as a page of text should hold; JSON has all.
const maxHurts = 20

func (p *piece) print(w io.Writer) error {
	var b strings.Builder
	if p.score.Title != "" {
		fmt.Fprintln(&b, p.score.Title)
	}
	fmt.Fprintf(&b, "%d parts, %d bars, %d held sonorities\n\n", len(p.score.Parts), len(p.score.Bars), len(p.sonorities))
	for _, x := range p.sonorities {
		fmt.Fprintf(&b, "  bar %-5s %5.2f quarters  %s\n", p.score.Bars[x.Bar].Number, x.Length.Quarters(), p.sonorityName(x))
	}
	fmt.Fprintln(&b)
	p.printPlan(&b)
	for _, r := range p.score.Remarks {
		fmt.Fprintln(&b, r)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func (p *piece) sonorityName(x score.Sonority) string {
	switch len(x.Chords) {
	case 0:
		names := []string{}
		for _, t := range x.Tones {
			names = append(names, t.Note.Display())
		}
		return strings.Join(names, " ")
	case 1:
		return x.Chords[0].Name()
	}
	return x.Chords[0].Name() + ", or " + x.Chords[1].Name()
}

func (p *piece) printPlan(b *strings.Builder) {
	if p.plan == nil {
		fmt.Fprintln(b, "No part is known as brass. Say which with --instrument \"PART=ID\".")
		return
	}
	fmt.Fprintln(b, p.plan.Words)
	for i, pl := range p.plan.Players {
		fmt.Fprintf(b, "  %s (%s): main slide %.0f mm out; %.0f mm by one note alone. %.1f cents remain, %.1f by one note.\n",
			pl.Name, p.instrument[p.players[i]].Name, pl.MainMM, pl.OneNoteMM, pl.RMS, pl.OneNoteRMS)
	}
	if p.plan.Unplayable > 0 {
		fmt.Fprintf(b, "%d tones are out of reach of their instrument and were left out; --instrument changes one.\n", p.plan.Unplayable)
	}
	for i, h := range p.plan.Hurts {
		if i == 0 {
			fmt.Fprintln(b, "Still out, the gravest first:")
		}
		if i == maxHurts {
			fmt.Fprintf(b, "  and %d more; --json has all\n", len(p.plan.Hurts)-maxHurts)
			break
		}
		fmt.Fprintf(b, "  bar %s: %s, %s, %s\n", p.score.Bars[h.Bar].Number, p.plan.Players[h.Player].Name, h.Note.Display(), h.Left.Off())
	}
}

// pieceJSON is the answer for machines.
type pieceJSON struct {
	Title      string          `json:"title,omitempty"`
	Parts      []partJSON      `json:"parts"`
	Bars       int             `json:"bars"`
	Sonorities []sonorityJSON  `json:"sonorities"`
	Plan       *piecePlanJSON  `json:"plan,omitempty"`
	Signs      []pieceSignJSON `json:"signs,omitempty"`
	Remarks    []string        `json:"remarks,omitempty"`
}

type partJSON struct {
	Name          string        `json:"name"`
	Instrument    instrument.ID `json:"instrument,omitempty"`
	Transposition int           `json:"transposition"`
	Notes         int           `json:"notes"`
}

type sonorityJSON struct {
	Bar    string      `json:"bar"`
	Offset float64     `json:"offset_quarters"`
	Length float64     `json:"length_quarters"`
	Tones  []pieceTone `json:"tones"`
	Chords []string    `json:"chords"`
}

type pieceTone struct {
	Part string `json:"part"`
	Note string `json:"note"`
}

type pieceSignJSON struct {
	Bar   string   `json:"bar"`
	Signs []string `json:"signs"`
}

type piecePlanJSON struct {
	OneNoteRMS float64           `json:"one_note_rms_cents"`
	RMS        float64           `json:"rms_cents"`
	Words      string            `json:"words"`
	Players    []piecePlayerJSON `json:"players"`
	Hurts      []pieceHurtJSON   `json:"hurts"`
	Unplayable int               `json:"unplayable"`
}

type piecePlayerJSON struct {
	Name       string  `json:"name"`
	MainMM     float64 `json:"main_mm"`
	OneNoteMM  float64 `json:"one_note_mm"`
	TravelMM   float64 `json:"travel_mm"`
	RMS        float64 `json:"rms_cents"`
	OneNoteRMS float64 `json:"one_note_rms_cents"`
}

type pieceHurtJSON struct {
	Bar  string  `json:"bar"`
	Name string  `json:"name"`
	Note string  `json:"note"`
	Left float64 `json:"left_cents"`
}

func (p *piece) report() pieceJSON {
	out := pieceJSON{Title: p.score.Title, Bars: len(p.score.Bars), Sonorities: []sonorityJSON{}, Remarks: p.score.Remarks}
	for i, part := range p.score.Parts {
		pj := partJSON{Name: part.Name, Transposition: part.Transposition, Notes: len(part.Notes)}
		if in := p.instrument[i]; in != nil {
			pj.Instrument = in.ID
		}
		out.Parts = append(out.Parts, pj)
	}
	for _, bar := range p.score.Bars {
		if len(bar.Signs) > 0 {
			out.Signs = append(out.Signs, pieceSignJSON{bar.Number, bar.Signs})
		}
	}
	for _, x := range p.sonorities {
		sj := sonorityJSON{Bar: p.score.Bars[x.Bar].Number, Offset: x.Offset.Quarters(), Length: x.Length.Quarters(), Chords: []string{}}
		for _, t := range x.Tones {
			sj.Tones = append(sj.Tones, pieceTone{p.score.Parts[t.Part].Name, t.Note.String()})
		}
		for _, c := range x.Chords {
			sj.Chords = append(sj.Chords, c.String())
		}
		out.Sonorities = append(out.Sonorities, sj)
	}
	if p.plan != nil {
		out.Plan = p.planReport()
	}
	return out
}

func (p *piece) planReport() *piecePlanJSON {
	out := &piecePlanJSON{OneNoteRMS: p.plan.OneNoteRMS, RMS: p.plan.RMS, Words: p.plan.Words, Unplayable: p.plan.Unplayable, Hurts: []pieceHurtJSON{}}
	for _, pl := range p.plan.Players {
		out.Players = append(out.Players, piecePlayerJSON{pl.Name, pl.MainMM, pl.OneNoteMM, pl.TravelMM, pl.RMS, pl.OneNoteRMS})
	}
	for _, h := range p.plan.Hurts {
		out.Hurts = append(out.Hurts, pieceHurtJSON{p.score.Bars[h.Bar].Number, p.plan.Players[h.Player].Name, h.Note.String(), hundredths(h.Left)})
	}
	return out
}
