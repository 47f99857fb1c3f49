package name

import (
	"encoding/csv"
	"strings"
	"testing"
)

// formula reports whether a spreadsheet that splits at sep would take part of
// a line for a formula.
func formula(line string, sep rune) bool {
	r := csv.NewReader(strings.NewReader(line))
	r.Comma, r.LazyQuotes, r.FieldsPerRecord = sep, true, -1
	rows, _ := r.ReadAll()
	for _, row := range rows {
		for _, c := range row {
			if c = strings.TrimLeft(c, ` "`); c != "" && strings.ContainsAny(c[:1], "=+-@") {
				return true
			}
		}
	}
	return false
}

func TestCellsAreNoFormulas(t *testing.T) {
	for _, s := range []string{"=1+1", "+1+1", "-1+1", "@SUM(A1)", " =1", "Ada;=1+1", "Ada,=1+1", "Ada\t=1+1", "Ada|@x", `Ada;"=1`, `a;"";=1`, "a;;=1", "a\n=1", "'=1", "'", "a;'", "Ada", "-12.5"} {
		got := Cell(s)
		for _, sep := range ";,\t|" {
			var line strings.Builder
			w := csv.NewWriter(&line) // as the hub writes it
			w.Write([]string{"x", got, "y"})
			w.Flush()
			if s != "-12.5" && formula(line.String(), sep) {
				t.Errorf("%q, %q: a formula where lines are split at %q", s, line.String(), sep)
			}
		}
		if back := FromCell(got); back != s {
			t.Errorf("%q became %q, then %q", s, got, back)
		}
	}
	if Cell("-12.5") != "-12.5" {
		t.Error("a number became text")
	}
}

func FuzzCell(f *testing.F) {
	f.Add("a;\"=1")
	f.Fuzz(func(t *testing.T, s string) {
		if back := FromCell(Cell(s)); back != s && Cell(s) != s {
			t.Fatalf("%q, %q, %q", s, Cell(s), back)
		}
	})
}
