package solo

import (
	"fmt"
	"io"
	"math"
	"strings"
	"text/tabwriter"

	"bellrow/cmd/bellrow/plain"
	"bellrow/hub/history/study"
	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// JSON prints what a study showed for machines.
func JSON(w io.Writer, id instrument.ID, r study.Report) error {
	return plain.JSON(w, struct {
		study.Report
		Instrument instrument.ID `json:"instrument"`
		Cautions   []string      `json:"cautions"`
	}{r, id, study.Cautions(phrase.Tongue{})})
}

// Print says what a study showed. This is the first moment at which a
// figure is seen.
func Print(w io.Writer, r study.Report) {
	fmt.Fprintln(w)
	for _, line := range r.Words {
		fmt.Fprintln(w, line)
	}
	if r.Try != "" {
		fmt.Fprintf(w, "To try: %s\n", r.Try)
	}
	switch {
	case r.Centre != nil:
		fmt.Fprintf(w, "\nEach attack, from the middle one:%s cents; deviation %.1f (%.1f to %.1f)\n",
			signedList(r.Centre.Cents), r.Centre.SD, r.Centre.Low, r.Centre.High)
	case r.Bend != nil:
		for i, b := range r.Bend.Bends {
			fmt.Fprintf(w, "\nBend %d, as it went:\n", i+1)
			drawPath(w, b.Path)
		}
	case r.HandSlide != nil:
		printHandSlide(w, r.HandSlide)
	case r.Tendencies != nil:
		tw := tabwriter.NewWriter(w, 0, 8, 2, ' ', tabwriter.AlignRight)
		fmt.Fprintln(tw, "\nwritten\tplayed\tcents\ttheory\t")
		for _, n := range r.Tendencies.Notes {
			fmt.Fprintf(tw, "%s\t%s\t%s\t%s\t\n", n.Written, n.Path, signed(n.Offset), signed(n.Theory))
		}
		tw.Flush()
		fmt.Fprintln(w, "Each is one note: the next attack may well lie 2 or 3 cents from it. Theory is where the open tube leans.")
	}
}

// signed writes whole cents with their sign, and none before nought.
func signed(c pitch.Cents) string {
	if r := math.Round(float64(c)); r != 0 {
		return fmt.Sprintf("%+.0f", r)
	}
	return "0"
}

func signedList(cents []pitch.Cents) string {
	var b strings.Builder
	for _, c := range cents {
		b.WriteString(" " + signed(c))
	}
	return b.String()
}

func printHandSlide(w io.Writer, h *study.HandSlideReport) {
	tw := tabwriter.NewWriter(w, 0, 8, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(tw, "\nposition\tway\t5 cents, theory\tyours\t10 cents, theory\tyours\tit went along\t")
	for _, r := range h.Rows {
		own := func(mm float64) string {
			if mm == 0 {
				return "-"
			}
			return fmt.Sprintf("%.1f mm", mm)
		}
		way := "out"
		if r.MovedMM < 0 {
			way = "in"
		}
		fmt.Fprintf(tw, "%.0f\t%s\t%.1f mm\t%s\t%.1f mm\t%s\t%s\t\n", r.Position, way, r.Theory5, own(r.Own5), r.Theory10, own(r.Own10), r.Follow)
	}
	tw.Flush()
	if h.Learned.Moves > 0 {
		fmt.Fprintf(w, "Your millimetres: %s.\n", h.Learned)
	}
}

// Size of a drawn path: columns across the note, rows of 5 cents.
const (
	pathColumns = 60
	pathRow     = 5.0
	pathMost    = 30.0 // cents beyond which a path runs along the edge
)

// drawPath draws a bend, in cents from its straight start.
func drawPath(w io.Writer, path []study.PathPoint) {
	if len(path) < 2 {
		return
	}
	from, to := path[0].Seconds, path[len(path)-1].Seconds
	reach := 2 * pathRow
	for _, p := range path {
		reach = max(reach, min(pathMost, math.Abs(float64(p.Cents))))
	}
	half := int(math.Ceil(reach / pathRow))
	rows := make([][]rune, 2*half+1)
	for i := range rows {
		fill := " "
		if i == half {
			fill = "-"
		}
		rows[i] = []rune(strings.Repeat(fill, pathColumns))
	}
	for _, p := range path {
		col := min(pathColumns-1, int((p.Seconds-from)/(to-from)*pathColumns))
		row := half - int(math.Round(float64(p.Cents)/pathRow))
		rows[min(max(row, 0), len(rows)-1)][col] = '*'
	}
	for i, r := range rows {
		fmt.Fprintf(w, "  %4s  %s\n", signed(pitch.Cents(half-i)*pathRow), strings.TrimRight(string(r), " "))
	}
	fmt.Fprintf(w, "  cents over %.1f seconds\n", to-from)
}
