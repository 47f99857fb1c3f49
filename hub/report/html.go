package report

import (
	"embed"
	"html/template"
	"io"
	"math"
	"strconv"
	"strings"
)

//go:embed report.html sheets.html
var templates embed.FS

// Style is the style sheet of the sheets. It takes its colours from the page
// around it: the custom properties paper, well, ink, soft, rule and brass.
//
//go:embed report.css
var Style string

var pages = template.Must(template.New("report").Funcs(template.FuncMap{
	"called": PlayerReport.called, "words": PlayerReport.words, "plots": PlayerReport.plots, "rows": PlayerReport.rows,
	"sectionPlots": Report.plots, "watched": watched, "date": date, "whole": whole, "optional": optional,
	"style": func() template.CSS { return template.CSS(Style) },
}).ParseFS(templates, "*.html"))

// WriteHTML prints a report as one page that needs nothing else: the section
// first, then each player, whom no page break cuts in two.
func WriteHTML(w io.Writer, r Report) error { return pages.ExecuteTemplate(w, "report.html", r) }

// Sheets is the same without the page around it, for a page that has Style.
func Sheets(r Report) (template.HTML, error) {
	var b strings.Builder
	err := pages.ExecuteTemplate(&b, "sheets.html", r)
	return template.HTML(b.String()), err
}

func (r Report) plots() []template.HTML {
	common := plot{Title: "The section as one, against its usual", Unit: "cents", Least: 10}
	room := plot{Title: "The room, as typed", Unit: "°C", Least: 4}
	for _, d := range r.Days {
		common.add(d.Date, orNaN(d.Common))
		room.add(d.Date, orNaN(d.TemperatureC))
	}
	watch := plot{Title: "While the section rehearsed, by minute", Unit: "cents", Least: 10}
	if r.Watch != nil {
		for _, m := range r.Watch.Section {
			watch.add(strconv.Itoa(m.Minute), m.Cents)
		}
	}
	return drawn(watch, common, room)
}

func (p PlayerReport) plots() []template.HTML {
	main := plot{Title: "Main slide at the end of the rehearsal", Unit: "mm out", Least: 10, Low: p.Trend.Low, High: p.Trend.High}
	own := plot{Title: "Your instrument with the slide at its usual place, the room taken out", Unit: "cents", Least: 10}
	for _, d := range p.Days {
		main.add(d.Date, d.MainMM)
		own.add(d.Date, d.Own)
	}
	watch := plot{Title: "Your pitch while the section rehearsed, by minute", Unit: "cents", Least: 10}
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
func (p PlayerReport) rows() template.HTML {
	var b []byte
	cell := func(x float64, decimals int) {
		b = append(b, "<td>"...)
		b = strconv.AppendFloat(b, x, 'f', decimals, 64)
		b = append(b, "</td>"...)
	}
	for _, d := range p.Days {
		b = append(b, "<tr><td>"...)
		b = append(b, d.Date...)
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
