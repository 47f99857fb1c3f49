// Package moves plays whole tune-ups against simulated sections and counts
// what slide advice is worth: rounds and minutes until the section is in tune
// with relaxed embouchures, moves, moves the wrong way, and who is accused of
// holding the pitch.
//
// Three policies meet the same players with the same seeds: bellrow's advice
// (hub/slide), players who bend to a meter, and the naive rule, a nominal
// number of millimetres per cent from every single reading.
//
// Bellrow's rounds are played by a real hub: what is asked of whom, how often and
// when is what the program does. A round is one call: one pass over the chairs
// in which each has its turn of a few notes, see slide.Turn. For a fair
// comparison the naive rule is played with one note and with as many notes in a
// turn as bellrow may ask for.
//
//	go run ./cmd/proof moves
//
// It is a trial, not part of the program: the one place where hub/slide and
// the simulated players of node meet.
package moves

import (
	"context"
	"flag"
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"text/tabwriter"
)

// Config of a trial.
type Config struct {
	Sections int    // random sections
	Chairs   int    // players in each
	Rounds   int    // after which a tune-up is given up
	Seed     uint64 // of the first section; the others follow
	Population
}

// DefaultConfig is the trial as reported.
var DefaultConfig = Config{Sections: 200, Chairs: 12, Rounds: 8, Seed: 1, Population: DefaultPopulation}

// goodCents is in tune for the trial, and goodShare the share of the chairs
// that must be for the section to be.
const (
	goodCents = 5.0
	goodShare = 0.95
)

// Result is what one policy did over all sections.
type Result struct {
	Policy   string
	Sections int
	// Rounds and Minutes of each section until goodShare of its chairs were in
	// tune; infinite for a section that never was.
	Rounds, Minutes []float64
	// InTuneAfter2 is the share of chairs in tune after two rounds, over all.
	InTuneAfter2 float64
	// Left is the breakdown of those chairs that were not: by each thing that
	// makes a chair hard, how many had it, and how many of them were left out.
	Left map[string]Share
	// Moves per player, and those that went the wrong way.
	Moves, WrongWay, Players int
	// Notes asked of each player in the first two rounds, on average and at most.
	Notes     float64
	MostNotes int
	// MinutesOf2 is how long two rounds take, on average.
	MinutesOf2 float64
	// Innocent players whose moves were judged, and those of them accused of
	// holding. Holders who held after a judged move: those named as such, and
	// those missed, who were never even asked for a fresh attack.
	Innocent, Accused, Holders, Named, Missed int
}

// Share is so many out of so many.
type Share struct{ N, Of int }

// Within returns the share of sections in tune within so many rounds.
func (r Result) Within(rounds float64) float64 {
	n := 0
	for _, x := range r.Rounds {
		if x <= rounds {
			n++
		}
	}
	return float64(n) / float64(len(r.Rounds))
}

// quantile of values that may be infinite.
func quantile(x []float64, q float64) float64 {
	s := slices.Clone(x)
	slices.Sort(s)
	return s[min(len(s)-1, int(math.Ceil(q*float64(len(s)))-1))]
}

// Play runs all policies over the same sections.
func Play(ctx context.Context, c Config) ([]Result, error) {
	var out []Result
	for _, p := range policies {
		r := Result{Policy: p.name, Sections: c.Sections, Left: map[string]Share{}}
		for i := range c.Sections {
			if err := ctx.Err(); err != nil {
				return nil, err
			}
			s, err := newSection(c.Seed+uint64(i), c.Chairs, c.Population)
			if err != nil {
				return nil, err
			}
			r.Players += c.Chairs
			round, err := p.play(ctx, s)
			if err != nil {
				return nil, err
			}
			if err := tuneUp(s, &r, c.Rounds, round); err != nil {
				return nil, err
			}
		}
		r.InTuneAfter2 /= float64(r.Players)
		r.Notes /= float64(r.Players)
		r.MinutesOf2 /= float64(r.Sections)
		out = append(out, r)
	}
	return out, nil
}

// tuneUp plays rounds until the section is in tune, and two at least.
func tuneUp(s *section, r *Result, most int, play func() error) error {
	rounds, minutes := math.Inf(1), math.Inf(1)
	for round := 1; round <= most; round++ {
		if err := play(); err != nil {
			return err
		}
		in := s.inTune()
		if round == 2 {
			r.afterTwo(s, in)
		}
		if math.IsInf(rounds, 1) && float64(in) >= goodShare*float64(len(s.chairs)) {
			rounds, minutes = float64(round), s.seconds/60
		}
		if round >= 2 && !math.IsInf(rounds, 1) {
			break
		}
	}
	r.Rounds, r.Minutes = append(r.Rounds, rounds), append(r.Minutes, minutes)
	for _, c := range s.chairs {
		c.count(r)
	}
	return nil
}

// afterTwo counts how a section stands after two rounds.
func (r *Result) afterTwo(s *section, inTune int) {
	r.InTuneAfter2 += float64(inTune)
	r.MinutesOf2 += s.seconds / 60
	for _, c := range s.chairs {
		r.Notes += float64(c.notes)
		r.MostNotes = max(r.MostNotes, c.notes)
		habits := c.habits
		if len(habits) == 0 {
			habits = []string{plain}
		}
		for _, h := range habits {
			x := r.Left[h]
			x.Of++
			if !c.good() {
				x.N++
			}
			r.Left[h] = x
		}
	}
}

// Run plays the trial as args say and prints its table.
func Run(ctx context.Context, w io.Writer, args []string) error {
	c := DefaultConfig
	fs := flag.NewFlagSet("moves", flag.ContinueOnError)
	fs.SetOutput(w)
	fs.IntVar(&c.Sections, "sections", c.Sections, "random sections")
	fs.IntVar(&c.Chairs, "chairs", c.Chairs, "players in each section")
	fs.IntVar(&c.Rounds, "rounds", c.Rounds, "rounds after which a tune-up is given up")
	fs.Uint64Var(&c.Seed, "seed", c.Seed, "seed of the first section")
	fs.Float64Var(&c.Pinchers, "pinchers", c.Pinchers, "share of players who pinch")
	fs.Float64Var(&c.Holders, "holders", c.Holders, "share of players who hold the pitch")
	fs.Float64Var(&c.Drifters, "drifters", c.Drifters, "share of players who slide away")
	fs.Float64Var(&c.Late, "late", c.Late, "share of players who come with a cold instrument")
	fs.Float64Var(&c.Wrong, "wrong", c.Wrong, "share of players who begin with a wrong note")
	if err := fs.Parse(args); err != nil {
		return err
	}
	if c.Sections < 1 || c.Chairs < 1 || c.Rounds < 2 {
		return fmt.Errorf("trial: %d sections of %d over %d rounds, need at least one of one over two", c.Sections, c.Chairs, c.Rounds)
	}
	results, err := Play(ctx, c)
	if err != nil {
		return err
	}
	return report(w, c, results)
}

func report(w io.Writer, c Config, results []Result) error {
	fmt.Fprintf(w, "%d sections of %d players, seeds %d to %d, up to %d rounds\n\n", c.Sections, c.Chairs, c.Seed, c.Seed+uint64(c.Sections)-1, c.Rounds)
	tw := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	row := func(name string, value func(Result) string) {
		fmt.Fprint(tw, name)
		for _, r := range results {
			fmt.Fprint(tw, "\t", value(r))
		}
		fmt.Fprintln(tw)
	}
	row("", func(r Result) string { return r.Policy })
	row("sections in tune within 2 rounds", func(r Result) string { return percent(r.Within(2)) })
	row("sections in tune at all", func(r Result) string { return percent(r.Within(float64(c.Rounds))) })
	row("rounds, median", func(r Result) string { return finite(quantile(r.Rounds, 0.5), "%.0f") })
	row("rounds, 90 % of sections", func(r Result) string { return finite(quantile(r.Rounds, 0.9), "%.0f") })
	row("minutes, median", func(r Result) string { return finite(quantile(r.Minutes, 0.5), "%.1f") })
	row("chairs in tune after 2 rounds", func(r Result) string { return percent(r.InTuneAfter2) })
	row("minutes of 2 rounds", func(r Result) string { return fmt.Sprintf("%.1f", r.MinutesOf2) })
	row("notes per player in 2 rounds", func(r Result) string { return fmt.Sprintf("%.1f, at most %d", r.Notes, r.MostNotes) })
	row("slide moves per player", func(r Result) string { return fmt.Sprintf("%.2f", float64(r.Moves)/float64(r.Players)) })
	row("moves the wrong way", func(r Result) string { return share(r.WrongWay, r.Moves) })
	row("wrongly accused of holding", func(r Result) string { return share(r.Accused, r.Innocent) })
	row("holders named", func(r Result) string { return share(r.Named, r.Holders) })
	row("holders missed", func(r Result) string { return share(r.Missed, r.Holders) })
	fmt.Fprintln(tw, "\nnot in tune after 2 rounds, of those with")
	for _, h := range slices.Sorted(maps.Keys(results[0].Left)) {
		row("  "+h, func(r Result) string { return share(r.Left[h].N, r.Left[h].Of) })
	}
	return tw.Flush()
}

func percent(x float64) string { return fmt.Sprintf("%.1f %%", 100*x) }

func finite(x float64, form string) string {
	if math.IsInf(x, 1) {
		return "never"
	}
	return fmt.Sprintf(form, x)
}

func share(n, of int) string {
	if of == 0 {
		return "-"
	}
	return fmt.Sprintf("%s (%d of %d)", percent(float64(n)/float64(of)), n, of)
}
