package web

import (
	"encoding/csv"
	"fmt"
	"net/http"
	"strings"

	"bellrow/hub/show"
	"bellrow/proto/name"
	"bellrow/proto/page"
	"bellrow/proto/phrase"
)

func (s *Server) getSummary(w http.ResponseWriter, r *http.Request) {
	page.JSON(w, http.StatusOK, newSummaryPage(s.hub.Summary(), s.tongue()))
}

// getSummaryCSV gives one line per chair, readings in one column each.
func (s *Server) getSummaryCSV(w http.ResponseWriter, r *http.Request) {
	sum := s.hub.SummaryInEnglish()
	attach(w, sum.Section+" summary")
	if err := writeSummaryCSV(csv.NewWriter(w), sum); err != nil {
		s.log.Info("summary not sent", "err", err)
	}
}

func writeSummaryCSV(w *csv.Writer, sum show.Summary) error {
	most := 0
	for _, c := range sum.Chairs {
		most = max(most, len(c.Readings))
	}
	head := []string{"chair", "name", "instrument", "verdict", "moves", "follow-through", "words"}
	for i := range most {
		head = append(head, fmt.Sprintf("reading %d, cents", i+1))
	}
	if err := w.Write(head); err != nil {
		return err
	}
	for _, c := range sum.Chairs {
		line := []string{c.Label, c.Name, c.Instrument, c.Verdict, strings.Join(c.Moves, "; "), c.FollowThrough, c.Words}
		for i := range most {
			cell := ""
			if i < len(c.Readings) {
				cell = fmt.Sprintf("%.1f", c.Readings[i])
			}
			line = append(line, cell)
		}
		if err := w.Write(safeCells(line)); err != nil {
			return err
		}
	}
	w.Flush()
	return w.Error()
}

// attach names the CSV file a browser saves.
func attach(w http.ResponseWriter, name string) { attachAs(w, name, ".csv", "text/csv; charset=utf-8") }

// attachAs names the file a browser saves.
func attachAs(w http.ResponseWriter, name, ext, mime string) {
	clean := strings.Map(func(r rune) rune {
		if r == ' ' || r == '-' || r >= '0' && r <= '9' || r >= 'A' && r <= 'Z' || r >= 'a' && r <= 'z' {
			return r
		}
		return -1
	}, name)
	w.Header().Set("Content-Type", mime)
	w.Header().Set("Content-Disposition", fmt.Sprintf("attachment; filename=%q", strings.TrimSpace(clean)+ext))
	w.Header().Set("Cache-Control", "no-store")
}

// safeCells keeps a spreadsheet from running a cell that a player's name
// turned into a formula.
func safeCells(cells []string) []string {
	for i, c := range cells {
		cells[i] = name.Cell(c)
	}
	return cells
}

// summaryPage is a Summary with its drawing placed.
type summaryPage struct {
	show.Summary
	Used  string `json:"used"`
	Scale Scale  `json:"scale"` // here in cents
	// Most is what most chairs have to do, said once instead of at each.
	Most   string         `json:"most,omitempty"`
	Chairs []summaryChair `json:"chairs"`
}

type summaryChair struct {
	show.ChairSummary
	// Points are the readings' places, percent of the width, oldest first;
	// Path says them in words.
	Points []float64 `json:"points"`
	Path   string    `json:"path"`
	// Now says in a word where the chair stands: "set", "a little sharp".
	Now string `json:"now"`
}

func newSummaryPage(sum show.Summary, t phrase.Tongue) summaryPage {
	p := summaryPage{Summary: sum, Used: minutes(sum.Seconds, t), Chairs: make([]summaryChair, 0, len(sum.Chairs)), Most: shared(sum.Chairs, t)}
	const cents = 40 // either side of the line; farther readings stand at the edge
	p.Scale = Scale{MM: cents}
	for _, c := range []float64{-40, -20, 0, 20, 40} {
		// Sharp stands on the left, as on the row.
		p.Scale.Ticks = append(p.Scale.Ticks, Tick{At: place(-c, cents), Label: signed(c)})
	}
	for _, c := range sum.Chairs {
		sc := summaryChair{ChairSummary: c, Points: []float64{}, Path: centsList(c.Readings), Now: standsNow(c, t)}
		if c.Words == p.Most {
			sc.Words = ""
		}
		sc.FollowThrough = sentenceOf(c.FollowThrough)
		for _, x := range c.Readings {
			sc.Points = append(sc.Points, place(-x, cents))
		}
		p.Chairs = append(p.Chairs, sc)
	}
	p.Summary.Chairs = nil
	return p
}

// standsNow is one word or two on where a chair stands at the end.
func standsNow(c show.ChairSummary, t phrase.Tongue) string {
	n := len(c.Readings)
	switch {
	case c.Verdict == verdictSet:
		return t.Say("row.word.set")
	case c.Verdict == verdictDoubt:
		return t.Say("row.word.doubt")
	case c.Verdict == "" || n == 0:
		return ""
	}
	return offWord(c.Readings[n-1], c.Verdict, t)
}

// shared is what stands beside at least three chairs and more than half of all,
// empty where nothing does.
func shared(chairs []show.ChairSummary, t phrase.Tongue) string {
	count := map[string]int{}
	for _, c := range chairs {
		if n := count[c.Words] + 1; c.Words != "" && c.Words != standsNow(c, t) {
			count[c.Words] = n
			if n >= 3 && 2*n > len(chairs) {
				return c.Words
			}
		}
	}
	return ""
}
