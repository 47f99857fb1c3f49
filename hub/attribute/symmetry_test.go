package attribute

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"bellrow/proto/pitch"
	"bellrow/proto/track"
)

// These are laws of what the package says, whatever it does inside: they hold for rows that are read, for
// such as are not, and for chairs that are silent or cannot be told apart.

// rows are made-up rows of each kind.
func rows() map[string]Input {
	wander := func(by, hz float64) func(float64) float64 {
		return func(t float64) float64 { return by * math.Sin(2*math.Pi*hz*t) }
	}
	out := map[string]Input{
		"a chord": row([]voice{{f0: 233.5, bright: 1, cents: wander(4, 1.1)}, {f0: 293.1, bright: 0.8}, {f0: 350.2, bright: 1}},
			[]float64{233.08, 293.66, 349.23}, [][]float64{{0.1, 0.03, 0.02}, {0.02, 0.08, 0.03}, {0.02, 0.02, 0.09}}),
		"a unison": row([]voice{{f0: 233.9, bright: 1}, {f0: 232.2, bright: 0.7}, {f0: 467.7, bright: 1}, {f0: 349.5, bright: 1}},
			[]float64{233.08, 233.08, 466.16, 349.23}, [][]float64{{0.1, 0.03, 0.02, 0.01}, {0.02, 0.08, 0.03, 0.02}, {0.02, 0.02, 0.09, 0.03}, {0.01, 0.02, 0.02, 0.1}}),
		"one is silent": row([]voice{{f0: 233.9, bright: 1}, {f0: 349.5, bright: 1}},
			[]float64{233.08, 349.23, 233.08}, [][]float64{{0.1, 0.02}, {0.02, 0.1}, {0.03, 0.02}}),
		"two cannot be told apart": row([]voice{{f0: 233.08, bright: 1}, {f0: 233.1, bright: 1}, {f0: 349.5, bright: 1}},
			[]float64{233.08, 233.08, 349.23}, [][]float64{{0.1, 0.09, 0.02}, {0.09, 0.1, 0.02}, {0.02, 0.02, 0.1}}),
		"one has no tracks": row([]voice{{f0: 233.9, bright: 1}, {f0: 349.5, bright: 1}}, []float64{233.08, 349.23}, [][]float64{{0.1, 0.02}, {0.02, 0.1}}),
	}
	for _, in := range out {
		for c := range in.Chairs {
			in.Chairs[c].Baseline = -20 // some are above it, some below
		}
	}
	in := out["one has no tracks"]
	in.Chairs = append(in.Chairs, Chair{ID: 9, Expected: 466.16, Own: OneMic{Hz: 466, CI95: 2, Spread: 3, Drift: 1, Level: -30}})
	out["one has no tracks"] = in
	return out
}

// same compares two answers to one row.
func same(t *testing.T, what string, was, is Result) {
	t.Helper()
	if len(was.Chairs) != len(is.Chairs) || was.Fallback != is.Fallback {
		t.Fatalf("%s: %+v, was %+v", what, is, was)
	}
	for c, a := range was.Chairs {
		b := is.Chairs[c]
		if a.Verdict != b.Verdict || a.ID != b.ID || a.OneMic != b.OneMic || a.BalanceKnown != b.BalanceKnown {
			t.Errorf("%s: chair %d is %+v, was %+v", what, a.ID, b, a)
			continue
		}
		for _, x := range []struct {
			name     string
			a, b, by float64
		}{
			{"Hz", float64(a.Hz), float64(b.Hz), 1e-6 * float64(a.Hz)}, {"CI95", float64(a.CI95), float64(b.CI95), 1e-2}, {"from", a.From, b.From, 1e-6}, {"to", a.To, b.To, 1e-6},
			{"spread", float64(a.Spread), float64(b.Spread), 0.05}, {"drift", a.Drift, b.Drift, 0.1}, {"level", float64(a.Level), float64(b.Level), 0.05}, {"balance", a.Balance, b.Balance, 0.05},
		} {
			if math.Abs(x.a-x.b) > x.by {
				t.Errorf("%s: %s of chair %d is %.9g, was %.9g", what, x.name, a.ID, x.b, x.a)
			}
		}
	}
	pairs := func(r Result) string {
		ps := slices.Clone(r.Pairs)
		slices.SortFunc(ps, func(p, q Pair) int { return int(100*(p.A-q.A) + p.B - q.B) })
		return fmt.Sprint(ps)
	}
	if pairs(was) != pairs(is) {
		t.Errorf("%s: pairs %v, were %v", what, is.Pairs, was.Pairs)
	}
}

// copied is a row whose chairs and chunks may be changed.
func copied(in Input) Input {
	in.Chairs = slices.Clone(in.Chairs)
	for c := range in.Chairs {
		in.Chairs[c].Chunks = slices.Clone(in.Chairs[c].Chunks)
	}
	return in
}

// TestSeatsHaveNoOrder: whoever is listed first. Of two that cannot be told apart neither is read, in any order.
func TestSeatsHaveNoOrder(t *testing.T) {
	for what, in := range rows() {
		was := Fit(in)
		turned := copied(in)
		slices.Reverse(turned.Chairs)
		is := Fit(turned)
		slices.Reverse(is.Chairs)
		if what == "two cannot be told apart" {
			for c := range 2 {
				if was.Chairs[c].Hz != 0 || is.Chairs[c].Hz != 0 {
					t.Errorf("%s: %+v, turned %+v", what, was.Chairs[c], is.Chairs[c])
				}
			}
			was.Chairs, is.Chairs, was.Pairs, is.Pairs = was.Chairs[2:], is.Chairs[2:], nil, nil
		}
		same(t, what, was, is)
	}
}

// TestTimeIsCountedFromAnywhere: all clocks an hour later, the stretch that was heard is as much later, and nothing else
// is otherwise.
func TestTimeIsCountedFromAnywhere(t *testing.T) {
	const later = 4096.0 // exact in binary
	for what, in := range rows() {
		was := Fit(in)
		late := copied(in)
		late.Start, late.End = in.Start+later, in.End+later
		for c := range late.Chairs {
			late.Chairs[c].Zero += later
		}
		is := Fit(late)
		for c := range is.Chairs {
			if is.Chairs[c].To != 0 {
				is.Chairs[c].From -= later
				is.Chairs[c].To -= later
			}
		}
		same(t, what, was, is)
	}
}

// TestSamplesAreCountedFromAnywhere: a laptop whose count began earlier, and whose zero is as much earlier.
func TestSamplesAreCountedFromAnywhere(t *testing.T) {
	for what, in := range rows() {
		was := Fit(in)
		early := copied(in)
		for c := range early.Chairs {
			n := int64(c+1) * 48000 // a second for the first, two for the next
			early.Chairs[c].Zero -= float64(n) / testRate
			for i := range early.Chairs[c].Chunks {
				early.Chairs[c].Chunks[i].First += n
			}
		}
		same(t, what, was, Fit(early))
	}
}

// TestMicrophonesDiffer: one that is twice as sensitive hears its player twice as loud, and so was its mezzo-forte:
// no pitch and no balance depends on it.
func TestMicrophonesDiffer(t *testing.T) {
	for what, in := range rows() {
		was := Fit(in)
		other := copied(in)
		gains := []float64{2, 0.5, 4, 1}
		for c := range other.Chairs {
			ch := &other.Chairs[c]
			db := pitch.Level(20 * math.Log10(gains[c]))
			for i := range ch.Chunks {
				ch.Chunks[i].Partials = slices.Clone(ch.Chunks[i].Partials)
				for p := range ch.Chunks[i].Partials {
					ch.Chunks[i].Partials[p].Scale *= gains[c]
				}
			}
			if ch.Baseline != 0 {
				ch.Baseline += db
			}
			ch.Own.Level += db
		}
		is := Fit(other)
		for c := range is.Chairs {
			if is.Chairs[c].Level != 0 {
				is.Chairs[c].Level -= pitch.Level(20 * math.Log10(gains[c]))
			}
		}
		same(t, what, was, is)
	}
}

// TestChunksMayBeOfAnyLength: cut in two where both kinds of frames begin, they say the same.
func TestChunksMayBeOfAnyLength(t *testing.T) {
	for what, in := range rows() {
		was := Fit(in)
		cut := copied(in)
		for c := range cut.Chairs {
			var halves []track.Chunk
			for _, ch := range cut.Chairs[c].Chunks {
				a, b := ch, ch
				a.Partials, b.Partials = nil, nil
				const at = 6000 // samples: five of the slow frames, fifteen of the quick ones
				b.First += at
				for _, p := range ch.Partials {
					n := 2 * at / p.Step
					first, second := p, p
					first.Frames, second.Frames = p.Frames[:n], p.Frames[n:]
					a.Partials, b.Partials = append(a.Partials, first), append(b.Partials, second)
				}
				halves = append(halves, a, b)
			}
			cut.Chairs[c].Chunks = halves
		}
		same(t, what, was, Fit(cut))
	}
}

// TestAChunkBetweenFramesIsNone: in the middle of the window it is a gap, whatever it holds.
func TestAChunkBetweenFramesIsNone(t *testing.T) {
	for what, in := range rows() {
		gap, odd := copied(in), copied(in)
		gap.Chairs[0].Chunks = slices.Delete(gap.Chairs[0].Chunks, 3, 4)
		for _, by := range []int64{-599, -1, 1, 200, 399} {
			odd.Chairs[0].Chunks[3].First = in.Chairs[0].Chunks[3].First + by
			same(t, fmt.Sprintf("%s, %d samples beside", what, by), Fit(gap), Fit(odd))
		}
	}
}

// TestMirroredPlayers: whoever is sharp by so much is flat by as much in the mirror.
func TestMirroredPlayers(t *testing.T) {
	read := func(sign float64) []float64 {
		at := func(hz, cents float64) float64 { return hz * math.Exp2(sign*cents/1200) }
		expected := []float64{233.08, 293.66, 349.23}
		in := row([]voice{{f0: at(233.08, 7), bright: 1}, {f0: at(293.66, -4), bright: 1}, {f0: at(349.23, 11), bright: 1}}, expected,
			[][]float64{{0.1, 0.03, 0.02}, {0.02, 0.08, 0.03}, {0.02, 0.02, 0.09}})
		var out []float64
		for c, r := range Fit(in).Chairs {
			if r.Verdict != Sounding {
				t.Fatalf("chair %d is %s", c, r.Verdict)
			}
			out = append(out, sign*float64(pitch.Between(pitch.Hertz(expected[c]), r.Hz)))
		}
		return out
	}
	sharp, flat := read(1), read(-1)
	for c, want := range []float64{7, -4, 11} {
		if math.Abs(sharp[c]-want) > fitCents || math.Abs(flat[c]-want) > fitCents {
			t.Errorf("chair %d: %.3f and %.3f, want %g", c, sharp[c], flat[c], want)
		}
	}
}

// TestAStrangerChangesNothing: a chair without tracks is passed on, and the others are read as without it.
func TestAStrangerChangesNothing(t *testing.T) {
	for what, in := range rows() {
		was := Fit(in)
		more := copied(in)
		more.Chairs = append(more.Chairs, Chair{ID: 77, Expected: 311.13, Own: OneMic{Hz: 311, CI95: 1, Level: -25}})
		is := Fit(more)
		last := is.Chairs[len(is.Chairs)-1]
		if last.Verdict != NoTracks || last.Hz != 311 || !last.OneMic || !is.Fallback {
			t.Errorf("%s: %+v, fallback %v", what, last, is.Fallback)
		}
		is.Chairs, is.Fallback = is.Chairs[:len(is.Chairs)-1], was.Fallback
		same(t, what, was, is)
	}
}
