package moves

import (
	"context"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"text/tabwriter"

	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// The trial of called notes that lie off by nature: one such note is called, then B
// flat. What the note does is worked out here by arithmetic, not by the package that
// gives the advice: partials by 1200 log2 n, valves that add a fixed length (T. R.
// Moore, Acoustics Today, Winter 2016), real instruments departing from both.

// natural is a note that lies off by nature.
type natural struct {
	in     instrument.ID
	note   string
	how    string
	theory float64 // cents; by arithmetic
	share  float64 // of the cents of an open note that the main slide does on it
}

// Partial 5 is 13.7 cents flat; exact valves are sharp by 10.6 (1-2), 15.5 (2-3),
// 30.3 (1-3) and 53.6 (1-2-3) cents, and the tube is longer by their factors.
var naturals = []natural{
	{"trumpet_bb", "D5", "open", -13.7, 1}, {"cornet_bb", "D5", "open", -13.7, 1}, {"horn_f", "A3", "open", -13.7, 1},
	{"euphonium_bb_bc", "D4", "open", -13.7, 1}, {"tuba_bbb", "D3", "open", -13.7, 1}, {"tuba_eb", "G3", "open", -13.7, 1},
	{"trumpet_bb", "Db5", "2", -13.7, 0.944}, {"trumpet_bb", "C5", "1", -13.7, 0.891},
	{"trumpet_bb", "D4", "1-2", 12.6, 0.846}, {"trumpet_bb", "Db4", "2-3", 17.5, 0.801}, {"horn_f", "A3", "1-2", 12.6, 0.846},
	{"trumpet_bb", "C4", "1-3", 32.3, 0.762}, {"cornet_bb", "C4", "1-3", 32.3, 0.762}, {"euphonium_bb_bc", "F3", "1-3", 30.3, 0.762}, {"flugelhorn_bb", "C4", "1-3", 32.3, 0.762},
}

// Figures of the trial (invented; those of instruments as hub/slide doubts them).
const (
	leftSD    = 8.0 // cents of an open note that the main slide stands off
	natureSD  = 4.0 // by which an instrument's own partials and valves depart
	attackSD  = 1.5 // from attack to attack
	mostTries = 3   // of one note
)

// TheoryResult counts what came of the note by itself, and with B flat after it.
type TheoryResult struct {
	Rule    string
	Theory  string
	Players int
	// After, by what was called: mean size of what the main slide stands off, in
	// cents; how many chairs stand more than goodCents off; and how many stand
	// more than 2 cents worse than before the note.
	Before, First, Second       float64
	OutBefore, OutFirst, OutEnd int
	Worse                       int
}

// theoryRule answers a note: by how many mm the main slide moves.
type theoryRule func(m *slide.Memory, in slide.Input) float64

// asHeard moves the main slide by what is heard, as somebody does who knows no theory.
func asHeard(_ *slide.Memory, in slide.Input) float64 {
	off := pitch.Between(in.Target, in.Reading.Hz)
	if math.Abs(float64(off)) <= goodCents {
		return 0
	}
	open := instrument.Path{Partial: 4}
	return math.Round(in.Instrument.MoveMM(open, instrument.Main, in.Settings, -off))
}

// byAdvice does what hub/slide says.
func byAdvice(m *slide.Memory, in slide.Input) float64 {
	a, _ := m.Answer(in)
	for _, st := range a.Steps {
		if st.Slide == instrument.Main {
			return st.MM()
		}
	}
	return 0
}

// PlayTheory plays n players for each note, by both rules.
func PlayTheory(ctx context.Context, n int, seed uint64) ([]TheoryResult, error) {
	var out []TheoryResult
	for _, rule := range []struct {
		name string
		rule theoryRule
	}{{"as heard", asHeard}, {"hub/slide", byAdvice}} {
		for _, group := range []struct {
			name     string
			from, to float64
		}{{"fifth partial, -14", -20, -10}, {"two valves, +13 to +18", 10, 20}, {"1-3, +30", 25, 40}} {
			r := TheoryResult{Rule: rule.name, Theory: group.name}
			for i, x := range naturals {
				if x.theory < group.from || x.theory > group.to {
					continue
				}
				if err := ctx.Err(); err != nil {
					return nil, err
				}
				random := rand.New(rand.NewPCG(seed, uint64(i)))
				for range n {
					if err := r.play(x, rule.rule, random); err != nil {
						return nil, err
					}
				}
			}
			k := float64(r.Players)
			r.Before, r.First, r.Second = r.Before/k, r.First/k, r.Second/k
			out = append(out, r)
		}
	}
	return out, nil
}

// player is one of the trial: the main slide stands off cents off.
type theoryPlayer struct {
	in     *instrument.Instrument
	off    float64
	set    instrument.Settings
	memory slide.Memory
	random *rand.Rand
}

// note plays one note until its answer moves nothing more.
func (p *theoryPlayer) note(n pitch.Note, path instrument.Path, theory, share float64, rule theoryRule) {
	target := pitch.Reference{}.Frequency(n)
	for range mostTries {
		heard := p.off*share + theory + attackSD*p.random.NormFloat64()
		mm := rule(&p.memory, slide.Input{Instrument: p.in, Note: n, Path: path, Target: target, Settings: p.set, Good: goodCents, Warm: true, Played: warmedUp,
			Reading: slide.Reading{Hz: target.Shift(pitch.Cents(heard)), CI95: 1.96 * attackSD, Spread: 2, Level: -20, Settled: true, Played: warmedUp}})
		if mm == 0 {
			return
		}
		from := p.in.MM(p.set, instrument.Main)
		p.memory.Moved(p.in, p.set, instrument.Main, from, from+mm)
		p.off -= mm * p.centsPerMM()
		p.set = instrument.Settings{instrument.Main: from + mm}
	}
}

// centsPerMM is what a millimetre of the main slide takes from an open note: two
// legs on a tube of c/(2 f1).
func (p *theoryPlayer) centsPerMM() float64 {
	main, _ := p.in.Slide(instrument.Main)
	tube := 1000 * 343.2 / (2 * float64(p.in.Fundamental))
	return 1200 / math.Ln2 * float64(main.Legs) / tube
}

func (r *TheoryResult) play(x natural, rule theoryRule, random *rand.Rand) error {
	in, err := instrument.Find(x.in)
	if err != nil {
		return err
	}
	n, err := pitch.ParseNote(x.note)
	if err != nil {
		return err
	}
	path, err := instrument.ParsePath(x.how)
	if err == nil {
		path, err = in.Resolve(path, n)
	}
	if err != nil {
		return err
	}
	p := &theoryPlayer{in: in, off: leftSD * random.NormFloat64(), random: random, set: instrument.Settings{instrument.Main: in.MM(nil, instrument.Main)}}
	count := func(sum *float64, out *int) {
		*sum += math.Abs(p.off)
		if math.Abs(p.off) > goodCents {
			*out++
		}
	}
	r.Players++
	before := math.Abs(p.off)
	count(&r.Before, &r.OutBefore)
	p.note(n, path, x.theory+natureSD*random.NormFloat64(), x.share, rule)
	count(&r.First, &r.OutFirst)
	if math.Abs(p.off) > before+2 {
		r.Worse++
	}
	b, way, _ := in.TuningWay(pitch.A4 + 1)
	p.note(b, way, 0, 1, rule)
	count(&r.Second, &r.OutEnd)
	return nil
}

// printTheory writes the table.
func printTheory(w io.Writer, rs []TheoryResult) error {
	tw := tabwriter.NewWriter(w, 0, 8, 2, ' ', 0)
	fmt.Fprintln(tw, "rule\tcalled note\tplayers\toff before\tafter it\tafter B flat\toutside before\tafter it\tafter B flat\tmade worse by it")
	for _, r := range rs {
		share := func(n int) string { return fmt.Sprintf("%.1f %%", 100*float64(n)/float64(r.Players)) }
		fmt.Fprintf(tw, "%s\t%s\t%d\t%.1f\t%.1f\t%.1f\t%s\t%s\t%s\t%s\n", r.Rule, r.Theory, r.Players, r.Before, r.First, r.Second,
			share(r.OutBefore), share(r.OutFirst), share(r.OutEnd), share(r.Worse))
	}
	return tw.Flush()
}
