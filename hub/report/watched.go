package report

import (
	"fmt"
	"html"
	"html/template"
	"math"
	"strings"

	"bellrow/hub/history"
	"bellrow/proto/phrase"
)

// watchedChair is one line of the watch's table.
type watchedChair struct {
	Label  string
	Notes  int
	Path   template.HTML // by minute; empty without notes
	Change string        // from the beginning to the end, beyond the section's
	Break  string        // what to do at the break
}

// watched tells a watch by chair, in the order of the seats.
func watched(w history.Watch, t phrase.Tongue) []watchedChair {
	out := make([]watchedChair, len(w.Chairs))
	d := newWatchDrawing(w)
	for i, c := range w.Chairs {
		out[i] = watchedChair{c.Label, c.Notes, d.path(c, t), changeWords(c, t), breakWords(c, t)}
	}
	return out
}

func changeWords(c history.ChairWatch, t phrase.Tongue) string {
	if c.Own.N == 0 {
		return t.Say("report.break.few")
	}
	return t.Say("report.break.change", offOr(t, c.Own.Mean, "report.same"), int(math.Ceil((c.Own.High-c.Own.Low)/2)))
}

func breakWords(c history.ChairWatch, t phrase.Tongue) string {
	mm := int(math.Round(math.Abs(c.MoveMM)))
	switch {
	case mm >= 1 && c.MoveMM > 0:
		return t.Say("report.break.pull", mm)
	case mm >= 1:
		return t.Say("report.break.push", mm)
	case c.Words != "":
		return t.Say("report.break.rest")
	}
	return t.Say("report.break.stays")
}

// Size of a chair's drawing, in px.
const watchWide, watchTall, watchDot = 240.0, 44.0, 2.0

// leastWatchCents is the smallest range of a chair's drawing either side of
// its middle, so that a steady chair looks steady.
const leastWatchCents = 10.0

// watchDrawing draws all chairs of a watch to one scale.
type watchDrawing struct {
	minutes, most float64
	section       string
}

func newWatchDrawing(w history.Watch) watchDrawing {
	d := watchDrawing{minutes: math.Max(w.Minutes, 1), most: leastWatchCents}
	for _, c := range w.Chairs {
		for _, m := range c.Story {
			d.most = math.Max(d.most, math.Abs(m.Cents))
		}
	}
	d.section = d.line(w.Section)
	return d
}

func (d watchDrawing) at(m history.WatchMinute) (x, y float64) {
	x = watchDot + (watchWide-2*watchDot)*math.Min(1, float64(m.Minute)/d.minutes)
	y = watchTall/2 - (watchTall/2-watchDot)*m.Cents/d.most
	return x, y
}

func (d watchDrawing) line(story []history.WatchMinute) string {
	var b strings.Builder
	pen := 'M'
	for _, m := range story {
		x, y := d.at(m)
		fmt.Fprintf(&b, "%c%.1f %.1f", pen, x, y)
		pen = 'L'
	}
	return b.String()
}

func (d watchDrawing) path(c history.ChairWatch, t phrase.Tongue) template.HTML {
	if len(c.Story) == 0 {
		return ""
	}
	first, last := c.Story[0], c.Story[len(c.Story)-1]
	told := t.Say("report.drawn", c.Label, offOr(t, first.Cents, "report.middle"), first.Minute, offOr(t, last.Cents, "report.middle"), last.Minute)
	var b strings.Builder
	fmt.Fprintf(&b, `<svg viewBox="0 0 %g %g" role="img" aria-label="%s">`, watchWide, watchTall, html.EscapeString(told))
	fmt.Fprintf(&b, `<line class="grid" x1="0" x2="%g" y1="%g" y2="%g"/><path class="section" d="%s"/><path class="line" d="%s"/>`,
		watchWide, watchTall/2, watchTall/2, d.section, d.line(c.Story))
	for _, m := range c.Story {
		x, y := d.at(m)
		fmt.Fprintf(&b, `<circle cx="%.1f" cy="%.1f" r="%g"/>`, x, y, watchDot)
	}
	b.WriteString("</svg>")
	return template.HTML(b.String()) // the only text in it was escaped above
}
