package report

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"strconv"

	"bellrow/proto/name"
	"bellrow/proto/phrase"
)

// WriteText prints a report for a terminal.
func WriteText(w io.Writer, r Report) error {
	p := &printer{w: w}
	p.line("%s", r.Section)
	if r.Rehearsals > 0 {
		p.line("%s", r.Between())
	}
	for _, s := range append(r.Words, r.Hints...) {
		p.line("%s", s)
	}
	if r.Watch != nil {
		p.line("\nWhile you rehearsed on %s, over %s minutes:", date(r.Watch.From), whole(r.Watch.Minutes))
		for _, s := range r.Watch.Words {
			p.line("  %s", s)
		}
		for _, c := range watched(*r.Watch, r.tongue) {
			p.line("  %s: %s; %s", c.Label, c.Change, c.Break)
		}
	}
	for _, x := range r.Players {
		p.line("\n%s, %s", x.called(), x.Instrument)
		for _, s := range x.words(r.tongue) {
			p.line("  %s", s)
		}
	}
	return p.err
}

// words say to a player what their page says.
func (p PlayerReport) words(t phrase.Tongue) []string {
	if p.Readings == 0 {
		return []string{t.Say("report.nothing.player")}
	}
	readings, days := t.Say("report.readings", p.Readings), t.Say("report.rehearsals", len(p.Days))
	out := []string{t.Say("report.heard", readings, days, t.Say("report.moves", p.Moves), p.Went)}
	if p.Moves == 0 {
		out[0] = t.Say("report.heard.unmoved", readings, days)
	}
	if s := p.Trend.In(t); s != "" {
		out = append(out, s)
	}
	if p.Watch != nil {
		if s := p.Watch.In(t); s != "" {
			out = append(out, s)
		}
	}
	for _, f := range p.Findings {
		words, try := f.In(t)
		out = append(out, words, t.Say("report.try", try), f.Small(t))
	}
	return out
}

// printer keeps the first error.
type printer struct {
	w   io.Writer
	err error
}

func (p *printer) line(format string, a ...any) {
	if p.err == nil {
		_, p.err = fmt.Fprintf(p.w, format+"\n", a...)
	}
}

// WriteJSON prints a report as one JSON object.
func WriteJSON(w io.Writer, r Report) error {
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	return enc.Encode(r)
}

// csvHead is the first line of a CSV report: a line for each player and
// rehearsal follows.
var csvHead = []string{"date", "label", "name", "instrument", "readings", "offset_cents", "own_cents", "section_cents", "temperature_c", "main_mm", "moves", "moves_that_went_along"}

// WriteCSV prints a report as a table (RFC 4180).
func WriteCSV(w io.Writer, r Report) error {
	days := map[string]SectionDay{}
	for _, d := range r.Days {
		days[d.Date] = d
	}
	c := csv.NewWriter(w)
	c.Write(csvHead)
	for _, p := range r.Players {
		for _, d := range p.Days {
			c.Write([]string{
				d.Date, name.Cell(p.Label), name.Cell(p.Name), p.Instrument, strconv.Itoa(d.Readings), number(d.Offset), number(d.Own),
				optional(days[d.Date].Common), optional(days[d.Date].TemperatureC), number(d.MainMM), strconv.Itoa(d.Moves), strconv.Itoa(d.Went),
			})
		}
	}
	c.Flush()
	return c.Error()
}

func number(x float64) string { return strconv.FormatFloat(x, 'f', 1, 64) }

func whole(x float64) string { return strconv.FormatFloat(x, 'f', 0, 64) }

func optional(x *float64) string {
	if x == nil {
		return ""
	}
	return number(*x)
}
