package main

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"io/fs"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"sync/atomic"
	"time"

	"bellrow/cmd/bellrow/plain"
	"bellrow/hub"
	"bellrow/hub/access"
	"bellrow/hub/announce"
	"bellrow/hub/handout"
	"bellrow/hub/link"
	"bellrow/hub/mem"
	sheets "bellrow/hub/report"
	"bellrow/hub/retention"
	"bellrow/hub/session"
	"bellrow/hub/sqlite"
	"bellrow/hub/web"
	"bellrow/node/simulate"
	"bellrow/proto"
	"bellrow/proto/instrument"
)

// stationConfig is what a hub process is told.
type stationConfig struct {
	listen   string // HOST:PORT; port 0 takes any free one
	data     string // folder, empty keeps everything in memory
	section  string
	assets   string // folder to serve pages from while editing them
	announce bool
	security security
	log      *slog.Logger
	clock    *simulate.Clock // nil = real time
}

// station is a whole hub: the hub itself, its storage and its doors.
type station struct {
	hub       *session.Session
	store     hub.Store
	cert      *tls.Certificate // nil for plain HTTP
	guard     *access.Guard
	links     *link.Server
	pages     *web.Server
	server    *http.Server
	listener  net.Listener
	announcer *announce.Announcer
	log       *slog.Logger
	// door is where telephones take part, as a link without a code; nil while
	// there is none.
	door atomic.Pointer[string]
}

// closeTimeout is how long pages may take to finish when the hub stops.
const closeTimeout = 2 * time.Second

// openStation opens storage and doors. It starts nothing but the listening
// socket, so that a port in use is known at once.
func openStation(ctx context.Context, c stationConfig) (*station, error) {
	s := &station{log: c.log}
	if err := s.open(ctx, c); err != nil {
		s.close()
		return nil, err
	}
	return s, nil
}

func (s *station) open(ctx context.Context, c stationConfig) (err error) {
	if s.listener, err = access.Open(c.listen); err != nil {
		return listenError(c.listen, err)
	}
	if s.cert, err = c.security.load(c.data); err != nil {
		return err
	}
	if s.store, err = openStore(ctx, c.data, c.log); err != nil {
		return err
	}
	conf := session.Config{Store: s.store, Section: c.section, Log: c.log}
	if c.clock != nil {
		conf.Now, conf.After = c.clock.Now, c.clock.After
	}
	if s.hub, err = session.New(ctx, conf); err != nil {
		return keptFault(c.data, err)
	}
	if s.guard, err = s.newGuard(ctx); err != nil {
		return keptFault(c.data, err)
	}
	if s.links, err = link.New(link.Config{Hub: s.hub, Access: s.guard, Fingerprint: s.fingerprint(), Log: c.log}); err != nil {
		return err
	}
	if s.pages, err = web.New(web.Config{
		Hub: s.hub, Guard: s.guard, Catalogue: instrument.Band,
		Invitation: s.invitation, Report: s.report, Door: s.guard, AssetsDir: c.assets, Log: c.log,
	}); err != nil {
		return err
	}
	mux := http.NewServeMux()
	mux.Handle(proto.NodePath, s.links)
	mux.Handle(handout.Path, s.guard.Protect(handedOut().Handler()))
	mux.Handle("/", s.pages.Handler())
	s.server = access.NewServer(mux, c.log)
	if c.announce {
		if s.announcer, err = s.newAnnouncer(); err != nil {
			return err
		}
	}
	return nil
}

// handedOut gives players the packages that lie beside this program.
func handedOut() *handout.Handout {
	program, err := os.Executable()
	if err != nil {
		return handout.New()
	}
	return handout.New(handout.Folders(program)...)
}

// report draws up the report of the open section.
func (s *station) report(ctx context.Context, since time.Time) (sheets.Report, error) {
	records, err := sheets.Load(ctx, s.store, s.hub.Section(), since)
	if err != nil {
		return sheets.Report{}, err
	}
	return sheets.Make(records), nil
}

// openStore opens the data folder, or memory when dir is empty.
func openStore(ctx context.Context, dir string, log *slog.Logger) (hub.Store, error) {
	if dir == "" {
		return mem.New(), nil
	}
	store, err := sqlite.OpenAlone(ctx, filepath.Join(dir, databaseFile))
	if err != nil {
		return nil, storeError(dir, err)
	}
	doubt, err := retention.Apply(ctx, store, time.Now())
	if err != nil {
		store.Close()
		return nil, storeError(dir, err)
	}
	if !doubt.IsZero() {
		log.Warn("the clock has leapt since the hub ran before, so no old records were erased; if today's date is right, erase them with bellrow report --forget-before", "before", doubt.Format(time.DateOnly))
	}
	if info, err := os.Stat(dir); err == nil && info.Mode().Perm()&0o077 != 0 && runtime.GOOS != "windows" {
		log.Warn("other users of this machine can look into the data folder; take that from them with chmod 700", "folder", dir)
	}
	return store, nil
}

// storeError says what to do about a data folder that does not open.
func storeError(dir string, err error) error {
	switch {
	case errors.Is(err, hub.ErrNewer):
		return plain.Keyed(say("update bellrow on this laptop, or give another folder with --data", "the data folder %s was written by a newer version", dir), "start.fault.newer", dir)
	case errors.Is(err, hub.ErrInUse):
		return plain.Keyed(say("stop the other hub, or give another folder with --data", "another hub is at work on the data folder %s", dir), "start.fault.busy", dir)
	case errors.Is(err, hub.ErrDamaged):
		return plain.Keyed(say("stop everything that uses it, then put the last copy back: bellrow restore COPY; what is there now is kept beside it", "the data in %s is damaged: %v", dir, err), "start.fault.damaged", dir)
	case errors.Is(err, hub.ErrReadOnly), errors.Is(err, fs.ErrPermission):
		return plain.Keyed(say("give a folder you may write to with --data", "the data folder %s cannot be written", dir), "start.fault.read-only", dir)
	case errors.Is(err, hub.ErrFull):
		return plain.Keyed(say("free some space, or give a folder on another disk with --data", "the disk of the data folder %s is full", dir), "start.fault.full", dir)
	}
	return plain.Keyed(say("give another folder with --data, or put the last copy back: bellrow restore COPY", "the data folder %s cannot be opened: %v", dir, err), "start.fault.unopened", dir)
}

// keptFault is storeError for a fault of a data folder that opened; any other error
// stays as it is.
func keptFault(dir string, err error) error {
	for _, fault := range []error{hub.ErrReadOnly, hub.ErrFull, hub.ErrDamaged, hub.ErrMoved} {
		if errors.Is(err, fault) {
			return storeError(dir, err)
		}
	}
	return err
}

// databaseFile is the hub's database inside its data folder.
const databaseFile = "bellrow.db"

func listenError(address string, err error) error {
	switch {
	case inUse(err):
		return plain.Keyed(say("another hub may be running here; stop it, or choose another port: --listen :7441", "%s is in use", address), "start.fault.in-use", address)
	case forbidden(err):
		return plain.Keyed(say("choose a port above 1023: --listen :7440", "this user may not listen at %s", address), "start.fault.forbidden", address)
	}
	return plain.Keyed(say("give --listen HOST:PORT, for example :7440", "cannot listen at %q: %v", address, err), "start.fault.listen", address)
}

// ownNames returns the names under which this machine may be addressed.
func ownNames() []string {
	name, err := os.Hostname()
	if err != nil || name == "" {
		return nil
	}
	short, _, _ := strings.Cut(name, ".")
	return []string{name, short, short + ".local"}
}

// run serves until ctx ends, then closes every door in turn.
func (s *station) run(ctx context.Context) error {
	running, stop := context.WithCancel(context.WithoutCancel(ctx))
	defer stop()
	hubDone := make(chan error, 1)
	go func() { hubDone <- s.hub.Run(running) }()
	announced := make(chan struct{})
	go func() {
		defer close(announced)
		if s.announcer == nil {
			return
		}
		if err := s.announcer.Run(running); err != nil && running.Err() == nil {
			s.log.Warn("the hub is not announced; nodes need its address", "err", err)
		}
	}()
	served := make(chan error, 1)
	go func() { served <- s.server.Serve(s.doors()) }()

	var err error
	select {
	case <-ctx.Done():
	case err = <-served:
	}
	s.pages.Close() // first: laptops whose links are closed have not left
	s.links.Close()
	closing, cancel := context.WithTimeout(context.WithoutCancel(ctx), closeTimeout)
	defer cancel()
	if s.server.Shutdown(closing) != nil {
		s.server.Close()
	}
	stop()
	<-announced
	<-hubDone
	s.close()
	if errors.Is(err, http.ErrServerClosed) {
		err = nil
	}
	return err
}

// close releases what run has not.
func (s *station) close() {
	if s.listener != nil {
		s.listener.Close()
	}
	if s.store != nil {
		s.store.Close()
	}
}

// addresses returns host:port as other laptops reach this hub, best first; a
// hub that listens at one address has only that.
func (s *station) addresses() []string {
	at := s.listener.Addr().(*net.TCPAddr)
	if !at.IP.IsUnspecified() {
		return []string{at.String()}
	}
	var out, later []string
	for _, a := range ownAddresses() {
		hp := netip.AddrPortFrom(a, uint16(at.Port)).String()
		if a.Is4() {
			out = append(out, hp)
		} else {
			later = append(later, hp)
		}
	}
	out = append(out, later...)
	if len(out) == 0 {
		out = []string{net.JoinHostPort("127.0.0.1", strconv.Itoa(at.Port))}
	}
	return out
}

func (s *station) invitation() web.Invitation {
	l := s.playersLink()
	inv := web.Invitation{Code: l.Code, Hub: l.Hub, Fingerprint: l.Fingerprint}
	for _, a := range s.addresses() {
		inv.Links = append(inv.Links, s.scheme()+"://"+a)
	}
	if door := s.door.Load(); door != nil {
		inv.Telephones = *door
	}
	return inv
}

// local is the address of the pages on this laptop.
func (s *station) local() string {
	at := s.listener.Addr().(*net.TCPAddr)
	if at.IP.IsUnspecified() {
		return fmt.Sprintf("%s://localhost:%d/", s.scheme(), at.Port)
	}
	return s.scheme() + "://" + at.String() + "/"
}

// leaderLink opens the leader's row on this laptop.
func (s *station) leaderLink() string { return s.guard.LeaderLink(s.local() + "row") }

// playersLink is what a player's node needs.
func (s *station) playersLink() proto.Link {
	l := proto.Link{Address: s.addresses()[0], Code: s.guard.JoinCode(), Hub: s.hub.ID()}
	if s.cert != nil {
		l.TLS, l.Fingerprint = true, s.fingerprint()
	}
	return l
}

// ownAddresses returns this machine's addresses on the networks it announces
// on, without loopback and link-local ones: those mean something else elsewhere.
func ownAddresses() []netip.Addr {
	var out []netip.Addr
	for _, i := range announce.Interfaces() {
		addrs, err := i.Addrs()
		if err != nil {
			continue
		}
		for _, a := range addrs {
			p, err := netip.ParsePrefix(a.String())
			if err == nil && !p.Addr().IsLoopback() && !p.Addr().IsLinkLocalUnicast() {
				out = append(out, p.Addr())
			}
		}
	}
	return out
}

// newAnnouncer announces on every network, or on loopback alone when the hub
// listens only there.
func (s *station) newAnnouncer() (*announce.Announcer, error) {
	at := s.listener.Addr().(*net.TCPAddr)
	c := announce.Config{Hub: s.hub.ID(), Name: s.hub.Section().Name, Port: at.Port, TLS: s.cert != nil, Log: s.log}
	if ip, ok := netip.AddrFromSlice(at.IP); ok && !ip.IsUnspecified() {
		c.Addresses = []netip.Addr{ip.Unmap()}
		if ip.IsLoopback() {
			c.Interfaces = announce.Loopback
		}
	}
	return announce.New(c)
}
