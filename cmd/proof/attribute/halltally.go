package attribute

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"math"
	"slices"

	"bellrow/cmd/proof/estimate"
	"bellrow/hub"
	"bellrow/proto/pitch"
)

// hallTally sums up calls in halls.
type hallTally struct {
	calls, over    int
	playing        int
	silent, ghosts int // chairs that did not play, and those of them read
	first          int // read when all had played once
	groups         int // read when a few or all played again
	turns          int // read alone
	refused        int // alone, for the note itself
	notes          int
	wrong          int // somebody else's pitch
	alone          int // of those in turn
	inside         int // within the interval
	errors         []float64
	times, seconds []float64 // until the call was over
	most           []float64
}

// add judges a call.
func (t *hallTally) add(take *HallTake) {
	t.calls++
	t.notes, t.refused = t.notes+take.Notes, t.refused+take.Refused
	t.times, t.most, t.seconds = append(t.times, float64(take.Times)), append(t.most, float64(take.Most)), append(t.seconds, take.Seconds)
	if take.Done {
		t.over++
	}
	for i := range take.Truth {
		switch {
		case take.chairs[i] == 0:
		case take.Truth[i].Silent():
			t.silent++
		default:
			t.playing++
		}
	}
	for _, r := range take.Readings {
		if take.Truth[r.Chair].Silent() {
			t.ghosts++
			continue
		}
		e := r.Off()
		t.errors = append(t.errors, e)
		if e <= float64(r.CI95) {
			t.inside++
		}
		if e > wrongRow {
			t.wrong++
			if r.Fit < 0 {
				t.alone++
			}
		}
		switch {
		case r.Fit < 0:
			t.turns++
		case r.Fit == 0:
			t.first++
		default:
			t.groups++
		}
	}
}

// Off is by how many cents the reading is off what its chair played; infinite if
// that was nothing.
func (r *HallReading) Off() float64 {
	if !r.Known {
		return math.Inf(1)
	}
	return math.Abs(float64(pitch.Between(r.Truth, r.Hz)))
}

// merge adds what another one counted.
func (t *hallTally) merge(o *hallTally) {
	t.calls, t.over, t.playing, t.silent, t.ghosts = t.calls+o.calls, t.over+o.over, t.playing+o.playing, t.silent+o.silent, t.ghosts+o.ghosts
	t.first, t.groups, t.turns, t.notes = t.first+o.first, t.groups+o.groups, t.turns+o.turns, t.notes+o.notes
	t.refused += o.refused
	t.wrong, t.alone, t.inside = t.wrong+o.wrong, t.alone+o.alone, t.inside+o.inside
	t.errors, t.times = append(t.errors, o.errors...), append(t.times, o.times...)
	t.most, t.seconds = append(t.most, o.most...), append(t.seconds, o.seconds...)
}

func (t *hallTally) String() string {
	q := func(x []float64, p float64) float64 {
		if len(x) == 0 {
			return 0
		}
		x = slices.Sorted(slices.Values(x))
		return x[min(len(x)-1, int(p*float64(len(x))))]
	}
	read := t.first + t.groups + t.turns
	return fmt.Sprintf("%d | %d, %.0f %% | %d | %d | %d | %d | %d (%d alone), %d of %d silent | %.0f, %.0f | %.0f | %.1f | %.0f, %.0f | %.2f, %.1f, %.1f | %.0f | %d of %d |",
		t.playing, t.first, 100*float64(t.first)/max(1, float64(t.playing)), t.groups, t.turns, t.refused, t.playing-read-t.refused, t.wrong, t.alone, t.ghosts, t.silent,
		q(t.times, 0.5), q(t.times, 1), q(t.most, 0.5), float64(t.notes)/max(1, float64(t.calls)), q(t.seconds, 0.5), q(t.seconds, 1),
		q(t.errors, 0.5), q(t.errors, 0.95), q(t.errors, 1), 100*float64(t.inside)/max(1, float64(read)), t.over, t.calls)
}

const hallHeading = `| call | players | RT60 | playing | read at first | by few | alone | refused alone | not read | wrong | times played: median, most | notes of one at most | notes | seconds: median, most | error: median, 95 %, worst | interval holds, % | ended |
|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|`

// hallTable holds p.hall calls of each size, room and kind.
func (p plan) hallTable(ctx context.Context, w io.Writer) error {
	notes, err := estimate.RecordedNotes(ctx, p.recordings)
	if err != nil {
		return err
	}
	log := slog.New(slog.DiscardHandler)
	fmt.Fprintf(w, "Notes of real players through nodes, sockets and hub. Times played are stretches of sound with silence before each: all, a few or one play in it.\n\n%s\n", hallHeading)
	all := &hallTally{}
	for _, k := range rowKinds {
		for _, n := range rowPlayers {
			if n > p.most || n < p.least || p.call != "" && p.call != k.name {
				continue
			}
			for _, rt := range rowRooms {
				t := &hallTally{}
				for i := range p.hall {
					r := Row{Players: n, RT60: rt, Kind: k.kinds[i%len(k.kinds)], Known: k.known, Laptops: p.laptops, Seed: p.seed<<20 + uint64(n)<<12 + uint64(10*rt)<<8 + uint64(i)}
					take, err := Hall{Row: r, Mishap: p.mishap}.Play(ctx, notes, log)
					if err != nil {
						return err
					}
					one := &hallTally{}
					one.add(take)
					if p.trace {
						take.trace(w)
					}
					if p.hall > 1 {
						fmt.Fprintf(w, "| %s %s, row %d | %d | %.1f | %s\n", k.name, r.Kind, i+1, n, rt, one)
					}
					t.merge(one)
				}
				fmt.Fprintf(w, "| %s | %d | %.1f | %s\n", k.name, n, rt, t)
				all.merge(t)
			}
		}
	}
	fmt.Fprintf(w, "| all | | | %s\n", all)
	return nil
}

// trace prints what happened to whom.
func (take *HallTake) trace(w io.Writer) {
	name := func(id hub.ChairID) int { return slices.Index(take.chairs, id) + 1 }
	for i, on := range take.Played {
		p := take.Truth[i]
		fmt.Fprintf(w, "  chair %2d, %s, %.2f Hz, lasts %.1f s, plays at", i+1, p.note.Instrument, float64(p.Target), p.Off-p.On)
		for _, at := range on {
			fmt.Fprintf(w, " %.1f", at-take.Called)
		}
		fmt.Fprintln(w)
	}
	for k, f := range take.Fits {
		fmt.Fprintf(w, "  fit %d, %.1f to %.1f s:", k+1, f.In.Start-take.Called, f.In.End-take.Called)
		for i, c := range f.Res.Chairs {
			fmt.Fprintf(w, " %d %s (%d, over %.1f)", name(hub.ChairID(c.ID)), c.Verdict, len(f.In.Chairs[i].Chunks), c.Over)
		}
		fmt.Fprintln(w, " pairs", len(f.Res.Pairs))
	}
	for _, said := range take.Said {
		fmt.Fprintln(w, "  page:", said)
	}
	for _, r := range take.Log {
		counted := "-"
		if r.Counted {
			counted = "counted"
		}
		fmt.Fprintf(w, "  chair %2d: %.1f to %.1f s %.2f Hz (by itself %.2f), %+.1f cents, settled %t %s, level %.0f: %s %s\n", name(r.Chair), r.Wire.Start, r.Wire.End, float64(r.Hz()), float64(r.Wire.Hz), float64(r.Cents), r.Wire.Settled, r.Wire.Reason, float64(r.Wire.Level), counted, r.Why)
	}
	for _, r := range take.Readings {
		if off := r.Off(); !(off <= wrongRow) {
			fmt.Fprintf(w, "  WRONG chair %d, fit %d: %.2f Hz, played %.2f Hz\n", r.Chair+1, r.Fit+1, float64(r.Hz), float64(r.Truth))
		}
	}
}
