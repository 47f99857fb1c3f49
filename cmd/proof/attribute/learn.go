package attribute

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"math"
	"slices"

	"bellrow/cmd/proof/estimate"
	"bellrow/hub/attribute"
)

// Figures of learning.
const (
	rightCents  = 2.5 // a pitch so near its chair's is right
	silentTimes = 4.0 // how often a chair counts that does not play
	learnRidge  = 2.0
	folds       = 6
	agreeing    = 1.0 // log odds that a second window must give, as hub/attribute asks for
)

// learned is a chair of a row that weights are learned from.
type learned struct {
	row  int
	all  []attribute.Candidate
	off  []float64 // of each, cents; NaN where the chair is silent
	odds []float64 // as learned from other rows
}

// learnWeights plays p.learn rows of each source, kind, size and room and prints the weights
// of hub/attribute that they speak for, with what is read in folds that have not seen the row.
func (p plan) learnWeights(ctx context.Context, w io.Writer) error {
	chairs, tallies, err := p.rowsToLearn(ctx)
	if err != nil {
		return err
	}
	for known, chairs := range chairs {
		for fold := range folds {
			weights, err := weightsOf(chairs, func(row int) bool { return row%folds != fold })
			if weights == nil {
				return err
			}
			for _, c := range chairs {
				if c.row%folds == fold {
					c.odds = nil
					for _, x := range c.all {
						c.odds = append(c.odds, oddsOf(weights, x.Facts))
					}
				}
			}
		}
		fmt.Fprintf(w, "%s: %s\n", rowKinds[known].name, &tallies[known])
		report(w, "as they are", chairs, func(c *learned, i int) float64 { return c.all[i].Odds })
		report(w, "in folds", chairs, func(c *learned, i int) float64 { return c.odds[i] })
		weights, err := weightsOf(chairs, func(int) bool { return true })
		if weights == nil {
			return err
		}
		for i, v := range weights {
			fmt.Fprintf(w, "%.5g,%s", v, map[bool]string{true: "\n", false: " "}[i%8 == 7 || i == len(weights)-1])
		}
	}
	return nil
}

// rowsToLearn are the chairs of rows of each of rowKinds, and what becomes of them today.
func (p plan) rowsToLearn(ctx context.Context) ([][]*learned, []rowTally, error) {
	out, tallies := make([][]*learned, len(rowKinds)), make([]rowTally, len(rowKinds))
	var sources [][]estimate.Note
	for _, s := range p.rowSources() {
		notes, err := s.load(ctx)
		if err != nil {
			return nil, nil, err
		}
		sources = append(sources, notes)
	}
	row := 0
	for i := range p.learn {
		cell := uint64(0)
		for _, notes := range sources {
			for known, k := range rowKinds {
				for _, r := range everyRow() {
					if err := ctx.Err(); err != nil {
						return nil, nil, err
					}
					cell++
					row++
					r.Kind, r.Known = k.kinds[i%len(k.kinds)], k.known
					r.Seed = p.seed<<20 + uint64(i)<<10 + cell
					take, err := r.Play(notes)
					if err != nil {
						return nil, nil, err
					}
					in := take.asked()
					tallies[known].add(take, attribute.Fit(in))
					out[known] = append(out[known], take.learned(row, in)...)
				}
			}
		}
	}
	return out, tallies, nil
}

// everyRow are rows of each size in each room, in both styles and both kinds of room.
func everyRow() []Row {
	var out []Row
	for _, n := range rowPlayers {
		for _, rt := range rowRooms {
			for _, style := range rowStyles {
				for _, rooms := range []Rooms{Wide, Directed} {
					out = append(out, Row{Players: n, RT60: rt, Plain: style.plain, Rooms: rooms})
				}
			}
		}
	}
	return out
}

// asked is what the row's fit is asked.
func (r *RowTake) asked() attribute.Input {
	var k kept
	r.Input().Fit(&k, nil)
	return k.in
}

// learned are the chairs of a row with what they may be playing.
func (r *RowTake) learned(row int, in attribute.Input) []*learned {
	var out []*learned
	for i, all := range attribute.Candidates(in) {
		c := &learned{row: row, all: all}
		for _, x := range all {
			off := math.NaN()
			if t := &r.Truth[i]; !t.Silent() {
				off = float64(x.Cents) - 1200*math.Log2(float64(t.Mean(x.From, x.To)/t.Target))
			}
			c.off = append(c.off, off)
		}
		out = append(out, c)
	}
	return out
}

// kept keeps what is asked of a fit and answers nothing.
type kept struct{ in attribute.Input }

func (k *kept) Fit(in attribute.Input) attribute.Result {
	k.in = in
	return attribute.Result{Chairs: make([]attribute.ChairResult, len(in.Chairs))}
}

// weightsOf are those of the rows that use says yes to.
func weightsOf(chairs []*learned, use func(row int) bool) ([]float64, error) {
	var of []example
	for _, c := range chairs {
		for i, x := range c.all {
			if !use(c.row) {
				continue
			}
			counts := 1.0
			if math.IsNaN(c.off[i]) {
				counts = silentTimes
			}
			of = append(of, example{x.Facts, math.Abs(c.off[i]) <= rightCents, counts})
		}
	}
	return logistic(of, learnRidge)
}

func oddsOf(weights, facts []float64) float64 {
	sum := weights[0]
	for i, f := range facts {
		sum += weights[i+1] * f
	}
	return sum
}

// report prints how many chairs are read until one, two and more are wrong.
func report(w io.Writer, how string, chairs []*learned, odds func(c *learned, i int) float64) {
	type answer struct {
		odds  float64
		wrong bool
	}
	var answers []answer
	playing := 0
	for _, c := range chairs {
		best := -1
		for i := range c.all {
			if best < 0 || odds(c, i) > odds(c, best) {
				best = i
			}
		}
		if best < 0 || !math.IsNaN(c.off[best]) {
			playing++
		}
		if best >= 0 && c.all[best].Second >= agreeing {
			answers = append(answers, answer{odds(c, best), !(math.Abs(c.off[best]) <= wrongRow)})
		}
	}
	slices.SortFunc(answers, func(a, b answer) int { return cmp.Compare(b.odds, a.odds) })
	fmt.Fprintf(w, "%s: of %d playing are read before each wrong one (from log odds):", how, playing)
	wrong := 0
	for i, a := range answers {
		if a.wrong {
			if wrong++; wrong > 12 {
				break
			}
			fmt.Fprintf(w, " %.1f %% (%.1f)", 100*float64(i-wrong+1)/float64(playing), a.odds)
		}
	}
	fmt.Fprintln(w)
}
