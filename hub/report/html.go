package report

import (
	"embed"
	"html/template"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"bellrow/hub/history"
	"bellrow/proto/page"
	"bellrow/proto/phrase"
)

//go:embed report.html sheets.html
var templates embed.FS

// Style is the style sheet of the sheets. It takes its colours from the page
// around it: the custom properties paper, well, ink, soft, rule and brass.
//
//go:embed report.css
var Style string

// pages are the templates before a language is known.
var pages = template.Must(template.New("report").Funcs(page.Words(phrase.Tongue{})).Funcs(words(Report{})).ParseFS(templates, "*.html"))

// words are what the templates say in the report's language.
func words(r Report) template.FuncMap {
	t := r.tongue
	return template.FuncMap{
		"called": PlayerReport.called, "date": t.Date, "day": func(at time.Time) string { return t.Date(date(at)) },
		"rows":  func(p PlayerReport) template.HTML { return p.rows(t) },
		"whole": whole, "optional": optional,
		"words":        func(p PlayerReport) []string { return p.words(t) },
		"sectionPlots": Report.plots,
		"plots":        func(p PlayerReport) []template.HTML { return p.plots(t) },
		"watched":      func(w history.Watch) []watchedChair { return watched(w, t) },
		"instrument":   t.Instrument,
		"room":         func(c *float64) string { return optional(degrees(t, c)) },
		"degree":       func() string { return degree(t) },
		"style":        func() template.CSS { return template.CSS(Style) },
	}
}

// spoken are the templates in the report's language.
func (r Report) spoken() *template.Template {
	return template.Must(pages.Clone()).Funcs(page.Words(r.tongue)).Funcs(words(r))
}

// degrees is a temperature in the unit of the language.
func degrees(t phrase.Tongue, c *float64) *float64 {
	if c == nil {
		return nil
	}
	x := t.Degrees(*c)
	return &x
}

// degree is the sign of that unit.
func degree(t phrase.Tongue) string {
	if t.Fahrenheit() {
		return t.Say("report.unit.fahrenheit")
	}
	return t.Say("report.unit.celsius")
}

// WriteHTML prints a report as one page that needs nothing else: the section
// first, then each player, whom no page break cuts in two.
func WriteHTML(w io.Writer, r Report) error { return r.spoken().ExecuteTemplate(w, "report.html", r) }

// Sheets is the same without the page around it, for a page that has Style.
func Sheets(r Report) (template.HTML, error) {
	var b strings.Builder
	err := r.spoken().ExecuteTemplate(&b, "sheets.html", r)
	return template.HTML(b.String()), err
}

func (r Report) plots() []template.HTML {
	t := r.tongue
	common := plot{Title: t.Say("report.plot.common"), Unit: t.Say("report.unit.cents"), Least: 10}
	room := plot{Title: t.Say("report.plot.room"), Unit: degree(t), Least: 4}
	for _, d := range r.Days {
		common.add(t.Date(d.Date), orNaN(d.Common))
		room.add(t.Date(d.Date), orNaN(degrees(t, d.TemperatureC)))
	}
	watch := plot{Title: t.Say("report.plot.watch"), Unit: t.Say("report.unit.cents"), Least: 10}
	if r.Watch != nil {
		for _, m := range r.Watch.Section {
			watch.add(strconv.Itoa(m.Minute), m.Cents)
		}
	}
	return drawn(watch, common, room)
}

func (p PlayerReport) plots(t phrase.Tongue) []template.HTML {
	main := plot{Title: t.Say("report.plot.main"), Unit: t.Say("report.unit.mm"), Least: 10, Low: p.Trend.Low, High: p.Trend.High}
	own := plot{Title: t.Say("report.plot.own"), Unit: t.Say("report.unit.cents"), Least: 10}
	for _, d := range p.Days {
		main.add(t.Date(d.Date), d.MainMM)
		own.add(t.Date(d.Date), d.Own)
	}
	watch := plot{Title: t.Say("report.plot.watch.own"), Unit: t.Say("report.unit.cents"), Least: 10}
	if p.Watch != nil {
		for _, m := range p.Watch.Story {
			watch.add(strconv.Itoa(m.Minute), m.Cents)
		}
	}
	return drawn(watch, main, own)
}

// rows are the lines of a player's table of rehearsals: figures and dates only,
// a hundred thousand cells in a year's report, which a template takes too long
// over.
func (p PlayerReport) rows(t phrase.Tongue) template.HTML {
	var b []byte
	cell := func(x float64, decimals int) {
		b = append(b, "<td>"...)
		b = strconv.AppendFloat(b, x, 'f', decimals, 64)
		b = append(b, "</td>"...)
	}
	for _, d := range p.Days {
		b = append(b, "<tr><td>"...)
		b = append(b, t.Date(d.Date)...)
		b = append(b, "</td>"...)
		cell(float64(d.Readings), 0)
		cell(d.Offset, 1)
		cell(d.Own, 1)
		cell(d.MainMM, 1)
		cell(float64(d.Moves), 0)
		cell(float64(d.Went), 0)
		b = append(b, "</tr>\n"...)
	}
	return template.HTML(b)
}

func (p *plot) add(label string, v float64) {
	p.Labels, p.Values = append(p.Labels, label), append(p.Values, v)
}

func drawn(ps ...plot) []template.HTML {
	var out []template.HTML
	for _, p := range ps {
		if svg := p.SVG(); svg != "" {
			out = append(out, svg)
		}
	}
	return out
}

func orNaN(x *float64) float64 {
	if x == nil {
		return math.NaN()
	}
	return *x
}
