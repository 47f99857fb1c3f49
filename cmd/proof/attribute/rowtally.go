package attribute

import (
	"context"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"bellrow/cmd/proof/estimate"
	"bellrow/hub/attribute"
	"bellrow/proto/pitch"
	"bellrow/testdata/processor"
)

// rowTally sums up rows of one kind.
type rowTally struct {
	playing, read  int
	silent, ghosts int // chairs that did not play, and those of them read
	wrong, inside  int
	errors         []float64
	verdicts       map[attribute.Verdict]int
	rows           int
	spent          time.Duration
}

// wrongRow is from where on a reading is somebody else's, in cents.
const wrongRow = 4.0

// add judges a row's result.
func (t *rowTally) add(take *RowTake, res attribute.Result) {
	if t.verdicts == nil {
		t.verdicts = map[attribute.Verdict]int{}
	}
	t.rows++
	for i, c := range res.Chairs {
		p, read := &take.Truth[i], c.Verdict == attribute.Sounding
		if p.Silent() {
			t.silent++
			if read {
				t.ghosts++
			}
			continue
		}
		t.playing++
		t.verdicts[c.Verdict]++
		if !read {
			continue
		}
		t.read++
		e := math.Abs(float64(pitch.Between(p.Mean(c.From, c.To), c.Hz)))
		t.errors = append(t.errors, e)
		if e <= float64(c.CI95) {
			t.inside++
		}
		if e > wrongRow {
			t.wrong++
		}
	}
}

// merge adds what another one counted.
func (t *rowTally) merge(o *rowTally) {
	t.playing, t.read, t.silent, t.ghosts = t.playing+o.playing, t.read+o.read, t.silent+o.silent, t.ghosts+o.ghosts
	t.wrong, t.inside, t.rows, t.spent = t.wrong+o.wrong, t.inside+o.inside, t.rows+o.rows, t.spent+o.spent
	t.errors = append(t.errors, o.errors...)
}

func (t *rowTally) String() string {
	slices.Sort(t.errors)
	q := func(p float64) float64 {
		if len(t.errors) == 0 {
			return 0
		}
		return t.errors[min(len(t.errors)-1, int(p*float64(len(t.errors))))]
	}
	return fmt.Sprintf("%s, error median %.2f, 95 %% %.2f, worst %.2f cents, interval holds %.1f %%, %.0f ms of processor time a fit", t.short(),
		q(0.5), q(0.95), q(1), 100*float64(t.inside)/max(1, float64(t.read)), float64(t.spent.Milliseconds())/max(1, float64(t.rows)))
}

// short is how many were read, and how many of those should not have been.
func (t *rowTally) short() string {
	share, half := binomial(t.read, t.playing)
	return fmt.Sprintf("%4d of %4d read, %3.0f ± %2.0f %%, %d wrong, %d of %2d silent", t.read, t.playing, 100*share, 100*half, t.wrong, t.ghosts, t.silent)
}

// binomial is a share and the half width of its 95 % interval.
func binomial(k, n int) (share, half float64) {
	if n == 0 {
		return 0, 0
	}
	share = float64(k) / float64(n)
	return share, 1.96 * math.Sqrt(max(share*(1-share), 1/float64(n))/float64(n))
}

// rowKinds are the calls: a tuning note of which nothing is known, and a chord
// after one.
var rowKinds = []struct {
	name  string
	kinds []string
	known bool
}{{"tuning note", []string{"unison", "octaves"}, false}, {"chord", []string{"chord"}, true}}

var (
	rowPlayers = []int{4, 8, 12}
	rowRooms   = []float64{0.4, 0.8, 1.2}
)

// rowSource is where notes come from.
type rowSource struct {
	name string
	load func(context.Context) ([]estimate.Note, error)
}

func (p plan) rowSources() []rowSource {
	return []rowSource{
		{"Notes of real players", func(ctx context.Context) ([]estimate.Note, error) { return estimate.RecordedNotes(ctx, p.recordings) }},
		{"Rendered notes", estimate.RenderedNotes},
	}
}

// rowsOf plays rows of recorded or rendered notes until each cell of the table
// has p.each playing chairs.
func (p plan) rowsOf(ctx context.Context, w io.Writer) error {
	for _, source := range p.rowSources() {
		notes, err := source.load(ctx)
		if err != nil {
			fmt.Fprintf(w, "%s left out: %v\n", source.name, err)
			continue
		}
		fmt.Fprintf(w, "\n%s, %d of them, in %s image-source rooms; wrong is more than %g cents off; harder rows | plain rows\n", source.name, len(notes), p.where, wrongRow)
		if p.balance {
			p.balanceTable(w, notes)
			return nil
		}
		if err := p.rowTable(ctx, w, notes); err != nil {
			return err
		}
	}
	return nil
}

// balanceTable prints what the own laptop hears of its player in plain rows, in the mean over seats.
func (p plan) balanceTable(w io.Writer, notes []estimate.Note) {
	fmt.Fprintln(w, "\nAt the own laptop in plain rows, all players as loud on axis, at 250 / 500 / 1,000 / 2,000 Hz, dB: direct over diffused sound of the own player | direct sound of the own player over all others")
	for _, kind := range []Rooms{Wide, Directed} {
		for _, n := range rowPlayers {
			for _, rt := range rowRooms {
				r := Row{Players: n, RT60: rt, Kind: "octaves", Plain: true, Rooms: kind}
				var room, others [4]float64
				const rows = 24
				volume := 0.0
				for i := range rows {
					r.Seed = uint64(i)
					c := r.draw(notes, rand.New(rand.NewPCG(p.seed, r.Seed))).seats
					volume += c.Size.X * c.Size.Y * c.Size.Z / rows
					for m := range c.Seats {
						for k := range room {
							direct, diffused, rest := c.Balance(m, 250*math.Exp2(float64(k)))
							room[k] += 10 * math.Log10(direct/diffused) / float64(rows*n)
							others[k] += 10 * math.Log10(direct/rest) / float64(rows*n)
						}
					}
				}
				fmt.Fprintf(w, "%-8s %2d players %.1f s %5.0f m³: %5.1f | %5.1f\n", kind, n, rt, volume, room, others)
			}
		}
	}
}

// rowStyles are the harder rows, and those in which everybody comes and stays, in
// one row of seats.
var rowStyles = []struct {
	name  string
	plain bool
}{{"harder rows", false}, {"plain rows", true}}

// rowTable plays each cell in both styles, one beside the other.
func (p plan) rowTable(ctx context.Context, w io.Writer, notes []estimate.Note) error {
	var f attribute.Fitter
	for _, k := range rowKinds {
		all := make([]rowTally, len(rowStyles))
		for _, n := range rowPlayers {
			if n > p.most || n < p.least || p.call != "" && p.call != k.name {
				continue
			}
			for _, rt := range rowRooms {
				fmt.Fprintf(w, "%-11s %2d  %.1f s", k.name, n, rt)
				for style := range rowStyles {
					t := &rowTally{}
					for i := 0; t.playing < p.rows; i++ {
						if err := ctx.Err(); err != nil {
							return err
						}
						r := Row{Players: n, RT60: rt, Kind: k.kinds[i%len(k.kinds)], Known: k.known, Laptops: p.laptops, Clock: p.clock, Plain: rowStyles[style].plain, Rooms: Rooms(p.where),
							Seed: p.seed<<20 + uint64(n)<<12 + uint64(10*rt)<<8 + uint64(i)}
						if err := r.measure(&f, notes, t); err != nil {
							return err
						}
					}
					fmt.Fprintf(w, " | %s", t.short())
					all[style].merge(t)
				}
				fmt.Fprintln(w)
			}
		}
		for style := range rowStyles {
			if all[style].rows == 0 {
				continue
			}
			fmt.Fprintf(w, "%s, %s: %s\n", k.name, rowStyles[style].name, &all[style])
		}
	}
	return nil
}

// measure plays one row and fits it.
func (r Row) measure(f *attribute.Fitter, notes []estimate.Note, t *rowTally) error {
	take, err := r.Play(notes)
	if err != nil {
		return err
	}
	before := processor.Time()
	res := take.Input().Fit(f, nil)
	t.spent += processor.Time() - before
	t.add(take, res)
	return nil
}
