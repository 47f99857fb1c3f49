package attribute

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"bellrow/proto/pitch"
	"bellrow/proto/track"
	"bellrow/testdata/golden"
)

// TestWalkOfFacts writes down what speaks for each pitch of made-up rows, and how much each set of
// weights makes of it and of facts drawn by chance.
func TestWalkOfFacts(t *testing.T) {
	var out strings.Builder
	line := func(what string, score float64, facts []float64) {
		fmt.Fprintf(&out, "%s score %.5f facts", what, score)
		for _, f := range facts {
			fmt.Fprintf(&out, " %.5f", f)
		}
		out.WriteString("\n")
	}
	for seed := range uint64(6) {
		r := rand.New(rand.NewPCG(seed, 72))
		in := scene(r, 2+int(seed%4))
		if seed%2 == 1 {
			in.End = 1.7 // several windows
		}
		for c := range in.Chairs {
			if r.IntN(2) == 0 {
				in.Chairs[c].Believed, in.Chairs[c].Doubt = pitch.Cents(6*r.NormFloat64()), pitch.Cents(2+4*r.Float64())
			}
		}
		one := in
		w := gather(&one)
		if w.half > 0 {
			for c, list := range w.guesses(w.strands()) {
				for _, x := range list {
					line(fmt.Sprintf("row %d chair %d at first %.4f ± %.4f worth %.4f", seed, c, x.cents, x.sd, x.n), score(firstWeights, x.facts), x.facts)
				}
			}
		}
		p := pool(&in)
		for c, list := range p.chairs {
			for _, cl := range list {
				line(fmt.Sprintf("row %d chair %d at last %.4f spread %.4f from %.3f to %.3f evidence %.5f", seed, c, cl.cents, cl.spread, cl.from, cl.to, cl.evidence()), cl.score, cl.facts)
			}
			for k := range p.all {
				if seed < 2 {
					for _, x := range p.all[k][c] {
						line(fmt.Sprintf("row %d chair %d window %d %.4f", seed, c, k, x.cents), x.score, x.facts)
					}
				}
			}
		}
	}
	r := rand.New(rand.NewPCG(3, 73))
	for range 12 {
		out.WriteString("by chance")
		for _, w := range [][]float64{firstWeights, secondWeights} {
			n := int(math.Sqrt(float64(2*len(w)))) - 1
			if 1+n+n*(n+1)/2 != len(w) {
				t.Fatalf("%d weights fit no number of facts", len(w))
			}
			facts := make([]float64, n)
			for i := range facts {
				facts[i] = 2 * r.NormFloat64()
			}
			fmt.Fprintf(&out, " %.8f", score(w, facts))
		}
		for _, w := range [][]float64{finalWeights, knownWeights} {
			facts := make([]float64, len(w)-1)
			for i := range facts {
				facts[i] = 2 * r.NormFloat64()
			}
			fmt.Fprintf(&out, " %.8f", odds(w, facts))
		}
		out.WriteString("\n")
	}
	golden.Lines(t, "facts.txt", out.String())
}

// A score is the quadratic form of its facts: worked out from its differences, which do not know the
// order of the weights.
func TestScoreIsQuadratic(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 8))
	for n := 1; n < 6; n++ {
		w := make([]float64, 1+n+n*(n+1)/2)
		for i := range w {
			w[i] = r.NormFloat64()
		}
		zero, x, y := make([]float64, n), make([]float64, n), make([]float64, n)
		for i := range x {
			x[i], y[i] = r.NormFloat64(), r.NormFloat64()
		}
		if score(w, zero) != w[0] {
			t.Errorf("of nothing %g, want %g", score(w, zero), w[0])
		}
		add := func(a, b []float64, k float64) []float64 {
			out := make([]float64, n)
			for i := range out {
				out[i] = a[i] + k*b[i]
			}
			return out
		}
		// The second difference of a quadratic form is the same everywhere.
		second := func(at []float64) float64 {
			return score(w, add(at, y, 1)) - 2*score(w, at) + score(w, add(at, y, -1))
		}
		if d := second(x) - second(zero); math.Abs(d) > 1e-9 {
			t.Errorf("%d facts: second differences differ by %g", n, d)
		}
		for i := range zero {
			e := make([]float64, n)
			e[i] = 1
			if d := score(w, e) - score(w, add(zero, e, -1)) - 2*w[1+i]; math.Abs(d) > 1e-9 {
				t.Errorf("fact %d of %d does not weigh %g", i, n, w[1+i])
			}
		}
	}
}

// What is believed before speaks for the pitches near it, to both sides alike, the less the farther
// they lie, and the sharper the less it is doubted; nothing believed speaks for none. A chair in
// five stands elsewhere, so that no pitch is out of the question.
func TestBefore(t *testing.T) {
	if before(&Chair{Believed: 7}, 3) != 0 {
		t.Error("nothing is known, and something is believed")
	}
	for _, believed := range []pitch.Cents{-9, 0, 14} {
		for _, doubt := range []pitch.Cents{1, 3, 8} {
			c := &Chair{Believed: believed, Doubt: doubt}
			last, mass := math.Inf(1), 0.0
			for d := 0.0; d < 50; d += 0.5 {
				up, down := before(c, float64(believed)+d), before(c, float64(believed)-d)
				if math.Abs(up-down) > 1e-9 || up > last || up < math.Log(elsewhereShare)-1e-9 {
					t.Errorf("believed %g ± %g: %g off speaks %g up, %g down, nearer %g", float64(believed), float64(doubt), d, up, down, last)
				}
				last = up
			}
			for x := -200.0; x < 200; x += 0.1 { // over elsewhereCents it is a density
				mass += (math.Exp(before(c, float64(believed)+x)) - elsewhereShare) * 0.1 / elsewhereCents
			}
			if math.Abs(mass-(1-elsewhereShare)) > 1e-3 {
				t.Errorf("believed ± %g: %g of the chairs stand near it", float64(doubt), mass)
			}
		}
	}
	sure, unsure := &Chair{Doubt: 1}, &Chair{Doubt: 8}
	if before(sure, 0) <= before(unsure, 0) || before(sure, 20) >= before(unsure, 20) {
		t.Error("doubt makes no difference")
	}
}

// The windows of a stretch are one long and some short ones, evenly spread over it and a little more.
func TestSpans(t *testing.T) {
	for _, length := range []float64{0.8, shortSpan, 1.2, 1.6, 2, 2.6, 4} {
		for _, from := range []float64{0, 70.5} {
			all := spans(from, from+length)
			if length <= shortSpan {
				if len(all) != 1 || all[0] != [2]float64{from, from + length} {
					t.Errorf("%g s: %v", length, all)
				}
				continue
			}
			if len(all) != 1+shortSpans || all[0][0] != from || math.Abs(all[0][1]-from-min(length, longSpan)) > 1e-12 {
				t.Fatalf("%g s: %v", length, all)
			}
			step := all[2][0] - all[1][0]
			for i, s := range all[1:] {
				if math.Abs(s[1]-s[0]-shortSpan) > 1e-9 || s[1] > from+length+1e-9 || math.Abs(s[0]-all[1][0]-float64(i)*step) > 1e-9 {
					t.Errorf("%g s: window %d is %v, by steps of %g", length, i, s, step)
				}
			}
			if last := all[len(all)-1][1]; math.Abs(all[1][0]-(from-leadIn)) > 1e-9 || math.Abs(last-min(from+length, from+longSpan+leadIn)) > 1e-9 || step <= 0 {
				t.Errorf("%g s: from %g to %g", length, all[1][0], last)
			}
		}
	}
}

// The ballots of both kinds of track are those of the one and of the other; who votes alike adds up.
func TestBallots(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 4))
	in := scene(r, 4)
	w := gather(&in)
	for _, vs := range w.strands() {
		for part := range 3 {
			var sums [3]float64
			var counts [3]int
			for i, kind := range []int{-1, 0, 1} {
				for _, b := range ballots(vs, kind, part) {
					sums[i] += b.weight
					counts[i]++
				}
			}
			if counts[0] != counts[1]+counts[2] || math.Abs(sums[0]-sums[1]-sums[2]) > 1e-9*sums[0] {
				t.Errorf("part %d: %v ballots, weights %v", part, counts, sums)
			}
		}
	}
	bs := []ballot{{-3, 1}, {-1, 2}, {4, 1}}
	share, mean, sd, n := around(bs, -2, 1.5)
	if math.Abs(share-0.75) > 1e-12 || math.Abs(mean+5.0/3) > 1e-12 || math.Abs(sd-math.Sqrt(8.0/9)) > 1e-12 || math.Abs(n-9.0/5) > 1e-12 {
		t.Errorf("%g %g %g %g", share, mean, sd, n)
	}
	if share, mean, sd, n := around(bs, 40, 1); share != 0 || mean != 40 || sd != 0 || n != 0 {
		t.Errorf("of nothing %g %g %g %g", share, mean, sd, n)
	}
}

// A microphone of which one partial came is none that can be used, and a window that is too short
// for a single frame of movement tells nothing and breaks nothing.
func TestTooLittleToUse(t *testing.T) {
	voices := []voice{{f0: 233.9, bright: 1}, {f0: 349.5, bright: 1}}
	in := row(voices, []float64{233.08, 349.23}, [][]float64{{0.1, 0.02}, {0.02, 0.1}})
	keep := func(n int) Input {
		cut := in
		cut.Chairs = append([]Chair(nil), in.Chairs...)
		cut.Chairs[0].Chunks = append([]track.Chunk(nil), in.Chairs[0].Chunks...)
		for i := range cut.Chairs[0].Chunks {
			ch := &cut.Chairs[0].Chunks[i]
			var own []track.Partial
			for _, p := range ch.Partials {
				if p.K%2 == 0 && len(own) < n { // the chair's own lines
					own = append(own, p)
				}
			}
			ch.Partials = own
		}
		return cut
	}
	for n, usable := range map[int]bool{0: false, 1: false, 2: true, 4: true} {
		cut := keep(n)
		w := gather(&cut)
		if w.tracks[0] != usable || !w.tracks[1] {
			t.Errorf("of %d partials: usable %v", n, w.tracks)
		}
	}
	for _, length := range []float64{0.01, 0.05} {
		short := in
		short.End = short.Start + length
		for c, got := range Fit(short).Chairs {
			if got.Verdict == Sounding {
				t.Errorf("%g s: chair %d sounds %v", length, c, got.Hz)
			}
		}
		for c, hz := range Notes(short, []Range{{80, 600}, {80, 600}}) {
			if math.IsNaN(float64(hz)) || length < 0.02 && hz != 0 {
				t.Errorf("%g s: chair %d holds %v", length, c, hz)
			}
		}
	}
	back := in
	back.End = back.Start - 1
	if got := Fit(back).Chairs[0].Verdict; got == Sounding {
		t.Error("a window that ends before it begins sounds")
	}
}
