// Package moves plays whole tune-ups of simulated sections and counts what they
// cost and what they leave: minutes and notes until the program says that it is
// done, chairs outside the band then, moves, moves the wrong way, and who is
// accused of holding the pitch.
//
// A tune-up is a simulation of events (rehearsal.go): players look up and breathe
// for 2 s, play 2.5 to 3.5, are answered after 0.3, hand over in 1; slides are
// set in 5 to 8 s and lips rest for 5 while others play; some look away, come
// late, want to be heard again. The clock stops when the program says so and the
// last slide is set; the truth is the relaxed, warm pitch at that moment.
//
// Policies meet the same players with the same seeds: a leader with a meter to
// whom players bend, the naive rule (a nominal number of millimetres per cent
// until a note, or the mean of two, is within the dead band), the rules of
// hub/slide.Turn, the hub itself, and hub/belief.
//
//	go run ./cmd/proof moves
//
// It is a trial, not part of the program: the one place where the hub's
// calculators and the simulated players of node meet.
package moves

import (
	"context"
	"flag"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"text/tabwriter"

	"bellrow/hub"
	"bellrow/hub/belief"
)

// Config of a trial.
type Config struct {
	Sections int    // random sections
	Chairs   int    // players in each
	Seed     uint64 // of the first section; the others follow
	Days     int    // tune-ups of the same players before the one that counts
	Readings Readings
	Policies string // names, parted by commas; empty = all but the hub
	// Otherwise, if not nil, is told where the hub decides otherwise than hub/belief alone
	// would on the same notes.
	Otherwise io.Writer
	Rules     belief.Rules // of hub/belief where it leads by itself
	Population
}

// DefaultConfig is the trial as reported.
var DefaultConfig = Config{Sections: 200, Chairs: 12, Seed: 1, Readings: Sharp, Rules: belief.Usual, Population: DefaultPopulation}

// Cents within which a chair is in tune for the trial, and nearly so.
const (
	goodCents   = 5.0
	nearlyCents = 7.0
)

// policies are compared in this order.
var policies = []struct {
	name, what string
	lead       func(*section) leader
}{
	{"meter", "lips to a meter", newMeter},
	{"naive", "naive rule", newNaive(1, 6)},
	{"naive2", "naive, mean of two notes", newNaive(2, 6)},
	{"added", "present rules, times added up", newTurns(true)},
	{"turns", "present rules, overlapping", newTurns(false)},
	{"hub", "the hub in turns", newHubLeader("")},
	{"worth", "the hub by worth", newHubLeader(hub.OrderByWorth)},
	{"two", "the hub, two at once", newHubLeader(hub.OrderTwoAtOnce)},
	{"unnamed", "belief, nobody named ahead", newBeliever(manner{})},
	{"belief", "belief", newBeliever(manner{ahead: true})},
	{"free", "belief, free to go the wrong way and to ask six notes", newBeliever(manner{ahead: true, free: true})},
	{"three", "belief, three at once", newBeliever(manner{ahead: true, groups: true})},
	{"together", "together first, then belief", newBeliever(manner{ahead: true, together: true})},
}

// Result is what one policy did over all sections.
type Result struct {
	Policy  string
	Minutes []float64 // until the program ended each tune-up
	// All, AllButOne and AllNearly count the sections in which every chair that was
	// heard is within goodCents, all but one are, and every one is within nearlyCents.
	All, AllButOne, AllNearly int
	// Outside is how many chairs were outside in truth, Expected what belief said.
	Outside  int
	Expected float64
	// Doubted chairs were named to the leader, Found of them are outside.
	Doubted, Found int
	// Left is by each thing that makes a chair hard how many had it, and how many
	// of them are outside.
	Left map[string]Share
	// Players that were heard, their notes, those with more than belief.MostNotes,
	// moves, and moves the wrong way.
	Players, Notes, Many, Moves, WrongWay int
	// Innocent players whose moves were judged, and those of them accused of
	// holding. Holders who held at a judged move: those named as such, and those
	// missed, who were never even asked for a fresh attack.
	Innocent, Accused, Holders, Named, Missed int
}

// Share is so many out of so many.
type Share struct {
	N, Of    int
	Expected float64
}

// quantile of values that may be infinite.
func quantile(x []float64, q float64) float64 {
	s := slices.Clone(x)
	slices.Sort(s)
	return s[min(len(s)-1, int(math.Ceil(q*float64(len(s)))-1))]
}

// Play runs the policies over the same sections.
func Play(ctx context.Context, c Config) ([]Result, error) {
	var out []Result
	for _, p := range policies {
		if !c.plays(p.name) {
			continue
		}
		r := Result{Policy: p.what, Left: map[string]Share{}}
		for i := range c.Sections {
			if err := ctx.Err(); err != nil {
				return nil, err
			}
			s, err := newSection(c.Seed+uint64(i), c.Chairs, c.Population)
			if err != nil {
				return nil, err
			}
			s.rules = c.Rules
			if s, err = s.learn(p.lead, c); err != nil {
				return nil, err
			}
			l := p.lead(s)
			if hub, ok := l.(*led); ok && c.Otherwise != nil {
				fmt.Fprintf(c.Otherwise, "section %d, %s\n", c.Seed+uint64(i), p.name)
				l = &differing{led: hub, beside: newBeliever(manner{ahead: true})(s).(*believer), w: c.Otherwise}
			}
			r.count(s, l, s.run(l, c.Readings))
		}
		out = append(out, r)
	}
	return out, nil
}

// learn plays the days before the one that counts, and returns the section on
// that day with what was learned of its players.
func (s *section) learn(lead func(*section) leader, c Config) (*section, error) {
	for day := range c.Days {
		l := lead(s)
		b, ok := l.(*believer)
		if !ok {
			return s, nil
		}
		s.run(l, c.Readings)
		for i, ch := range s.chairs {
			ch.profile = b.b.Profile(int64(i + 1))
		}
		var err error
		if s, err = s.tomorrow(uint64(day + 1)); err != nil {
			return nil, err
		}
	}
	return s, nil
}

func (c Config) plays(name string) bool {
	if c.Policies == "" {
		return name != "hub" && name != "worth" && name != "two"
	}
	return slices.Contains(strings.Split(c.Policies, ","), name)
}

// count takes a section as its leader left it.
func (r *Result) count(s *section, l leader, seconds float64) {
	r.Minutes = append(r.Minutes, seconds/60)
	outside, nearly := 0, true
	b, believes := l.(believing)
	var end doubts
	if believes {
		end = b.doubts()
		r.Expected += end.outside
	}
	for i, c := range s.chairs {
		r.Notes += c.notes
		if c.never || seconds >= c.leaves || seconds <= c.comes {
			continue
		}
		r.Players++
		if c.notes > belief.MostNotes {
			r.Many++
		}
		off := math.Abs(c.truth())
		out := off > goodCents
		nearly = nearly && off <= nearlyCents
		if out {
			outside++
		}
		if slices.Contains(end.named, i) {
			r.Doubted++
			if out {
				r.Found++
			}
		}
		chance := 0.0
		if believes {
			chance = end.chance[i]
		}
		r.follow(c, out, chance)
	}
	r.Outside += outside
	if outside == 0 {
		r.All++
	}
	if outside <= 1 {
		r.AllButOne++
	}
	if nearly {
		r.AllNearly++
	}
}

// believing is a leader who tells at the end how sure it is.
type believing interface{ doubts() doubts }

// doubts are how many chairs are expected outside, the chance of each, and who are
// named to the leader.
type doubts struct {
	outside float64
	chance  []float64
	named   []int
}

func (b *believer) doubts() doubts {
	d := doubts{outside: b.b.Outside()}
	for i := range b.chairs {
		st, _ := b.b.Standing(int64(i + 1))
		d.chance = append(d.chance, st.Outside)
	}
	for _, id := range b.b.Doubtful() {
		d.named = append(d.named, int(id-1))
	}
	return d
}

func (l *led) doubts() doubts {
	st := l.hub.Standing()
	d := doubts{outside: st.Round.Outside, chance: make([]float64, len(l.ids))}
	for i := range st.Chairs {
		d.chance[slices.Index(l.ids, st.Chairs[i].ID)] = st.Chairs[i].Outside
	}
	for _, id := range st.Round.Doubtful {
		d.named = append(d.named, slices.Index(l.ids, id))
	}
	return d
}

// follow counts a chair's habits and what was made of its moves.
func (r *Result) follow(c *chair, out bool, chance float64) {
	r.Moves += c.moves
	r.WrongWay += c.wrongWay
	habits := c.habits
	if len(habits) == 0 {
		habits = []string{plain}
	}
	for _, h := range habits {
		x := r.Left[h]
		x.Of++
		if out {
			x.N++
		}
		x.Expected += chance
		r.Left[h] = x
	}
	switch {
	case c.holds > 0:
		r.Holders++
		if !c.warned {
			r.Missed++
		}
		if c.accused {
			r.Named++
		}
	case c.judged:
		r.Innocent++
		if c.accused {
			r.Accused++
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
	fs.Uint64Var(&c.Seed, "seed", c.Seed, "seed of the first section")
	fs.IntVar(&c.Days, "days", c.Days, "tune-ups of the same players before the one that counts")
	readings := fs.String("readings", string(c.Readings), "sharp, rough, wandering, clean, rooms or once")
	fs.StringVar(&c.Policies, "policies", "", "names parted by commas, of "+names())
	fs.IntVar(&c.Notes, "notes", 1, "tuning notes of each player, 1 to 3; several by the belief and the hub by worth")
	fs.Float64Var(&c.Scatter, "scatter", c.Scatter, "scatter from attack to attack, SD in cents")
	fs.Float64Var(&c.Differ, "differ", c.Differ, "how players differ in it, SD as a logarithm")
	fs.Float64Var(&c.Drift, "drift", c.Drift, "rise of the whole section, cents a minute")
	fs.Float64Var(&c.Pinchers, "pinchers", c.Pinchers, "share of players who pinch")
	fs.Float64Var(&c.Holders, "holders", c.Holders, "share of players who hold the pitch")
	fs.Float64Var(&c.Drifters, "drifters", c.Drifters, "share of players who slide away")
	fs.Float64Var(&c.Late, "late", c.Late, "share of players who come with a cold instrument")
	fs.Float64Var(&c.Wrong, "wrong", c.Wrong, "share of players who begin with a wrong note")
	fs.Float64Var(&c.Never, "never", c.Never, "share of players who never play")
	fs.Float64Var(&c.Leaves, "leaves", c.Leaves, "share of players who leave in the middle")
	fs.Float64Var(&c.Early, "early", c.Early, "share of players who play before they are asked")
	differ := fs.Bool("otherwise", false, "print where the hub decides otherwise than belief alone would on the same notes")
	rules := fs.String("rules", "", "rules of hub/belief by itself that are not usual, as in later=2,notes=5, of "+ruleNames())
	steps := fs.Int("search", 0, "instead: so many steps of a random search through those rules")
	fs.IntVar(&c.AtOnce, "atonce", c.AtOnce, "players who play at once, of the policy together")
	fs.Float64Var(&c.Read, "read", c.Read, "share of them that is read")
	theory := fs.Int("theory", 0, "instead: so many players for each of some called notes that lie off by nature")
	if err := fs.Parse(args); err != nil {
		return err
	}
	if *theory > 0 {
		rs, err := PlayTheory(ctx, *theory, c.Seed)
		if err != nil {
			return err
		}
		return printTheory(w, rs)
	}
	if c.Readings = Readings(*readings); c.Sections < 1 || c.Chairs < 1 || c.AtOnce < 1 || c.Notes < 1 || c.Notes > 3 {
		return fmt.Errorf("trial: %d sections of %d with %d notes, need at least one of one with 1 to 3", c.Sections, c.Chairs, c.Notes)
	}
	if err := c.Readings.check(); err != nil {
		return err
	}
	for _, p := range strings.Split(c.Policies, ",") {
		if p != "" && !slices.Contains(strings.Split(names(), ", "), p) {
			return fmt.Errorf("trial: policy %q, need some of %s", p, names())
		}
	}
	var err error
	if c.Rules, err = rulesOf(*rules); err != nil {
		return err
	}
	if *steps > 0 {
		return search(ctx, w, c, *steps)
	}
	if *differ {
		c.Otherwise = w
	}
	results, err := Play(ctx, c)
	if err != nil {
		return err
	}
	return report(w, c, results)
}

func names() string {
	var n []string
	for _, p := range policies {
		n = append(n, p.name)
	}
	return strings.Join(n, ", ")
}

func report(w io.Writer, c Config, results []Result) error {
	fmt.Fprintf(w, "%d sections of %d players, seeds %d to %d, %s readings, scatter %g cents\n\n",
		c.Sections, c.Chairs, c.Seed, c.Seed+uint64(c.Sections)-1, c.Readings, c.Scatter)
	tw := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(tw, "policy\tmin\t90 %\tnotes\tover 4\tall ±5\tbut one\tall ±7\toutside\texpected\twrong way\tmoves\tnamed, of them out\taccused\tholders named\tmissed")
	for _, r := range results {
		n := float64(len(r.Minutes))
		p := float64(r.Players)
		fmt.Fprintf(tw, "%s\t%s\t%.2f\t%.2f, %s\t%s\t%s\t%s\n", r.Policy, r.row(), float64(r.Moves)/p,
			float64(r.Doubted)/n, share(r.Found, r.Doubted), share(r.Accused, r.Innocent), share(r.Named, r.Holders), share(r.Missed, r.Holders))
	}
	fmt.Fprintln(tw)
	fmt.Fprint(tw, "% outside at the end (and expected), of those with")
	kinds := []string{"pincher", "holder", "drifter", coldInstrument, wrongNote, withVibrato, endOfSlide, ownMillimetres, plain}
	for _, k := range kinds {
		fmt.Fprint(tw, "\t", k)
	}
	fmt.Fprintln(tw)
	for _, r := range results {
		fmt.Fprint(tw, r.Policy)
		for _, k := range kinds {
			x := r.Left[k]
			of := math.Max(1, float64(x.Of))
			fmt.Fprintf(tw, "\t%.1f (%.1f)", 100*float64(x.N)/of, 100*x.Expected/of)
		}
		fmt.Fprintln(tw)
	}
	return tw.Flush()
}

// row is what a tune-up costs and leaves, as columns.
func (r *Result) row() string {
	n, p := float64(len(r.Minutes)), float64(r.Players)
	return fmt.Sprintf("%.2f\t%.2f\t%.2f\t%s\t%s\t%s\t%s\t%.3f\t%.3f\t%s",
		quantile(r.Minutes, 0.5), quantile(r.Minutes, 0.9), float64(r.Notes)/p, percent(float64(r.Many)/p),
		percent(float64(r.All)/n), percent(float64(r.AllButOne)/n), percent(float64(r.AllNearly)/n),
		float64(r.Outside)/n, r.Expected/n, share(r.WrongWay, r.Moves))
}

func percent(x float64) string { return fmt.Sprintf("%.1f %%", 100*x) }

func share(n, of int) string {
	if of == 0 {
		return "-"
	}
	return fmt.Sprintf("%s of %d", percent(float64(n)/float64(of)), of)
}
