package web_test

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/hub/report"
	"bellrow/hub/web"
	"bellrow/hub/web/webtest"
	"bellrow/proto/page"
	"bellrow/proto/page/browser"
	"bellrow/proto/pitch"
)

// season is the report of the invented section over eight rehearsals, watched
// for an hour each; on the last of them the second chair sinks.
func season(s hub.Section) report.Report {
	r := rand.New(rand.NewPCG(1, 2))
	records := report.Records{Section: s}
	base := s.Reference.Frequency(58)
	first := time.Date(2030, 1, 7, 19, 0, 0, 0, time.Local)
	for d := range 8 {
		at := first.AddDate(0, 0, d)
		for i, c := range s.Chairs {
			records.Figures = append(records.Figures, hub.Figures{Chair: c.ID, At: at, Note: 58, Cents: pitch.Cents(3 * r.NormFloat64()),
				Level: -20, Middle: 1.5, Played: 400, Second: math.Inf(-1)})
			for k := range 12 {
				off := 1.5 * r.NormFloat64()
				if d == 7 && i == 1 {
					off -= 1.5 * float64(k)
				}
				records.Figures = append(records.Figures, hub.Figures{Chair: c.ID, At: at.Add(time.Duration(5*k+10) * time.Minute), Watch: true,
					Hz: base.Shift(pitch.Cents(off)), Level: -20, Middle: 1.5, Played: 900, Second: math.Inf(-1)})
			}
			records.Settings = append(records.Settings, hub.SettingRecord{Chair: c.ID, At: at.Add(time.Minute), Slide: "main", MM: 12 + r.NormFloat64()})
		}
	}
	return report.Make(records)
}

// reporting are the pages with a report, and what moments it was asked for.
func reporting(t testing.TB, g web.Guard) (h http.Handler, section hub.Section, asked *[]time.Time) {
	t.Helper()
	asked = new([]time.Time)
	fake := webtest.New(12, webtest.Done)
	made := season(fake.Section())
	s, err := web.New(web.Config{Hub: fake, Guard: g, Report: func(_ context.Context, since time.Time) (report.Report, error) {
		*asked = append(*asked, since)
		return made, nil
	}})
	if err != nil {
		t.Fatal(err)
	}
	return s.Handler(), fake.Section(), asked
}

// TestReportIsTheLeaders: everybody else is sent away from every form of it.
func TestReportIsTheLeaders(t *testing.T) {
	leader, section, _ := reporting(t, webtest.Guard{})
	other, _, asked := reporting(t, webtest.Guard{Closed: true})
	one := fmt.Sprintf("?chair=%d", section.Chairs[1].ID)
	for _, c := range []struct {
		path, kind string
		refused    int
	}{
		{"/report", "text/html", 303}, {"/report" + one, "text/html", 303},
		{"/report.html" + one, "text/html", 403}, {"/report.csv", "text/csv", 403},
	} {
		if w := ask(other, "GET", c.path, ""); w.Code != c.refused || strings.Contains(w.Body.String(), section.Chairs[1].Label) {
			t.Errorf("%s without the key: %d %s", c.path, w.Code, w.Body)
		}
		w := ask(leader, "GET", c.path, "")
		if w.Code != 200 || !strings.HasPrefix(w.Header().Get("Content-Type"), c.kind) || !strings.Contains(w.Body.String(), section.Chairs[1].Label) {
			t.Errorf("%s for the leader: %d, %s", c.path, w.Code, w.Header().Get("Content-Type"))
		}
		if w.Header().Get("Content-Security-Policy") != page.Policy || w.Header().Get("Cache-Control") != "no-store" {
			t.Errorf("%s: %v", c.path, w.Header())
		}
		if strings.Contains(c.path, "chair") && strings.Contains(w.Body.String(), section.Chairs[2].Label) {
			t.Errorf("%s names another player", c.path)
		}
	}
	if len(*asked) != 0 {
		t.Error("a report was drawn up for somebody without the key")
	}
}

func TestReportSince(t *testing.T) {
	h, _, asked := reporting(t, webtest.Guard{})
	for _, c := range []struct {
		query string
		code  int
		since time.Time
	}{
		{"?since=all", 200, time.Time{}},
		{"?since=2030-01-31", 200, time.Date(2030, 1, 31, 0, 0, 0, 0, time.Local)},
		{"?since=yesterday", 400, time.Time{}},
		{"?chair=no", 404, time.Time{}}, {"?chair=999999", 404, time.Time{}},
	} {
		*asked = nil
		w := ask(h, "GET", "/report"+c.query, "")
		if w.Code != c.code || c.code == 200 && (len(*asked) != 1 || !(*asked)[0].Equal(c.since)) {
			t.Errorf("%s: %d, asked since %v; need %d and %v", c.query, w.Code, *asked, c.code, c.since)
		}
	}
	*asked = nil
	ask(h, "GET", "/report", "")
	if age := time.Since((*asked)[0]); age < report.Season || age > report.Season+time.Minute {
		t.Errorf("without a date the report goes back %v, need %v", age, report.Season)
	}
}

// TestReportPages opens the section's report and a player's sheet, at every
// size and in both themes, and the file to keep, with every rule of axe-core.
func TestReportPages(t *testing.T) {
	h, section, _ := reporting(t, webtest.Guard{})
	mux := http.NewServeMux()
	mux.Handle("/", h)
	mux.HandleFunc("/kept", func(w http.ResponseWriter, r *http.Request) { report.WriteHTML(w, season(section)) })
	srv := httptest.NewServer(mux)
	defer srv.Close()
	b := browser.Open(t)
	for _, p := range []struct{ name, path string }{
		{"report", "/report"}, {"report-sheet", fmt.Sprintf("/report?chair=%d", section.Chairs[1].ID)}, {"report-kept", "/kept"},
	} {
		b.Go(srv.URL + p.path)
		b.Until(p.name, "document.querySelector('.report svg')")
		for _, size := range sizesToShow(sizes) {
			b.Size(size.width, size.height)
			if w := browser.Eval[float64](b, "document.documentElement.scrollWidth"); w > float64(size.width) {
				t.Errorf("%s at %s px is %g px wide and would scroll sideways", p.name, size.name, w)
			}
			for _, theme := range []string{"paper", "stage"} {
				b.Theme(theme)
				b.Shot(p.name + "-" + size.name + "-" + theme)
			}
		}
		browser.Eval[bool](b, "document.querySelectorAll('details').forEach(d => d.open = true); true")
		b.Axe(p.name)
		if p.name == "report-kept" {
			continue // a file's style is its own
		}
		if c := browser.Eval[string](b, "getComputedStyle(document.querySelector('.report .line')).stroke"); c == "none" || c == "rgb(0, 0, 0)" {
			t.Errorf("%s: lines are drawn in %s; the style sheet is not in force", p.name, c)
		}
	}
}

// TestSummaryLeadsToTheReport: from the summary to the report and to each
// player's sheet.
func TestSummaryLeadsToTheReport(t *testing.T) {
	h, section, _ := reporting(t, webtest.Guard{})
	srv := httptest.NewServer(h)
	defer srv.Close()
	b := browser.Open(t)
	b.Go(srv.URL + "/summary")
	b.Until("the lines", "document.querySelectorAll('tbody tr').length === 12")
	browser.Eval[bool](b, "document.querySelector('tbody tr:nth-child(2) th a').click(); true")
	b.Until("the player's sheet", fmt.Sprintf("document.querySelectorAll('.report section').length === 1 && document.querySelector('.report section').textContent.includes(%q)", section.Chairs[1].Label))
	browser.Eval[bool](b, "document.querySelector('nav a[href=\"/report\"]').click(); true")
	b.Until("the section's report", "document.querySelectorAll('.report section').length === 12")
}
