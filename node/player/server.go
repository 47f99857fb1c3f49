package player

import (
	"context"
	"crypto/rand"
	"embed"
	"encoding/json"
	"errors"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"strings"
	"sync"

	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/page"
	"bellrow/proto/phrase"
)

//go:embed assets
var embedded embed.FS

// Node is what the page asks of the node behind it. Methods may be called
// concurrently and must not block for long.
type Node interface {
	// SetSetting tells the hub where a slide stands.
	SetSetting(ctx context.Context, s proto.Setting) error
	// Pause stops listening, or goes on.
	Pause(on bool)
	// Warm says that the instrument is warm, however little was heard of it.
	Warm()
	// SetMute says what is in the bell from now on, as proto.Reading has it.
	SetMute(mute string)
	// SetNames says how this player wants notes named; see Wish.Names.
	SetNames(names string)
	// SetLanguage says what this player's page is in, as a tag of BCP 47: chosen by
	// the player, or as the browser reads.
	SetLanguage(tag string, chosen bool)
	// Join takes a seat at a hub. It returns once the wish is noted; how it
	// goes is shown by ShowLink.
	Join(ctx context.Context, w Wish) error
}

// Wish is what a player says once to take a seat. It is remembered by the
// caller for next time.
type Wish struct {
	Hub  string `json:"hub"` // address or link; empty: the hub that was found
	Code string `json:"code"`
	// Sure says that the player has compared the address with the leader's
	// screen: the code may go there although the hub cannot prove itself.
	Sure       bool          `json:"sure,omitempty"`
	Name       string        `json:"name"`
	Part       string        `json:"part,omitempty"`
	Instrument instrument.ID `json:"instrument"`
	// Names is how notes are named for this player, as pitch.Style writes it;
	// empty: as the section has it.
	Names string `json:"names,omitempty"`
	// Language is what the player wants the page to be in; empty: as the browser
	// reads.
	Language string `json:"language,omitempty"`
}

// Config sets up a Server. Node is needed.
type Config struct {
	Node Node
	// Secret is part of the page's path; the same one again gives the page the
	// address it had. Empty means a new one.
	Secret string
	// Last fills the form with what the player said last time.
	Last Wish
	// Mic answers the browser microphone's socket at "mic"; with it the page
	// loads mic.js. Nil when the node has a microphone of its own.
	Mic http.Handler
	// Keep writes the sound of the last note to this laptop, and says where, as
	// a full file name. With it the page offers that after a refusal. An error
	// means that nothing was written.
	Keep func() (path string, err error)
	// Guard stands in front of everything; nil lets in only what this laptop's
	// own page asks for. A page served to other devices brings its own.
	Guard func(http.Handler) http.Handler
	// AssetsDir serves the page from a folder instead of the embedded one.
	AssetsDir string
	Log       *slog.Logger // nil discards
}

// Server is one chair's page. It is safe for concurrent use.
type Server struct {
	node  Node
	mic   http.Handler
	keep  func() (path string, err error)
	guard func(http.Handler) http.Handler
	token string
	files *page.Files
	log   *slog.Logger

	mu      sync.Mutex
	state   state
	viewers map[chan struct{}]struct{}
	closed  bool
}

// New checks the configuration and returns a Server. It starts nothing.
func New(cfg Config) (*Server, error) {
	if cfg.Node == nil {
		return nil, errors.New("player: config without a node")
	}
	s := &Server{node: cfg.Node, mic: cfg.Mic, keep: cfg.Keep, guard: cfg.Guard, token: cfg.Secret, files: page.Open(embedded, cfg.AssetsDir),
		log: cfg.Log, viewers: map[chan struct{}]struct{}{}}
	if s.token == "" {
		s.token = rand.Text()
	}
	s.state.wish = cfg.Last
	s.state.link = Link{State: LinkSearching}
	if s.guard == nil {
		s.guard = local
	}
	if s.log == nil {
		s.log = slog.New(slog.DiscardHandler)
	}
	return s, nil
}

// Close ends what open pages follow; they learn that the seat is gone, or find
// the next one.
func (s *Server) Close() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.closed = true
	for v := range s.viewers {
		delete(s.viewers, v)
		close(v)
	}
}

// Path is where the page lives on its listener: "/", a secret, "/". Mount
// Handler there.
func (s *Server) Path() string { return "/" + s.token + "/" }

// URL returns the page's address for a listener at addr.
func (s *Server) URL(addr net.Addr) string { return "http://" + addr.String() + s.Path() }

// Handler answers everything below Path.
func (s *Server) Handler() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", func(w http.ResponseWriter, r *http.Request) {
		s.reads(r.Header.Get("Accept-Language"))
		s.file("player.html")(w, r)
	})
	mux.HandleFunc("GET /{name}", func(w http.ResponseWriter, r *http.Request) { s.file(r.PathValue("name"))(w, r) })
	mux.HandleFunc("GET /ws", s.watch)
	mux.HandleFunc("GET /api/instruments", s.getInstruments)
	mux.HandleFunc("GET /api/names", s.getNames)
	mux.HandleFunc("GET /api/words", getWords)
	mux.HandleFunc("GET /api/languages", func(w http.ResponseWriter, _ *http.Request) { page.JSON(w, http.StatusOK, phrase.Player.Offered()) })
	mux.HandleFunc("POST /api/language", s.postLanguage)
	mux.HandleFunc("POST /api/names", s.postNames)
	mux.HandleFunc("POST /api/mute", s.postMute)
	mux.HandleFunc("POST /api/join", s.postJoin)
	mux.HandleFunc("POST /api/setting", s.postSetting)
	mux.HandleFunc("POST /api/moved", s.postMoved)
	mux.HandleFunc("POST /api/pause", s.postPause)
	mux.HandleFunc("POST /api/warm", s.postWarm)
	if s.mic != nil {
		mux.Handle("GET /mic", s.mic)
	}
	if s.keep != nil {
		mux.HandleFunc("POST /api/keep", s.postKeep)
	}
	return page.Harden(s.guard(http.StripPrefix(strings.TrimSuffix(s.Path(), "/"), mux)))
}

// local refuses whatever was not addressed to this machine by a page of this
// machine. A name that an attacker points at 127.0.0.1 has the wrong Host; a
// page from elsewhere has the wrong Origin.
func local(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !localHost(r.Host) {
			refuseIn(w, phrase.Player.Asked(r.Header), http.StatusMisdirectedRequest, "wrong-host")
			return
		}
		if !sameOrigin(r) {
			refuseIn(w, phrase.Player.Asked(r.Header), http.StatusForbidden, "wrong-origin")
			return
		}
		next.ServeHTTP(w, r)
	})
}

func localHost(hostport string) bool {
	host := hostport
	if h, _, err := net.SplitHostPort(hostport); err == nil {
		host = h
	}
	if strings.EqualFold(host, "localhost") {
		return true
	}
	ip, err := netip.ParseAddr(strings.Trim(host, "[]"))
	return err == nil && ip.IsLoopback()
}

// sameOrigin reports whether r comes from this very page, or from no page.
// Browsers send an Origin with every POST and every WebSocket (Fetch
// standard; RFC 6455, section 10.2).
func sameOrigin(r *http.Request) bool {
	origins := r.Header.Values("Origin")
	if len(origins) == 0 {
		return true
	}
	u, err := url.Parse(origins[0])
	return err == nil && len(origins) == 1 && u.Scheme == "http" && strings.EqualFold(u.Host, r.Host)
}

func (s *Server) file(name string) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if !s.files.Serve(w, r, name) {
			s.refuse(w, http.StatusNotFound, "not-found")
		}
	}
}

// refuse answers the page, in its language.
func (s *Server) refuse(w http.ResponseWriter, status int, code string) {
	refuseIn(w, s.tongue(), status, code)
}

func refuseIn(w http.ResponseWriter, t phrase.Tongue, status int, code string) {
	what, _, next := t.Parts("player.refused." + code)
	foreign(w, status, code, what, next)
}

// why says an error of the node in the page's language, in general words where it
// has none.
func (s *Server) why(err error, general string) string {
	t := s.tongue()
	if sentence, ok := t.Why(err); ok {
		return sentence
	}
	return t.Say(general)
}

// foreign answers with words that were found.
func foreign(w http.ResponseWriter, status int, code, message, hint string) {
	page.JSON(w, status, map[string]any{"error": proto.Error{Code: code, Message: message, Hint: hint}})
}

// maxBody bounds a post: a name and a few numbers.
const maxBody = 8 << 10

// read decodes a post into v, or answers and reports false.
func (s *Server) read(w http.ResponseWriter, r *http.Request, v any) bool {
	data, err := io.ReadAll(http.MaxBytesReader(w, r.Body, maxBody))
	if err == nil {
		err = json.Unmarshal(data, v)
	}
	if err != nil {
		s.refuse(w, http.StatusBadRequest, "bad-request")
		return false
	}
	return true
}
