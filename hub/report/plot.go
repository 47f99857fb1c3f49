package report

import (
	"fmt"
	"html"
	"html/template"
	"math"
	"strings"
)

// plot is a drawing of values by rehearsal, as SVG. It uses shapes and words,
// no colour that means anything.
type plot struct {
	Title  string
	Unit   string
	Labels []string  // of the rehearsals
	Values []float64 // NaN where nothing is known
	// Low and High shade a band when High is above Low.
	Low, High float64
	// Least is the smallest range of the axis, in Unit.
	Least float64
}

// Size of a plot and its margins, in px.
const (
	plotWide, plotTall      = 640.0, 180.0
	marginLeft, marginRight = 46.0, 12.0
	marginTop, marginBottom = 24.0, 28.0
	plotLabels              = 6 // dates along the axis at most
	plotTicks               = 4 // about so many lines across
)

// leastDots is how many values make a drawing: one evening is a line of the
// table, and no course of anything.
const leastDots = 2

// SVG draws the plot; empty with fewer than leastDots values.
func (p plot) SVG() template.HTML {
	lo, hi, any := p.span()
	if !any || p.known() < leastDots {
		return ""
	}
	x := func(i int) float64 {
		if len(p.Values) == 1 {
			return (marginLeft + plotWide - marginRight) / 2
		}
		return marginLeft + (plotWide-marginLeft-marginRight)*float64(i)/float64(len(p.Values)-1)
	}
	y := func(v float64) float64 {
		return marginTop + (plotTall-marginTop-marginBottom)*(hi-v)/(hi-lo)
	}
	var b strings.Builder
	fmt.Fprintf(&b, `<svg viewBox="0 0 %g %g" role="img" aria-label="%s">`, plotWide, plotTall, html.EscapeString(p.Title))
	fmt.Fprintf(&b, `<title>%s</title><text x="%g" y="14" class="title">%s, %s</text>`, html.EscapeString(p.Title), marginLeft, html.EscapeString(p.Title), html.EscapeString(p.Unit))
	if p.High > p.Low {
		fmt.Fprintf(&b, `<rect class="band" x="%g" y="%.1f" width="%g" height="%.1f"/>`, marginLeft, y(p.High), plotWide-marginLeft-marginRight, y(p.Low)-y(p.High))
	}
	step := tickStep((hi - lo) / plotTicks)
	for v := math.Ceil(lo/step) * step; v <= hi+step/1e6; v += step {
		fmt.Fprintf(&b, `<line class="grid" x1="%g" x2="%g" y1="%.1f" y2="%.1f"/><text x="%g" y="%.1f" class="y">%s</text>`,
			marginLeft, plotWide-marginRight, y(v), y(v), marginLeft-6, y(v)+4, tickText(v))
	}
	every := (len(p.Labels) + plotLabels - 1) / plotLabels
	for i, l := range p.Labels {
		if i%every == 0 {
			fmt.Fprintf(&b, `<text x="%.1f" y="%g" class="x">%s</text>`, x(i), plotTall-8, html.EscapeString(l))
		}
	}
	b.WriteString(p.line(x, y))
	b.WriteString(`</svg>`)
	return template.HTML(b.String()) // every text in it was escaped above
}

// line draws the values: a broken line where rehearsals are missing, a dot for
// each.
func (p plot) line(x func(int) float64, y func(float64) float64) string {
	var path, dots strings.Builder
	pen := "M"
	for i, v := range p.Values {
		if math.IsNaN(v) {
			pen = "M"
			continue
		}
		fmt.Fprintf(&path, "%s%.1f %.1f", pen, x(i), y(v))
		fmt.Fprintf(&dots, `<circle cx="%.1f" cy="%.1f" r="2.5"/>`, x(i), y(v))
		pen = "L"
	}
	return fmt.Sprintf(`<path class="line" d="%s"/>%s`, path.String(), dots.String())
}

// known counts the values.
func (p plot) known() int {
	n := 0
	for _, v := range p.Values {
		if !math.IsNaN(v) {
			n++
		}
	}
	return n
}

// span is the range of the axis.
func (p plot) span() (lo, hi float64, any bool) {
	lo, hi = math.Inf(1), math.Inf(-1)
	take := func(v float64) {
		if !math.IsNaN(v) {
			lo, hi = math.Min(lo, v), math.Max(hi, v)
		}
	}
	for _, v := range p.Values {
		take(v)
	}
	if math.IsInf(lo, 0) {
		return 0, 0, false
	}
	if p.High > p.Low {
		take(p.Low)
		take(p.High)
	}
	pad := math.Max((hi-lo)*0.08, (math.Max(p.Least, 1)-(hi-lo))/2)
	return lo - pad, hi + pad, true
}

// tickStep rounds up to 1, 2 or 5 times a power of ten.
func tickStep(x float64) float64 {
	power := math.Pow(10, math.Floor(math.Log10(x)))
	for _, m := range []float64{1, 2, 5} {
		if m*power >= x {
			return m * power
		}
	}
	return 10 * power
}

func tickText(v float64) string {
	if math.Abs(v) < 1e-9 {
		return "0"
	}
	return strings.Replace(fmt.Sprintf("%.4g", v), "-", "−", 1)
}
