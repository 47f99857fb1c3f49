package web

import (
	"context"
	"html/template"
	"io"
	"net/http"
	"net/url"
	"strconv"
	"sync"
	"time"

	"bellrow/hub"
	"bellrow/hub/report"
	"bellrow/proto/page"
	"bellrow/proto/phrase"
)

// ReportFunc draws up the report of the open section since a moment, the zero
// time for all that is stored.
type ReportFunc func(ctx context.Context, since time.Time) (report.Report, error)

// reportRoutes adds the report: a page, a file to keep, and a table. They are
// the leader's; a player's own sheet is one of its pages (?chair=ID), to be
// shown or printed for that player alone. ?since=DATE or ?since=all looks
// further back than a season.
func (s *Server) reportRoutes(mux *http.ServeMux) {
	if s.report == nil {
		return
	}
	mux.HandleFunc("GET /report", s.leaderPage(s.getReport))
	mux.HandleFunc("GET /report.html", s.leaderOnly(s.getReportFile(".html", "text/html; charset=utf-8", report.WriteHTML)))
	mux.HandleFunc("GET /report.csv", s.leaderOnly(s.getReportFile(".csv", "text/csv; charset=utf-8", report.WriteCSV)))
	mux.HandleFunc("GET /report.css", func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "text/css; charset=utf-8")
		w.Header().Set("Cache-Control", "no-cache")
		w.Write([]byte(report.Style))
	})
}

// reporter makes one report at a time: a year of a large section takes the
// processor for half a second.
type reporter struct {
	sync.Mutex
	make ReportFunc
}

// wanted draws up the report that a query asks for.
func (s *Server) wanted(ctx context.Context, q url.Values) (report.Report, error) {
	since := time.Now().Add(-report.Season)
	var err error
	switch text := q.Get("since"); text {
	case "":
	case "all":
		since = time.Time{}
	default:
		if since, err = time.ParseInLocation(time.DateOnly, text, time.Local); err != nil {
			return report.Report{}, errNoDate
		}
	}
	s.report.Lock()
	defer s.report.Unlock()
	rep, err := s.report.make(ctx, since)
	rep = rep.In(s.reportTongue())
	if err != nil || !q.Has("chair") {
		return rep, err
	}
	id, err := strconv.ParseInt(q.Get("chair"), 10, 64)
	rep, ok := rep.Of(hub.ChairID(id))
	if err != nil || !ok {
		return rep, hub.ErrNotFound
	}
	return rep, nil
}

var reportShell = template.Must(template.New("report.html").Funcs(page.Words(phrase.Tongue{})).ParseFS(embedded, "assets/report.html"))

// reportPage is what the page around the sheets shows.
type reportPage struct {
	Section string
	Sheets  template.HTML
	// Files is the query of the same report as a file, Longer that of the same
	// over all that is stored, empty when this one is.
	Files, Longer template.URL
	One           bool // a single player's sheet
}

// reportTongue is the section's language, where reports are offered in it.
func (s *Server) reportTongue() phrase.Tongue {
	sec := s.hub.Section()
	return phrase.Report.In(sec.Language, sec.Notes)
}

func (s *Server) getReport(w http.ResponseWriter, r *http.Request) {
	q := r.URL.Query()
	rep, err := s.wanted(r.Context(), q)
	if err != nil {
		s.fail(w, r, err)
		return
	}
	p := reportPage{Section: rep.Section, Files: template.URL(q.Encode()), One: q.Has("chair")}
	if q.Get("since") != "all" {
		q.Set("since", "all")
		p.Longer = template.URL(q.Encode())
	}
	if p.Sheets, err = report.Sheets(rep); err != nil {
		s.fail(w, r, err)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.Header().Set("Cache-Control", "no-store")
	if err := template.Must(reportShell.Clone()).Funcs(page.Words(s.reportTongue())).Execute(w, p); err != nil {
		s.log.Info("report not sent", "err", err)
	}
}

// getReportFile gives a report to keep, as write prints it.
func (s *Server) getReportFile(ext, mime string, write func(io.Writer, report.Report) error) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		rep, err := s.wanted(r.Context(), r.URL.Query())
		if err != nil {
			s.fail(w, r, err)
			return
		}
		attachAs(w, rep.Section+" report", ext, mime)
		if err := write(w, rep); err != nil {
			s.log.Info("report not sent", "err", err)
		}
	}
}
