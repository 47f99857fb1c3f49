package attribute

import (
	"context"
	"flag"
	"fmt"
	"io"
	"os/exec"
	"time"

	"bellrow/hub/attribute"
	"bellrow/testdata/processor"
)

// plan is what a run measures.
type plan struct {
	notes      string
	rows       int     // chairs for each cell of the table of recorded notes
	recordings string  // where those lie
	hall       int     // calls of each kind through nodes, sockets and hub
	rules      int     // calls of each kind by the hub's rules alone
	mishap     string  // in halls: what befalls a row, "" = nothing
	laptops    int     // in rows and halls, 0 = one for each chair
	least      int     // in rows and halls: players in the smallest row
	call       string  // in rows and halls: the kind of call, "" = each
	clock      float64 // in rows: how far clocks are off, seconds, 0 = as usual
	trace      bool    // in halls: what happened to whom
	where      string  // in rows: the kind of room
	learn      int     // rows of each kind to learn weights from, and nothing else
	balance    bool    // print what laptops hear of their own players, and nothing else
	readings   int
	silent     int
	most       int // chairs in the largest section
	seconds    float64
	ppm        float64
	rate       float64
	seed       uint64
	compare    bool
	cost       bool
}

// Run measures attribution and prints the table. Flags choose how much.
func Run(ctx context.Context, w io.Writer, args []string) error {
	f := flag.NewFlagSet("attribute", flag.ContinueOnError)
	f.SetOutput(w)
	var p plan
	f.IntVar(&p.readings, "readings", 2000, "chair-readings in all, spread over rooms and sections, at least one scene of each; 0 for none")
	f.IntVar(&p.silent, "silent", 300, "chair-readings of silent chairs beside loud neighbours")
	f.IntVar(&p.most, "most", 16, "largest section to play, of 4, 8 and 16 chairs")
	f.Float64Var(&p.seconds, "seconds", 1, "length of the window")
	f.Float64Var(&p.ppm, "ppm", 50, "sample clocks are uniform within ± this many ppm")
	f.Float64Var(&p.rate, "rate", 16000, "sample rate of the simulation, Hz")
	f.Uint64Var(&p.seed, "seed", 1, "seed of the first scene")
	f.BoolVar(&p.compare, "compare", true, "compare with single microphones")
	f.BoolVar(&p.cost, "cost", true, "measure the cost for 4 to 32 chairs")
	f.StringVar(&p.notes, "notes", "", "folder of recorded or rendered notes NAME_MIDI.wav to mix instead of simulated players")
	f.IntVar(&p.rows, "rows", 24, "playing chairs of each size, room and call in rows of recorded and of rendered notes; 0 for none")
	f.IntVar(&p.hall, "hall", 0, "calls of each size, room and kind through nodes, sockets and hub, and nothing else")
	f.IntVar(&p.rules, "rules", 0, "calls of each size, room and kind by the hub's rules alone, without nodes and sockets, and nothing else")
	f.StringVar(&p.mishap, "befalls", "", "in halls and by the rules: what befalls the row: third, octave, silent, dead, clock, jump, stranger or half; by the rules also all")
	f.IntVar(&p.laptops, "laptops", 0, "in rows and halls: how many chairs have a laptop; 0 = all")
	f.IntVar(&p.least, "least", 4, "in rows and halls: smallest row to play")
	f.StringVar(&p.call, "call", "", "in rows and halls: \"tuning note\" or \"chord\"; empty = both")
	f.Float64Var(&p.clock, "clock", 0, "in rows: how far the laptops' clocks are off at most, seconds; 0 = 0.01")
	f.BoolVar(&p.trace, "trace", false, "in halls: print what happened to whom")
	f.StringVar(&p.where, "rooms", string(Wide), "in rows: \"wide\" rooms with bells that sound alike everywhere, or \"directed\" bells in rooms of 30 m³ a player")
	f.BoolVar(&p.balance, "balance", false, "print how loud own players are at their laptops in both kinds of room, and nothing else")
	f.IntVar(&p.learn, "learn", 0, "rows of each source, kind, size and room to learn the weights of hub/attribute from, and nothing else")
	f.StringVar(&p.recordings, "recordings", "", "folder of recorded notes with a manifest.csv; empty = where they lie beside the module")
	if err := f.Parse(args); err != nil {
		return err
	}
	if p.notes != "" {
		return p.recorded(ctx, w)
	}
	if p.learn > 0 {
		return p.learnWeights(ctx, w)
	}
	if p.hall > 0 {
		return p.hallTable(ctx, w)
	}
	if p.rules > 0 {
		return p.rulesTable(ctx, w)
	}
	if p.rows > 0 {
		if err := p.rowsOf(ctx, w); err != nil {
			return err
		}
	}
	if p.balance || p.readings == 0 && p.silent == 0 {
		return nil
	}
	total, byChairs, err := p.accuracy(ctx, w)
	if err != nil {
		return err
	}
	p.totals(w, total)
	if err := p.silence(ctx, w); err != nil {
		return err
	}
	p.rounds(w, byChairs)
	if p.cost {
		return p.costs(ctx, w)
	}
	return nil
}

var (
	rooms    = []float64{0.3, 0.8, 1.6}
	sections = []int{4, 8, 16}
)

// accuracy runs all scenes, one line for each kind.
func (p plan) accuracy(ctx context.Context, w io.Writer) (*tally, map[int]*tally, error) {
	_, err := exec.LookPath("aubiopitch")
	withAubio := p.compare && err == nil
	if p.compare && err != nil {
		fmt.Fprintln(w, "aubiopitch is not installed: its column is empty")
	}
	fmt.Fprintf(w, "Players within ±15 cents, window %g s, clocks ±%g ppm, every other scene with a quarter of the chairs silent\n", p.seconds, p.ppm)
	fmt.Fprintln(w, "and every fourth with a player with vibrato. Absolute errors in cents. One-microphone methods answer always, on the first third of the scenes.")
	fmt.Fprintln(w, "RT60 chairs    note playing  read | joint: median   95 %  worst  in interval | two sources: 95 %  worst | one source: 95 %  worst | aubio: 95 %   worst")
	total, byChairs := &tally{verdicts: map[attribute.Verdict]int{}}, map[int]*tally{}
	kinds := len(rooms) * len(sections) * 2
	each := (p.readings + kinds - 1) / kinds
	for _, n := range sections {
		if n > p.most || each == 0 {
			continue
		}
		byChairs[n] = &tally{}
		for _, rt := range rooms {
			for _, unison := range []bool{true, false} {
				t, err := p.kind(ctx, n, rt, unison, (each+n-1)/n, withAubio)
				if err != nil {
					return nil, nil, err
				}
				p.line(w, n, rt, unison, t)
				total.merge(t)
				byChairs[n].merge(t)
			}
		}
		p.line(w, n, 0, false, byChairs[n])
	}
	return total, byChairs, nil
}

func (p plan) line(w io.Writer, n int, rt float64, unison bool, t *tally) {
	note := "octaves"
	if unison {
		note = "unison"
	}
	room := fmt.Sprint(rt)
	if rt == 0 {
		room, note = "all", "all"
	}
	fmt.Fprintf(w, "%4s %6d %7s %7d %5d |       %7.3f %6.3f %6.2f %10.0f %% |           %7.2f %6.1f |          %7.2f %6.1f |     %7.2f %7.1f\n", room, n, note, t.playing, t.read,
		t.joint.quantile(0.5), t.joint.quantile(0.95), t.joint.quantile(1), 100*float64(t.inside)/max(1, float64(t.read)),
		t.two.quantile(0.95), t.two.quantile(1), t.one.quantile(0.95), t.one.quantile(1), t.aubio.quantile(0.95), t.aubio.quantile(1))
}

// kind runs the scenes of one kind.
func (p plan) kind(ctx context.Context, n int, rt float64, unison bool, scenes int, withAubio bool) (*tally, error) {
	t := &tally{}
	var fitter attribute.Fitter
	for i := range scenes {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		s := p.scene(n, rt, unison, i)
		if i%2 == 1 {
			s.Silent = n / 4
		}
		if i%4 == 0 {
			s.Vibrato = 1
		}
		take, err := s.Play()
		if err != nil {
			return nil, err
		}
		t.add(&take, fitter.Fit(take.Input))
		if p.compare && i < max(1, scenes/3) {
			p.others(ctx, &take, t, withAubio)
		}
	}
	return t, nil
}

// scene is number i of its kind.
func (p plan) scene(n int, rt float64, unison bool, i int) Scene {
	s := Scene{Chairs: n, RT60: rt, Unison: unison, Seconds: p.seconds, PPM: p.ppm, Rate: p.rate, Seed: p.seed<<32 + uint64(n)<<24 + uint64(10*rt)<<16 + uint64(i)<<1}
	if unison {
		s.Seed++
	}
	return s
}

const (
	// louder is forte beside chairs that are known at mezzo-forte, dB (common
	// practice, no source).
	louder = 6.0
	// silenceSeed keeps these scenes apart from the others.
	silenceSeed = 1 << 16
)

// silence looks for readings given to silent chairs where that is easiest:
// half the section is silent, the others are loud, and in every other scene
// nobody's usual level is known.
func (p plan) silence(ctx context.Context, w io.Writer) error {
	if p.silent <= 0 {
		return nil
	}
	p.seed += silenceSeed
	var t tally
	var fitter attribute.Fitter
	for i := 0; t.silent < p.silent; i++ {
		for _, n := range sections {
			if n > p.most || i%(n/sections[0]) != 0 {
				continue // as many chairs of each section
			}
			for _, rt := range rooms {
				if err := ctx.Err(); err != nil {
					return err
				}
				take, err := p.hush(n, rt, i/(n/sections[0]))
				if err != nil {
					return err
				}
				t.add(&take, fitter.Fit(take.Input))
			}
		}
	}
	fmt.Fprintf(w, "Half the chairs silent beside neighbours %g dB louder than usual, unison and octaves, every other scene without known levels:\n", louder)
	fmt.Fprintf(w, "silent chairs given a reading %d of %d; wrong chair %d of %d readings given to %d playing (targets 0)\n", t.ghost, t.silent, t.wrong, t.read, t.playing)
	return nil
}

// hush is scene number i of silence.
func (p plan) hush(n int, rt float64, i int) (Take, error) {
	s := p.scene(n, rt, i%2 == 0, i)
	s.Silent, s.Louder = n/2, louder
	take, err := s.Play()
	for c := range take.Input.Chairs {
		if i/2%2 == 1 {
			take.Input.Chairs[c].Baseline = 0
		}
	}
	return take, err
}

// others reads the playing chairs from one microphone each.
func (p plan) others(ctx context.Context, take *Take, t *tally, withAubio bool) {
	for c, truth := range take.Truth {
		if !truth.Playing {
			continue
		}
		hz, ok := twoSources(take, c)
		t.two.add(truth.Hz, hz, ok)
		hz, ok = oneSource(take, c)
		t.one.add(truth.Hz, hz, ok)
		if withAubio {
			hz, ok = aubio(ctx, take, c)
			t.aubio.add(truth.Hz, hz, ok)
		}
	}
}

func (p plan) totals(w io.Writer, t *tally) {
	fmt.Fprintf(w, "\nWrong chair (more than %g cents from its own pitch): %d of %d readings given (target 0)\n", wrongCents, t.wrong, t.read)
	fmt.Fprintf(w, "Silent chairs given a reading: %d of %d silent chair-readings, %d chair-readings in all (target 0)\n", t.ghost, t.silent, t.silent+t.playing)
	fmt.Fprintf(w, "Playing chairs left to be heard in turn: %d of %d\n", t.asked, t.playing)
	fmt.Fprintf(w, "Truth inside the stated 95 %% interval: %.1f %%\n", 100*float64(t.inside)/max(1, float64(t.read)))
	fmt.Fprintf(w, "Traffic while sounding: at most %.1f kB per node and second as JSON (target 10)\n", t.bytes/1000)
}

// Times of a round, seconds (common practice, no source): players breathe and
// start, the pitch settles (90 % of notes within 1.5 s), and the window.
const (
	breatheSeconds = 2.5
	settleSeconds  = 1.5
)

// rounds compares everybody in turn with together first.
func (p plan) rounds(w io.Writer, by map[int]*tally) {
	one := breatheSeconds + settleSeconds + p.seconds
	fmt.Fprintf(w, "\nTime of a round at %g s for each note: all in turn, against together first and then in turn those not told apart\n", one)
	for _, n := range sections {
		t := by[n]
		if t == nil || t.playing == 0 {
			continue
		}
		left := float64(t.asked) / float64(t.playing) * float64(n)
		adaptive := one * (1 + left)
		fmt.Fprintf(w, "%3d chairs: %5.1f s in turn, %5.1f s adaptive (%.1f chairs in turn on average), %.0f %% of the time\n",
			n, one*float64(n), adaptive, left, 100*adaptive/(one*float64(n)))
	}
}

// costs measures one window on one core.
func (p plan) costs(ctx context.Context, w io.Writer) error {
	fmt.Fprintln(w, "\nCost of one window at the hub, processor time on one core (targets: 4 chairs 30 ms, 16 chairs 300 ms)")
	for _, n := range []int{4, 8, 16, 32} {
		if err := ctx.Err(); err != nil {
			return err
		}
		take, err := Scene{Chairs: n, RT60: 0.8, Seconds: p.seconds, PPM: p.ppm, Rate: p.rate, Seed: p.seed}.Play()
		if err != nil {
			return err
		}
		var fitter attribute.Fitter
		best := time.Duration(1 << 62)
		for range 3 {
			before := processor.Time()
			fitter.Fit(take.Input)
			best = min(best, processor.Time()-before)
		}
		fmt.Fprintf(w, "%3d chairs: %6.1f ms\n", n, float64(best)/1e6)
	}
	return nil
}
