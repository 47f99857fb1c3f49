package estimate

import (
	"fmt"
	"io"
	"math"
	"slices"
)

// table writes rows as they come, in columns for people.
type table struct {
	w     io.Writer
	err   error
	fresh bool
}

func newTable(w io.Writer) *table { return &table{w: w, fresh: true} }

func (t *table) printf(format string, args ...any) {
	if t.err == nil {
		_, t.err = fmt.Fprintf(t.w, format, args...)
	}
}

func (t *table) note(s string) { t.printf("# %s\n", s) }

// wrong writes a line about a reading that is wrong, and nothing for none.
func (t *table) wrong(line string) {
	if line != "" {
		t.note(line)
	}
}

// accuracy writes one method's errors on one case.
func (t *table) accuracy(what, method, target string, x tally) {
	if t.fresh {
		t.printf("%-44s %-14s %5s %9s %9s %9s %9s %6s %6s  %s\n",
			"errors in cents", "method", "n", "median", "95 %", "worst", "rms/bound", "gross", "taken", "target (median / 95 % / worst)")
		t.fresh = false
	}
	bound := "-"
	if len(x.relative) > 0 {
		bound = fmt.Sprintf("%.2f", rootMeanSquare(x.relative))
	}
	t.printf("%-44s %-14s %5d %9s %9s %9s %9s %6d %6d  %s\n",
		what, method, len(x.errors)+x.gross,
		cents(quantile(x.errors, 0.5)), cents(quantile(x.errors, 0.95)), cents(quantile(x.errors, 1)),
		bound, x.gross, x.taken, target)
}

// figure writes a single figure.
func (t *table) figure(what, value, target string) {
	t.printf("%-44s %-14s %s  target %s\n", what, "bellrow", value, target)
}

func cents(x float64) string {
	if math.IsNaN(x) {
		return "-"
	}
	return fmt.Sprintf("%.4f", x)
}

// quantile returns the q-quantile of x, NaN for none: NaN is printed as a dash
// and goes nowhere else.
func quantile(x []float64, q float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	y := slices.Clone(x)
	slices.Sort(y)
	return y[max(0, min(len(y)-1, int(math.Ceil(q*float64(len(y))))-1))]
}

func rootMeanSquare(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v * v
	}
	return math.Sqrt(sum / float64(len(x)))
}
