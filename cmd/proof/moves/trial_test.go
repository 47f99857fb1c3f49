package moves

import (
	"bytes"
	"math"
	"strings"
	"testing"
)

// A small trial must show what the large one does: advice brings chairs in
// tune that bending to a meter never does, with few moves and few mistakes.
// The bounds are far from what 200 sections give, so that chance in 12
// sections does not decide.
func TestAdviceBeatsMeterAndNaiveRule(t *testing.T) {
	c := DefaultConfig
	c.Sections, c.Rounds = 12, 4
	results, err := Play(t.Context(), c)
	if err != nil {
		t.Fatal(err)
	}
	advised, meter, naive := results[0], results[1], results[2]
	if advised.InTuneAfter2 < 0.88 {
		t.Errorf("%.0f %% of chairs in tune after two rounds of advice, want at least 88", 100*advised.InTuneAfter2)
	}
	if advised.InTuneAfter2 < naive.InTuneAfter2+0.1 || advised.InTuneAfter2 < meter.InTuneAfter2+0.3 {
		t.Errorf("chairs in tune: advice %.2f, naive rule %.2f, meter %.2f", advised.InTuneAfter2, naive.InTuneAfter2, meter.InTuneAfter2)
	}
	if meter.Within(4) > 0 {
		t.Errorf("%.2f of the sections in tune by bending to a meter, want none", meter.Within(4))
	}
	if m := float64(advised.Moves) / float64(advised.Players); m > 1.5 {
		t.Errorf("%.2f moves for each player", m)
	}
	if w := float64(advised.WrongWay) / float64(advised.Moves); w > 0.05 {
		t.Errorf("%.3f of the moves go the wrong way", w)
	}
	if advised.Accused > 1 {
		t.Errorf("%d of %d players accused of holding who did not", advised.Accused, advised.Innocent)
	}
}

func TestPlayIsReproducible(t *testing.T) {
	c := DefaultConfig
	c.Sections = 3
	a, err := Play(t.Context(), c)
	if err != nil {
		t.Fatal(err)
	}
	b, err := Play(t.Context(), c)
	if err != nil {
		t.Fatal(err)
	}
	for i := range a {
		if a[i].Moves != b[i].Moves || a[i].InTuneAfter2 != b[i].InTuneAfter2 || a[i].Notes != b[i].Notes {
			t.Errorf("%s: the same seeds gave %+v and %+v", a[i].Policy, a[i], b[i])
		}
	}
}

func TestRunPrintsTheTable(t *testing.T) {
	var out bytes.Buffer
	if err := Run(t.Context(), &out, []string{"-sections", "2", "-rounds", "2"}); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"bellrow", "lips to a meter", "naive rule", "wrongly accused of holding", "holders missed"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("the table lacks %q:\n%s", want, out.String())
		}
	}
	if err := Run(t.Context(), &out, []string{"-sections", "0"}); err == nil {
		t.Error("a trial of no sections ran")
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
