package moves

import (
	"bytes"
	"math"
	"strings"
	"testing"
)

// A small trial must show what the large one does. The bounds are far from what
// 2,000 sections give, so that chance in 30 sections does not decide.
func TestBeliefBeatsTheOthers(t *testing.T) {
	c := DefaultConfig
	c.Sections, c.Policies = 30, "meter,naive,naive2,turns,belief"
	results, err := Play(t.Context(), c)
	if err != nil {
		t.Fatal(err)
	}
	meter, naive, twice, turns, belief := results[0], results[1], results[2], results[3], results[4]
	n := c.Sections
	if meter.All > 0 {
		t.Errorf("%d of %d sections in tune by bending to a meter, want none", meter.All, n)
	}
	if belief.All < naive.All+n/2 || belief.All < twice.All+n/4 {
		t.Errorf("all within 5 cents: belief %d of %d, naive %d, naive with two notes %d", belief.All, n, naive.All, twice.All)
	}
	if b, o := quantile(belief.Minutes, 0.5), quantile(turns.Minutes, 0.5); b > o/2 {
		t.Errorf("%.1f minutes, present rules %.1f, want half at most", b, o)
	}
	if belief.AllButOne < n-2 {
		t.Errorf("more than one chair outside in %d of %d sections", n-belief.AllButOne, n)
	}
	if w := float64(belief.WrongWay) / float64(belief.Moves); w > 0.03 {
		t.Errorf("%.3f of the moves go the wrong way", w)
	}
	if belief.Accused > 1 {
		t.Errorf("%d of %d players accused of holding who did not", belief.Accused, belief.Innocent)
	}
	if m := float64(belief.Many) / float64(belief.Players); m > 0.1 {
		t.Errorf("%.2f of the players play more than four notes", m)
	}
}

// The hub plays the same sections as the others.
func TestTheHubLeads(t *testing.T) {
	c := DefaultConfig
	c.Sections, c.Policies = 4, "hub"
	results, err := Play(t.Context(), c)
	if err != nil {
		t.Fatal(err)
	}
	if r := results[0]; r.Players-r.Outside < r.Players*9/10 {
		t.Errorf("%d of %d players outside", r.Outside, r.Players)
	}
}

func TestPlayIsReproducible(t *testing.T) {
	c := DefaultConfig
	c.Sections, c.Policies = 3, "naive,turns,belief"
	a, err := Play(t.Context(), c)
	if err != nil {
		t.Fatal(err)
	}
	b, err := Play(t.Context(), c)
	if err != nil {
		t.Fatal(err)
	}
	for i := range a {
		if a[i].Moves != b[i].Moves || a[i].Minutes[2] != b[i].Minutes[2] || a[i].Notes != b[i].Notes {
			t.Errorf("%s: the same seeds gave %+v and %+v", a[i].Policy, a[i], b[i])
		}
	}
}

// Whoever never plays, leaves, or plays too early holds nobody up for ever.
func TestTuneUpsEndWhateverPlayersDo(t *testing.T) {
	c := DefaultConfig
	c.Sections, c.Policies = 10, "belief,three,together,unnamed"
	c.Never, c.Leaves, c.Early = 0.1, 0.1, 0.1
	results, err := Play(t.Context(), c)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range results {
		if most := quantile(r.Minutes, 1); most > 10 {
			t.Errorf("%s: a tune-up of %.0f minutes", r.Policy, most)
		}
	}
}

func TestRunPrintsTheTable(t *testing.T) {
	var out bytes.Buffer
	if err := Run(t.Context(), &out, []string{"-sections", "2", "-policies", "meter,naive,belief"}); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"belief", "lips to a meter", "naive rule", "accused", "expected"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("the table lacks %q:\n%s", want, out.String())
		}
	}
	for _, args := range [][]string{{"-sections", "0"}, {"-readings", "blurred"}, {"-policies", "guess"}} {
		if err := Run(t.Context(), &out, args); err == nil {
			t.Errorf("a trial with %v ran", args)
		}
	}
}

func TestQuantileTakesTheInfinite(t *testing.T) {
	x := []float64{2, math.Inf(1), 1, 3}
	if got := quantile(x, 0.5); got != 2 {
		t.Errorf("median %g, want 2", got)
	}
	if got := quantile(x, 0.9); !math.IsInf(got, 1) {
		t.Errorf("90 %% quantile %g, want infinite", got)
	}
}
