// Package start is the page of a double click: on it one chooses to lead or to
// play, and it is where everything ends. It serves this laptop alone, below a
// secret path.
package start

import (
	"context"
	"crypto/rand"
	"embed"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"strings"
	"sync"
	"time"

	"bellrow/cmd/bellrow/plain"
	"bellrow/proto/page"
	"bellrow/proto/phrase"
)

//go:embed assets
var embedded embed.FS

// Deeds is what the page can ask for. Its methods may be called concurrently.
type Deeds interface {
	// Known tells what can be chosen from, and what runs.
	Known(ctx context.Context) Known
	// Lead opens a section's hub, made when there is none of that name, and
	// returns the leader's link. It is the same again while the hub runs.
	Lead(ctx context.Context, section string) (link string, err error)
	// Play opens the player's page and returns its address. hub is the address
	// of one that was found, or empty. It is the same again while the page is open.
	Play(ctx context.Context, hub string) (link string, err error)
}

// Known is what the page shows.
type Known struct {
	Hubs       []Hub    `json:"hubs"`     // on this network
	Sections   []string `json:"sections"` // of this laptop, the last one first
	Seat       string   `json:"seat"`     // of last time, in words; empty at first: the page makes it of
	Player     string   `json:"-"`        // the name that sat there, and
	Instrument string   `json:"-"`        // the instrument as the catalogue names it
	Leading    *Running `json:"leading"`  // nil while it does not run
	Playing    *Running `json:"playing"`
	Trouble    string   `json:"trouble"` // what ended by itself, and what to do: the page makes it of
	Fault      error    `json:"-"`       // its error, nil where nothing did
}

// Hub is one that answered; the one that this laptop was set up for has no name.
type Hub struct {
	Name    string `json:"name"`
	Address string `json:"address"`
}

// Running is a hub or a player's page that is open.
type Running struct {
	Name string `json:"name"`
	Link string `json:"link"`
}

// Server is the page. It is safe for concurrent use.
type Server struct {
	deeds  Deeds
	secret string
	files  *page.Files
	ended  chan struct{}
	end    sync.Once

	mu   sync.Mutex
	seen time.Time // when the page asked last
	now  func() time.Time
}

// New makes the page. It starts nothing. now is the clock of Seen.
func New(d Deeds, now func() time.Time) *Server {
	return &Server{deeds: d, secret: rand.Text(), files: page.Open(embedded, ""), ended: make(chan struct{}), seen: now(), now: now}
}

// URL is the page's address for a listener at addr.
func (s *Server) URL(addr net.Addr) string { return "http://" + addr.String() + "/" + s.secret + "/" }

// Ended is closed when somebody pressed Stop.
func (s *Server) Ended() <-chan struct{} { return s.ended }

// Seen is when a browser last asked for anything; at first, when the page was
// made.
func (s *Server) Seen() time.Time {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.seen
}

// Handler answers everything.
func (s *Server) Handler() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", s.start)
	mux.HandleFunc("GET /start.html", s.start)
	mux.HandleFunc("GET /{name}", func(w http.ResponseWriter, r *http.Request) { s.file(r.PathValue("name"))(w, r) })
	mux.HandleFunc("GET /api/known", func(w http.ResponseWriter, r *http.Request) {
		k := s.deeds.Known(r.Context())
		if k.Player != "" {
			k.Seat = k.Player + ", " + spoken(r).Instrument(k.Instrument)
		}
		for i := range k.Hubs {
			if k.Hubs[i].Name == "" {
				k.Hubs[i].Name = spoken(r).Say("start.hub.school")
			}
		}
		if k.Fault != nil {
			k.Trouble = plain.In(k.Fault, spoken(r))
		}
		page.JSON(w, http.StatusOK, k)
	})
	mux.HandleFunc("POST /api/lead", s.open(func(r *http.Request) (string, error) { return s.deeds.Lead(r.Context(), r.FormValue("section")) }))
	mux.HandleFunc("POST /api/play", s.open(func(r *http.Request) (string, error) { return s.deeds.Play(r.Context(), r.FormValue("hub")) }))
	mux.HandleFunc("POST /api/stop", func(w http.ResponseWriter, _ *http.Request) {
		page.JSON(w, http.StatusOK, struct{}{})
		s.end.Do(func() { close(s.ended) })
	})
	return page.Harden(s.local(http.StripPrefix("/"+s.secret, mux)))
}

// Alive reports whether a page of this kind answers at url.
func Alive(ctx context.Context, url string) bool {
	ctx, cancel := context.WithTimeout(ctx, aliveWithin)
	defer cancel()
	r, err := http.NewRequestWithContext(ctx, http.MethodGet, url+"start.html", nil)
	if err != nil {
		return false
	}
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		return false
	}
	answer.Body.Close()
	return answer.StatusCode == http.StatusOK
}

// aliveWithin is far more than an answer on this laptop takes.
const aliveWithin = 2 * time.Second

// start shows the page in the browser's language.
func (s *Server) start(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Vary", "Accept-Language")
	if _, err := s.files.ServePage(w, r, "start.html", spoken(r), nil); err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
	}
}

// spoken is how a browser wants to be spoken to.
func spoken(r *http.Request) phrase.Tongue {
	return phrase.Start.Asked(r.Header)
}

func (s *Server) file(name string) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if !s.files.Serve(w, r, name) {
			http.NotFound(w, r)
		}
	}
}

// open answers with a link, or with what is wrong and what to do.
func (s *Server) open(do func(*http.Request) (string, error)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		r.Body = http.MaxBytesReader(w, r.Body, maxForm)
		link, err := do(r)
		if err != nil {
			page.JSON(w, http.StatusConflict, map[string]string{"error": plain.In(err, spoken(r))})
			return
		}
		page.JSON(w, http.StatusOK, map[string]string{"link": link})
	}
}

// maxForm is far more than a name takes.
const maxForm = 4 << 10

// local refuses what another machine or another site's page asks for: a name
// that somebody points at 127.0.0.1 has the wrong Host, a page from elsewhere
// the wrong Origin.
func (s *Server) local(next http.Handler) http.Handler {
	same := http.NewCrossOriginProtection().Handler(next)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		at, err := netip.ParseAddrPort(r.Host)
		origin, bad := url.Parse(r.Header.Get("Origin"))
		if err != nil || !at.Addr().IsLoopback() || bad != nil || origin.Host != "" && origin.Host != r.Host {
			http.Error(w, spoken(r).Say("start.refused.host"), http.StatusForbidden)
			return
		}
		if strings.HasPrefix(r.URL.Path, "/"+s.secret+"/") {
			s.mu.Lock()
			s.seen = s.now()
			s.mu.Unlock()
		}
		same.ServeHTTP(w, r)
	})
}
