// Package remote lets players take part with a telephone or a tablet: their
// page is served from the leader's laptop over TLS, because browsers give no
// microphone to a page without it, and their node runs there too.
//
// Such a player's sound crosses the network, encrypted, is read on the
// leader's laptop and is not kept; only a player who wants that opens this
// page. Laptops keep their sound to themselves with a node of their own.
//
// A Lobby checks the join code at the door, makes a player for each visitor,
// and ends those whose page has been gone for a while. Players of an earlier
// start are at their seats before anybody knocks, so that a telephone comes back
// by itself. What a player is, the caller decides.
package remote

import (
	"context"
	"embed"
	"encoding/json"
	"errors"
	"log/slog"
	"net"
	"net/http"
	"strings"
	"sync"
	"time"

	"bellrow/proto"
	"bellrow/proto/page"
	"bellrow/proto/phrase"
)

//go:embed assets
var embedded embed.FS

// Player is one visitor's page and node.
type Player interface {
	// Path is where the page lives: "/", a secret, "/".
	Path() string
	// Handler answers everything below Path.
	Handler() http.Handler
	// Run runs the node until ctx is done.
	Run(ctx context.Context) error
	// Busy reports whether the player sounds or is called just now.
	Busy() bool
	// Forget drops what is kept of the player: the seat has been given up. It
	// is called once Run has returned.
	Forget()
}

// Defaults of a Lobby.
const (
	// DefaultMost is how many players a lobby takes: forty are a large band,
	// and one core carries them.
	DefaultMost = 40
	// DefaultAway is how long a player's page may be closed before the seat's
	// node ends: a telephone in a pocket during the break keeps its seat.
	DefaultAway = 30 * time.Minute
	// perAddress is how many seats one address has at most: a telephone has one,
	// and perhaps that of a page it has lost.
	perAddress = 3
	// lookEvery is how often the lobby looks for pages that are gone.
	lookEvery = 10 * time.Second
)

// ErrFull is returned by a door that has let in as many as it can.
var ErrFull = errors.New("remote: every place for a telephone is taken")

// Config sets up a Lobby. Admit and New are needed.
type Config struct {
	// Admit checks the join code of a request: nil lets it in.
	Admit func(r *http.Request, code string) error
	// New makes a player, at a remote address, who joins the hub with code.
	New func(address, code string) (Player, error)
	// Kept are players of an earlier start, at the same paths.
	Kept []Player
	// Most bounds the players; zero means DefaultMost.
	Most int
	// Away is how long a page may be gone; zero means DefaultAway.
	Away time.Duration
	Log  *slog.Logger // nil discards
}

// Lobby is the door for telephones. It is safe for concurrent use.
type Lobby struct {
	config Config
	files  *page.Files
	log    *slog.Logger

	mu      sync.Mutex
	ctx     context.Context // of Run; nil before and after it
	players map[string]*visitor
	running sync.WaitGroup
}

// visitor is a player with what the lobby knows of the page.
type visitor struct {
	Player
	address string
	handler http.Handler
	stop    context.CancelFunc
	ending  bool
	open    int       // requests and sockets under way
	left    time.Time // when the last of them ended
}

// New checks the configuration. It starts nothing.
func New(c Config) (*Lobby, error) {
	if c.Admit == nil || c.New == nil {
		return nil, errors.New("remote: a door and a maker of players are needed")
	}
	if c.Most == 0 {
		c.Most = DefaultMost
	}
	if c.Away == 0 {
		c.Away = DefaultAway
	}
	if c.Log == nil {
		c.Log = slog.New(slog.DiscardHandler)
	}
	l := &Lobby{config: c, files: page.Open(embedded, ""), log: c.Log, players: map[string]*visitor{}}
	for _, p := range c.Kept {
		l.place(p, "")
	}
	return l, nil
}

// place gives a player a seat. Callers hold mu, or are the only ones yet.
func (l *Lobby) place(p Player, address string) *visitor {
	v := &visitor{Player: p, address: address, handler: p.Handler(), stop: func() {}, left: time.Now()}
	l.players[p.Path()] = v
	return v
}

// start runs a player's node; callers hold mu.
func (l *Lobby) start(v *visitor) {
	ctx, stop := context.WithCancel(l.ctx)
	v.stop = stop
	l.running.Go(func() {
		defer stop()
		if err := v.Run(ctx); err != nil && ctx.Err() == nil {
			l.log.Warn("a telephone's node ended", "err", err)
		}
		l.mu.Lock()
		defer l.mu.Unlock()
		delete(l.players, v.Path())
		if v.ending {
			v.Forget()
		}
	})
}

// Run lets players in until ctx is done, and returns when all of them have
// ended.
func (l *Lobby) Run(ctx context.Context) error {
	l.mu.Lock()
	l.ctx = ctx
	for _, v := range l.players {
		l.start(v)
	}
	l.mu.Unlock()
	tick := time.NewTicker(lookEvery)
	defer tick.Stop()
	for {
		select {
		case now := <-tick.C:
			l.sweep(now)
		case <-ctx.Done():
			l.mu.Lock()
			l.ctx = nil
			l.mu.Unlock()
			l.running.Wait()
			return ctx.Err()
		}
	}
}

// sweep ends the players whose page has been gone for too long.
func (l *Lobby) sweep(now time.Time) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for _, v := range l.players {
		if v.open == 0 && now.Sub(v.left) > l.config.Away {
			v.ending = true
			v.stop()
		}
	}
}

// seats counts the seats that are not about to end, of an address or, for "",
// of all; callers hold mu.
func (l *Lobby) seats(address string) (n int) {
	for _, v := range l.players {
		if !v.ending && (address == "" || v.address == address) {
			n++
		}
	}
	return n
}

// yield ends one seat to make room: of an address or, for "", of the one
// that has the most. Who sounds or is called keeps it; a page that is closed
// goes before one that is open, and the longest idle first. It reports whether
// there is room now; callers hold mu.
func (l *Lobby) yield(address string) bool {
	var out *visitor
	less := func(a, b *visitor) bool {
		if x, y := l.seats(a.address), l.seats(b.address); address == "" && x != y {
			return x > y
		}
		if (a.open == 0) != (b.open == 0) {
			return a.open == 0
		}
		return a.left.Before(b.left)
	}
	for _, v := range l.players {
		if !v.ending && (address == "" || v.address == address) && !v.Busy() && (out == nil || less(v, out)) {
			out = v
		}
	}
	if out == nil {
		return false
	}
	out.ending = true
	out.stop()
	return true
}

// enter makes a player for somebody at an address and starts it.
func (l *Lobby) enter(address, code string) (path string, err error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.ctx == nil {
		return "", errors.New("remote: the hub is closing")
	}
	if l.seats(address) >= perAddress && !l.yield(address) || l.seats("") >= l.config.Most && !l.yield("") {
		return "", ErrFull
	}
	p, err := l.config.New(address, code)
	if err != nil {
		return "", err
	}
	l.start(l.place(p, address))
	return p.Path(), nil
}

// Handler answers the door and every player's page. It checks neither Host nor
// Origin: put it behind the hub's guard.
func (l *Lobby) Handler() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", l.door)
	mux.HandleFunc("GET /assets/{name}", func(w http.ResponseWriter, r *http.Request) { l.file(r.PathValue("name"))(w, r) })
	mux.HandleFunc("POST /enter", l.postEnter)
	mux.HandleFunc("/{secret}/", l.visit)
	return page.Harden(mux)
}

func (l *Lobby) file(name string) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if !l.files.Serve(w, r, name) {
			http.NotFound(w, r)
		}
	}
}

// visit hands a request to the player whose page it is for.
func (l *Lobby) visit(w http.ResponseWriter, r *http.Request) {
	v := l.begin("/" + r.PathValue("secret") + "/")
	if v == nil {
		if r.Method == http.MethodGet && r.Header.Get("Upgrade") == "" {
			http.Redirect(w, r, "/#gone", http.StatusSeeOther)
			return
		}
		refuse(w, r, http.StatusNotFound, "gone")
		return
	}
	defer l.end(v)
	v.handler.ServeHTTP(w, r)
}

func (l *Lobby) begin(path string) *visitor {
	l.mu.Lock()
	defer l.mu.Unlock()
	v := l.players[path]
	if v == nil || v.ending {
		return nil
	}
	v.open++
	return v
}

func (l *Lobby) end(v *visitor) {
	l.mu.Lock()
	defer l.mu.Unlock()
	v.open--
	v.left = time.Now()
}

// maxEnter bounds what is posted at the door: a code.
const maxEnter = 1 << 10

func (l *Lobby) postEnter(w http.ResponseWriter, r *http.Request) {
	var body struct {
		Code string `json:"code"`
	}
	if err := json.NewDecoder(http.MaxBytesReader(w, r.Body, maxEnter)).Decode(&body); err != nil {
		refuse(w, r, http.StatusBadRequest, "bad-request")
		return
	}
	code := strings.TrimSpace(body.Code)
	if err := l.config.Admit(r, code); err != nil {
		l.log.Info("telephone refused", "from", r.RemoteAddr, "err", err)
		refuse(w, r, http.StatusForbidden, "wrong-code")
		return
	}
	address, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		address = r.RemoteAddr
	}
	path, err := l.enter(address, code)
	switch {
	case errors.Is(err, ErrFull):
		refuse(w, r, http.StatusServiceUnavailable, "full")
	case err != nil:
		l.log.Error("no node for a telephone", "err", err)
		refuse(w, r, http.StatusInternalServerError, "no-node")
	default:
		page.JSON(w, http.StatusOK, map[string]string{"path": path})
	}
}

// door shows the page in the browser's language.
func (l *Lobby) door(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Vary", "Accept-Language")
	if _, err := l.files.ServePage(w, r, "phone.html", phrase.Door.Asked(r.Header), nil); err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
	}
}

// refuse answers the door, in its language.
func refuse(w http.ResponseWriter, r *http.Request, status int, code string) {
	message, _, hint := phrase.Door.Asked(r.Header).Parts("door.refused." + code)
	page.JSON(w, status, map[string]any{"error": proto.Error{Code: code, Message: message, Hint: hint}})
}
