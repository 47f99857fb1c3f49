package moves

import (
	"context"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"text/tabwriter"

	"bellrow/hub/belief"
)

// ruling is one of the rules, its name, and between what the search looks for it.
type ruling struct {
	name     string
	of       func(*belief.Rules) *float64
	from, to float64
}

var rulings = []ruling{
	{"first", func(r *belief.Rules) *float64 { return &r.First }, 2, 64},
	{"second", func(r *belief.Rules) *float64 { return &r.Second }, 1, 32},
	{"later", func(r *belief.Rules) *float64 { return &r.Later }, 0.5, 16},
	{"last", func(r *belief.Rules) *float64 { return &r.Last }, 0.1, 8},
	{"size", func(r *belief.Rules) *float64 { return &r.Size }, 0, 2},
	{"wrong", func(r *belief.Rules) *float64 { return &r.Wrong }, 0.005, 1},
	{"least", func(r *belief.Rules) *float64 { return &r.Least }, 0.002, 0.02},
	{"nothing", func(r *belief.Rules) *float64 { return &r.Nothing }, 0.006, 0.024},
	{"many", func(r *belief.Rules) *float64 { return &r.Many }, 0.01, 0.16},
	{"enough", func(r *belief.Rules) *float64 { return &r.Enough }, 0.02, 0.2},
	{"far", func(r *belief.Rules) *float64 { return &r.Far }, 5, 20},
}

// counts are the rules that are whole numbers.
var counts = map[string]func(*belief.Rules) *int{
	"notes": func(r *belief.Rules) *int { return &r.Notes },
	"ever":  func(r *belief.Rules) *int { return &r.Ever },
}

// rulesOf reads "later=2,notes=5": the usual rules, but for those.
func rulesOf(text string) (belief.Rules, error) {
	rules := belief.Usual
	for _, part := range strings.FieldsFunc(text, func(r rune) bool { return r == ',' }) {
		name, value, _ := strings.Cut(part, "=")
		x, err := strconv.ParseFloat(value, 64)
		i := slices.IndexFunc(rulings, func(r ruling) bool { return r.name == name })
		switch count := counts[name]; {
		case err != nil || !(x >= 0):
			return rules, fmt.Errorf("trial: rule %q, need a name and a number, as in later=2", part)
		case count != nil:
			*count(&rules) = int(x)
		case i >= 0:
			*rulings[i].of(&rules) = x
		default:
			return rules, fmt.Errorf("trial: rule %q, need some of %s", name, ruleNames())
		}
	}
	return rules, nil
}

func ruleNames() string {
	names := []string{"notes", "ever"}
	for _, r := range rulings {
		names = append(names, r.name)
	}
	return strings.Join(names, ", ")
}

// differsFrom words what of the rules is not usual.
func differsFrom(usual, rules belief.Rules) string {
	var out []string
	for _, r := range rulings {
		if x := *r.of(&rules); x != *r.of(&usual) {
			out = append(out, fmt.Sprintf("%s=%.3g", r.name, x))
		}
	}
	for name, of := range counts {
		if n := *of(&rules); n != *of(&usual) {
			out = append(out, fmt.Sprintf("%s=%d", name, n))
		}
	}
	return strings.Join(out, ",")
}

// search walks through the rules, n steps from those of c: each changes some of them
// at random and is gone when it scores better. It prints every step: the same sections
// meet all of them, so that the differences are of the rules.
func search(ctx context.Context, w io.Writer, c Config, n int) error {
	random := rand.New(rand.NewPCG(c.Seed, 0x73656172))
	tw := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(tw, "score\tmin\t90 %\tnotes\tover 4\tall ±5\tbut one\tall ±7\toutside\texpected\twrong way\trules")
	best, least := c.Rules, math.Inf(1)
	for i := range n {
		rules := best
		if i > 0 {
			for _, r := range rulings {
				if x := r.of(&rules); random.IntN(3) == 0 {
					*x = math.Max(r.from, math.Min(r.to, *x*math.Exp(0.5*random.NormFloat64())))
				}
			}
		}
		c.Rules, c.Policies = rules, "belief"
		results, err := Play(ctx, c)
		if err != nil {
			return err
		}
		r := &results[0]
		score := r.score()
		if score < least {
			best, least = rules, score
		}
		fmt.Fprintf(tw, "%.3f\t%s\t%s\n", score, r.row(), differsFrom(belief.Usual, rules))
		if err := tw.Flush(); err != nil {
			return err
		}
	}
	return nil
}

// score is how far a result is from 2.5 notes, 93 of 100 sections and one move in 200
// the wrong way: a tenth of a note, one section in 100 and a tenth of a percent count
// alike, as the frontier between them is about that steep.
func (r *Result) score() float64 {
	notes, all, wrong := r.rates()
	return math.Max(0, notes-2.5)*10 + math.Max(0, 0.93-all)*100 + math.Max(0, wrong-0.005)*1000
}

// rates are notes a player, sections with all in the band, and moves the wrong way.
func (r *Result) rates() (notes, all, wrong float64) {
	return float64(r.Notes) / float64(r.Players), float64(r.All) / float64(len(r.Minutes)), float64(r.WrongWay) / math.Max(1, float64(r.Moves))
}
