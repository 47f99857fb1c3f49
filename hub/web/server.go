package web

import (
	"embed"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"slices"
	"strings"
	"sync"
	"time"

	"bellrow/hub"
	"bellrow/hub/access"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/page"
	"bellrow/proto/phrase"
)

//go:embed assets
var embedded embed.FS

// Config sets up a Server. Hub and Guard are needed; the rest may be zero.
type Config struct {
	Hub       Hub
	Guard     Guard
	Catalogue Catalogue
	// Invitation is asked anew for each join page, because addresses change.
	Invitation func() Invitation
	Report     ReportFunc // nil: the pages have none
	Door       Door       // nil: the pages have none
	// AssetsDir serves pages from a folder instead of the embedded ones.
	AssetsDir string
	// FeedEvery spaces the rows that a viewer gets; 0 means DefaultFeedEvery.
	FeedEvery time.Duration
	Log       *slog.Logger // nil discards
}

// Server answers the hub's HTTP requests except the nodes' own socket.
type Server struct {
	hub        Hub
	guard      Guard
	catalogue  Catalogue
	invitation func() Invitation
	assets     *page.Files
	feedEvery  time.Duration
	log        *slog.Logger
	viewers    *access.Pool // open feeds of strangers
	drawing    sync.Mutex
	drawn      map[bool]drawn // by whether names are seen
	reading    sync.Mutex     // held while a score is read
	report     *reporter      // nil for none
	door       Door           // nil for none
	over       chan struct{}  // closed by Close
	closing    sync.Once
}

// New checks the configuration and returns a Server. It starts nothing.
func New(cfg Config) (*Server, error) {
	if cfg.Hub == nil || cfg.Guard == nil {
		return nil, errors.New("web: config without a hub or a guard")
	}
	s := &Server{drawn: map[bool]drawn{}, viewers: access.NewPool(maxViewers, nil), hub: cfg.Hub, guard: cfg.Guard, catalogue: cfg.Catalogue,
		invitation: cfg.Invitation, assets: page.Open(embedded, cfg.AssetsDir), feedEvery: cfg.FeedEvery, log: cfg.Log, door: cfg.Door, over: make(chan struct{})}
	if s.feedEvery <= 0 {
		s.feedEvery = DefaultFeedEvery
	}
	if cfg.Report != nil {
		s.report = &reporter{make: cfg.Report}
	}
	if s.log == nil {
		s.log = slog.New(slog.DiscardHandler)
	}
	if s.invitation == nil {
		s.invitation = func() Invitation { return Invitation{} }
	}
	return s, nil
}

// Close tells every open page that the hub ends. They keep what they show: what
// happens while the hub closes its doors says nothing about the section. A second
// Close is harmless.
func (s *Server) Close() { s.closing.Do(func() { close(s.over) }) }

// pages maps addresses to files. Those of the leader ask for the key.
var pages = map[string]struct {
	file   string
	leader bool
}{
	"/{$}":         {"join.html", false},
	proto.JoinPath: {"join.html", false},
	"/wall":        {"wall.html", false},
	"/row":         {"row.html", true},
	"/setup":       {"setup.html", true},
	"/summary":     {"summary.html", true},
	"/piece":       {"piece.html", true},
}

// Handler returns the whole site, guarded and hardened.
func (s *Server) Handler() http.Handler {
	mux := http.NewServeMux()
	for address, p := range pages {
		h := s.page(p.file)
		if p.leader {
			h = s.leaderPage(h)
		}
		mux.HandleFunc("GET "+address, h)
	}
	mux.HandleFunc("GET /assets/{name}", func(w http.ResponseWriter, r *http.Request) {
		if !s.assets.Serve(w, r, r.PathValue("name")) {
			s.fail(w, r, errNotFound)
		}
	})
	mux.HandleFunc("GET /ws/row", s.watchRow)
	mux.HandleFunc("GET /api/row", s.getRow)
	mux.HandleFunc("GET /api/invitation", s.getInvitation)
	mux.HandleFunc("GET /qr.svg", s.getQR)
	mux.HandleFunc("POST /leader", s.guard.ServeLeader)
	mux.HandleFunc("POST /api/command", s.leaderOnly(s.postCommand))
	mux.HandleFunc("GET /api/chord", s.leaderOnly(s.getChord))
	mux.HandleFunc("GET /api/chords", s.leaderOnly(s.getChords))
	mux.HandleFunc("GET /api/evening", s.leaderOnly(s.getEvening))
	mux.HandleFunc("GET /api/section", s.leaderOnly(s.getSection))
	mux.HandleFunc("GET /api/sections", s.leaderOnly(s.getSections))
	mux.HandleFunc("GET /api/instruments", s.getInstruments)
	mux.HandleFunc("GET /api/names", func(w http.ResponseWriter, r *http.Request) { page.JSON(w, http.StatusOK, s.tongue().Namings()) })
	mux.HandleFunc("GET /api/summary", s.leaderOnly(s.getSummary))
	mux.HandleFunc("GET /summary.csv", s.leaderOnly(s.getSummaryCSV))
	mux.HandleFunc("GET /section.csv", s.leaderOnly(s.getSectionCSV))
	mux.HandleFunc("POST /section.csv", s.leaderOnly(s.postSectionCSV))
	s.pieceRoutes(mux)
	s.reportRoutes(mux)
	s.doorRoutes(mux)
	mux.HandleFunc("/", func(w http.ResponseWriter, r *http.Request) { s.fail(w, r, errNotFound) })
	return page.Harden(s.guard.Protect(mux))
}

// page shows a page in the section's language, and hands it the languages.
func (s *Server) page(file string) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		switch there, err := s.assets.ServePage(w, r, file, s.tongue(), phrase.Leader.Offered()); {
		case err != nil:
			s.fail(w, r, err)
		case !there:
			s.fail(w, r, errNotFound)
		}
	}
}

// tongue is how the section is spoken to.
func (s *Server) tongue() phrase.Tongue {
	sec := s.hub.Section()
	return phrase.Leader.In(sec.Language, sec.Notes)
}

// leaderPage shows a page of explanation to somebody without the key.
func (s *Server) leaderPage(next http.HandlerFunc) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if s.guard.IsLeader(r) {
			next(w, r)
			return
		}
		w.Header().Set("Cache-Control", "no-store")
		http.Redirect(w, r, "/?leader=no", http.StatusSeeOther)
	}
}

func (s *Server) leaderOnly(next http.HandlerFunc) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if !s.guard.IsLeader(r) {
			s.fail(w, r, errNotLeader)
			return
		}
		next(w, r)
	}
}

// maxBody bounds what a leader's page may send: a set-up of 120 chairs with
// slides takes about 60 kB.
const maxBody = 1 << 20

// postCommand runs one command. It answers {"ok":true} once the hub has it;
// the new row comes through the socket.
func (s *Server) postCommand(w http.ResponseWriter, r *http.Request) {
	body, err := io.ReadAll(http.MaxBytesReader(w, r.Body, maxBody))
	if err != nil {
		s.fail(w, r, errTooBig)
		return
	}
	var c hub.Command
	if err := json.Unmarshal(body, &c); err != nil {
		s.fail(w, r, errBadCommand)
		return
	}
	if err := s.hub.Command(r.Context(), c); err != nil {
		s.fail(w, r, fmt.Errorf("command %s: %w", c.Do, err))
		return
	}
	page.JSON(w, http.StatusOK, map[string]bool{"ok": true})
}

func (s *Server) getSection(w http.ResponseWriter, r *http.Request) {
	page.JSON(w, http.StatusOK, s.hub.Section())
}

func (s *Server) getSections(w http.ResponseWriter, r *http.Request) {
	all, err := s.hub.Sections(r.Context())
	if err != nil {
		s.fail(w, r, err)
		return
	}
	type line struct {
		ID     int64  `json:"id"`
		Name   string `json:"name"`
		Chairs int    `json:"chairs"`
	}
	lines := make([]line, 0, len(all))
	for _, sec := range all {
		lines = append(lines, line{sec.ID, sec.Name, len(sec.Chairs)})
	}
	page.JSON(w, http.StatusOK, lines)
}

// getInstruments lists the instruments as the section calls them.
func (s *Server) getInstruments(w http.ResponseWriter, r *http.Request) {
	t, list := s.tongue(), []instrument.Instrument{}
	if s.catalogue != nil {
		for _, in := range s.catalogue() {
			said := *in
			said.Name, said.Slides = t.Instrument(in.Name), slices.Clone(in.Slides)
			for i := range said.Slides {
				said.Slides[i].Name = t.Slide(said.Slides[i].Name)
			}
			list = append(list, said)
		}
	}
	page.JSON(w, http.StatusOK, list)
}

// plainSentence makes a sentence of an error text: without the package and
// command prefixes, with a capital and a full stop.
func plainSentence(text string) string {
	for {
		head, rest, found := strings.Cut(text, ": ")
		if !found || strings.Contains(strings.TrimPrefix(head, "command "), " ") {
			break
		}
		text = rest
	}
	if text == "" {
		return "That did not work."
	}
	return sentenceOf(text)
}
