// Package chords measures how well chords are inferred, on simulated groups.
// Its figures back what hub/intonation claims; nothing at run time needs it.
package chords

import (
	"context"
	"flag"
	"fmt"
	"io"
	"math/rand/v2"
	"slices"
	"text/tabwriter"

	"bellrow/hub/intonation"
	"bellrow/proto/pitch"
)

// Case is one kind of simulated group.
type Case struct {
	Chairs int
	// Error is the largest error of one chair, uniform either way; Group the
	// largest offset of the group as a whole.
	Error, Group pitch.Cents
	Tuning       intonation.Tuning
}

// Tally counts outcomes.
type Tally struct {
	Chords    int
	Right     int // one answer, and the right one
	Ambiguous int // several answers, the right one among them
	Wrong     int // the right one not among the answers
	Named     int // answers given in all ambiguous cases together
}

// Share is the part that is right or honestly ambiguous.
func (t Tally) Share() float64 {
	if t.Chords == 0 {
		return 0
	}
	return float64(t.Right+t.Ambiguous) / float64(t.Chords)
}

// Infer simulates n chords of a case: any root, quality and inversion, tones
// doubled as Spread does, every chair off by its own error.
func Infer(c Case, n int, seed uint64) Tally {
	rng := rand.New(rand.NewPCG(seed, uint64(c.Chairs)))
	parts := Group(c.Chairs)
	tally := Tally{Chords: n}
	for range n {
		truth := randomChord(rng)
		found := intonation.Infer(c.play(truth, parts, rng), pitch.Reference{})
		tally.count(truth, found)
	}
	return tally
}

func (t *Tally) count(truth intonation.Chord, found []intonation.Candidate) {
	among := slices.ContainsFunc(found, func(f intonation.Candidate) bool { return f.Chord == truth })
	switch {
	case !among:
		t.Wrong++
	case len(found) == 1:
		t.Right++
	default:
		t.Ambiguous++
		t.Named += len(found)
	}
}

func randomChord(rng *rand.Rand) intonation.Chord {
	c := intonation.Chord{Root: rng.IntN(12), Quality: intonation.Qualities[rng.IntN(len(intonation.Qualities))]}
	c.Inversion = rng.IntN(len(c.Tones()))
	return c
}

// play sounds a chord with errors. A seventh of a dominant chord is any of
// the three, for the listener is not told which.
func (c Case) play(truth intonation.Chord, parts []intonation.Part, rng *rand.Rand) []intonation.Reading {
	sounding := truth
	if sounding.Valid() == nil && rng.IntN(3) > 0 {
		sounding.Seventh = intonation.Melodic
		if sounding.Valid() != nil {
			sounding.Seventh = intonation.Harmonic
		}
	}
	tones := intonation.Spread(truth, parts)
	aim := intonation.Targets(sounding, tones, c.Tuning, intonation.AnchorReference, nil, pitch.Reference{})
	group := spread(rng, c.Group)
	var out []intonation.Reading
	for _, p := range parts {
		hz := aim.Targets[p.Chair].Hz.Shift(group + spread(rng, c.Error))
		out = append(out, intonation.Reading{Hz: hz, CI95: 2})
	}
	return out
}

func spread(rng *rand.Rand, most pitch.Cents) pitch.Cents {
	return most * pitch.Cents(2*rng.Float64()-1)
}

// Group is an invented brass group of n chairs, from trumpets to a tuba.
func Group(n int) []intonation.Part {
	kinds := []intonation.Part{ // usual sounding ranges
		{Low: 28, High: 60}, {Low: 52, High: 82}, {Low: 40, High: 70}, {Low: 47, High: 77},
	}
	parts := make([]intonation.Part, n)
	for i := range parts {
		parts[i] = kinds[i%len(kinds)]
		if i%len(kinds) == 0 && i > 0 {
			parts[i] = kinds[1] // one tuba is enough
		}
		parts[i].Chair, parts[i].Rank = intonation.Chair(i+1), i/len(kinds)+1
	}
	return parts
}

// Cases are the rows of the table.
func Cases() []Case {
	var cases []Case
	for _, chairs := range []int{5, 8, 12} {
		for _, tuning := range []intonation.Tuning{intonation.Just, intonation.Equal} {
			cases = append(cases, Case{chairs, 10, 0, tuning}, Case{chairs, 25, 0, tuning}, Case{chairs, 25, 10, tuning})
		}
	}
	return cases
}

// Run prints the inference table.
func Run(ctx context.Context, w io.Writer, args []string) error {
	fs := flag.NewFlagSet("chords", flag.ContinueOnError)
	fs.SetOutput(w)
	n := fs.Int("n", 1000, "simulated chords in each row")
	seed := fs.Uint64("seed", 1, "random seed")
	if err := fs.Parse(args); err != nil {
		return err
	}
	tw := tabwriter.NewWriter(w, 0, 8, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(tw, "chairs\ttuning\terror c\tgroup c\tright\tcould be\tnames\twrong\tright or ambiguous\t")
	for _, c := range Cases() {
		if err := ctx.Err(); err != nil {
			return err
		}
		t := Infer(c, *n, *seed)
		names := 0.0
		if t.Ambiguous > 0 {
			names = float64(t.Named) / float64(t.Ambiguous)
		}
		fmt.Fprintf(tw, "%d\t%s\t±%g\t±%g\t%d\t%d\t%.1f\t%d\t%.1f %%\t\n",
			c.Chairs, c.Tuning, float64(c.Error), float64(c.Group), t.Right, t.Ambiguous, names, t.Wrong, 100*t.Share())
	}
	return tw.Flush()
}
