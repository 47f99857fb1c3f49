package mutate

import (
	"context"
	"strings"
	"testing"
	"time"
)

// brokenCalc is what becomes of every edit of testdata/calc.
func brokenCalc(t *testing.T, o options) (string, count) {
	t.Helper()
	if testing.Short() {
		t.Skip("compiles a package and runs its tests some fifty times")
	}
	ts, err := load(t.Context(), []string{"./testdata/calc"})
	if err != nil {
		t.Fatal(err)
	}
	var out strings.Builder
	c, err := o.trial(t.Context(), &out, ts[0])
	if err != nil {
		t.Fatal(err)
	}
	return out.String(), c
}

// TestAllEdits: what the tests of calc see is noticed; what they do not come by, what
// makes no difference, and a test that fails by itself are named.
func TestAllEdits(t *testing.T) {
	out, c := brokenCalc(t, options{limit: 2 * time.Second, seed: 1})
	for _, want := range []string{
		"left out: TestBroken: fails without any edit\n",
		"calc.go:47: operator (no test comes here)\n    - func Alone(x float64) float64 { return x*2 + 1 }\n    + func Alone(x float64) float64 { return x/2 + 1 }\n",
	} {
		if !strings.Contains(out, want) {
			t.Errorf("%q is missing in\n%s", want, out)
		}
	}
	for _, line := range strings.Split(out, "\n") {
		if !strings.Contains(line, "calc.go:") {
			continue
		}
		// Besides what no test comes by only these make no difference here: an index
		// and a count that are never negative, and a move of less than a millimetre,
		// which no test asks for.
		if !strings.Contains(line, "no test comes") && !strings.Contains(line, "calc.go:27:") && !strings.Contains(line, "calc.go:33:") && !strings.Contains(line, "calc.go:18:") {
			t.Errorf("survived: %s\n%s", line, out)
		}
	}
	if c.edits < 35 || c.unreached < 3 || c.slow < 1 {
		t.Errorf("%s: need some of each", c)
	}
}

// TestDrawn: the same seed draws the same, another another; no place is drawn twice.
func TestDrawn(t *testing.T) {
	ts, err := load(t.Context(), []string{"./testdata/calc"})
	if err != nil {
		t.Fatal(err)
	}
	names := func(seed uint64) string {
		var out strings.Builder
		for _, e := range draw(ts[0].places(), 12, seed) {
			was, is, line := e.lines()
			if was == is {
				t.Errorf("line %d: no difference in %s", line, was)
			}
			out.WriteString(is + "\n")
		}
		return out.String()
	}
	if names(1) != names(1) || names(1) == names(2) || strings.Count(names(1), "\n") != 12 {
		t.Errorf("seed 1:\n%sseed 2:\n%s", names(1), names(2))
	}
}

// TestWovenKeepsLines: the compiler complains of lines, so they stay where they are.
func TestWovenKeepsLines(t *testing.T) {
	ts, err := load(t.Context(), []string{"./testdata/calc"})
	if err != nil {
		t.Fatal(err)
	}
	s := ts[0].files[0]
	text := string(woven(s, draw(ts[0].places(), 0, 1)))
	if strings.Count(text, "\n") != strings.Count(string(s.text), "\n") || !strings.Contains(text, "mutantQuo(") {
		t.Errorf("got\n%s", text)
	}
}

func TestSwapped(t *testing.T) {
	for was, is := range map[string]string{"pull it out": "push it out", "Higher, please": "lower, please", "still": ""} {
		if got, ok := swapped(was); got != is || ok != (is != "") {
			t.Errorf("%q became %q, want %q", was, got, is)
		}
	}
}

func TestUsage(t *testing.T) {
	for _, args := range [][]string{{}, {"-n", "-1", "./testdata/calc"}, {"-limit", "0", "./testdata/calc"}, {"./testdata/none"}} {
		if err := Run(context.Background(), new(strings.Builder), args); err == nil {
			t.Errorf("%q is taken", args)
		}
	}
}
