package main

import (
	"context"
	"crypto/rand"
	"crypto/tls"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"time"

	"bellrow/hub/access"
	"bellrow/node/player"
	"bellrow/node/remote"
	"bellrow/proto"
)

// phones is the hub's door for telephones and tablets: TLS on a port of its
// own, because browsers give no microphone to a page without it. Their nodes
// run in this process and join the hub as any other node does.
type phones struct {
	station  *station
	lobby    *remote.Lobby
	seats    string // folder with one for each telephone's seat
	listener net.Listener
	server   *http.Server
	log      *slog.Logger
	joins    *access.Limiter // seats taken, by address: each may be a new chair
}

// A telephone takes so many seats at once, and then one each while: its node
// joins from this machine, where the hub counts nothing.
const (
	phoneJoins      = 6
	phoneJoinsEvery = 20 * time.Second
)

// openPhones opens the door at address; dir keeps the key.
func openPhones(s *station, address, dir string, log *slog.Logger) (*phones, error) {
	cert := s.cert
	if cert == nil {
		own, err := security{own: true}.load(dir)
		if err != nil {
			return nil, err
		}
		cert = own
	}
	l, err := access.Open(address)
	if err != nil {
		if inUse(err) {
			err = say("give another port, for example --phones :8443", "%s is in use", address)
		} else {
			err = listenError(address, err)
		}
		return nil, err
	}
	p := &phones{station: s, log: log, joins: access.NewLimiter(phoneJoins, phoneJoinsEvery, nil), seats: filepath.Join(dir, "telephones")}
	if p.lobby, err = remote.New(remote.Config{Admit: p.admit, New: p.player, Kept: p.kept(), Log: log}); err != nil {
		l.Close()
		return nil, err
	}
	p.listener = tls.NewListener(access.Listen(l), access.TLSConfig(*cert))
	p.server = access.NewServer(s.guard.Protect(p.lobby.Handler()), log)
	door := p.door()
	s.door.Store(&door)
	return p, nil
}

// servePhones opens the door for telephones beside the hub and says where it
// is. The returned function waits until it is shut.
func (s *station) servePhones(ctx context.Context, w io.Writer, address, dir string) (wait func(), err error) {
	p, err := openPhones(s, address, dir, s.log)
	if err != nil {
		return nil, err
	}
	fmt.Fprintf(w, "  telephones %s\n  Their browsers warn, because the hub made its key itself: go on to the page all the same.\n  Their sound comes here encrypted, is read, and is not kept.\n", p.link())
	ctx, stop := context.WithCancel(ctx)
	done := make(chan struct{})
	go func() {
		defer close(done)
		if err := p.run(ctx); err != nil {
			s.log.Error("the door for telephones closed", "err", err)
		}
	}()
	return func() { stop(); <-done }, nil
}

// run serves until ctx is done and every telephone's node has ended.
func (p *phones) run(ctx context.Context) error {
	lobbied := make(chan struct{})
	go func() { defer close(lobbied); p.lobby.Run(ctx) }()
	stop := context.AfterFunc(ctx, func() { p.server.Close() })
	defer stop()
	err := p.server.Serve(p.listener)
	p.station.door.Store(nil)
	<-lobbied
	if errors.Is(err, http.ErrServerClosed) {
		return nil
	}
	return err
}

// admit checks the join code as a node's is checked.
func (p *phones) admit(r *http.Request, code string) error {
	return p.station.guard.CheckJoin(r.RemoteAddr, code)
}

// link is where telephones go, with the join code after the #.
func (p *phones) link() string {
	return p.door() + "#code=" + p.station.guard.JoinCode()
}

// door is the same without the code.
func (p *phones) door() string {
	at := p.listener.Addr().(*net.TCPAddr)
	host, _, err := net.SplitHostPort(p.station.addresses()[0])
	if err != nil || !at.IP.IsUnspecified() {
		host = at.IP.String()
	}
	return "https://" + net.JoinHostPort(host, strconv.Itoa(at.Port)) + "/"
}

// phone is one telephone's page and node.
type phone struct{ *front }

// player makes a telephone's page and node.
func (p *phones) player(address, code string) (remote.Player, error) {
	return p.phone(rand.Text(), address, code)
}

// phone makes the page and node of a seat. The seat's folder has the page's
// secret for a name, so that the page finds it again after a new start of the
// hub, and holds the name, the instrument and the hub's token.
func (p *phones) phone(secret, address, code string) (*phone, error) {
	f := &front{
		config: &nodeConfig{at: p.loopback(), join: code, state: filepath.Join(p.seats, secret), noMDNS: true, remote: true},
		env:    env{nil, io.Discard, io.Discard}, log: p.log, wishes: make(chan player.Wish, 1),
		mayJoin: func() bool { return p.joins.Take(address) },
	}
	f.mic = player.NewMicrophone(p.log)
	var err error
	f.page, err = player.New(player.Config{
		Node: f, Secret: secret, Last: f.wish(), Mic: f.mic, Log: p.log,
		Guard: func(next http.Handler) http.Handler { return next }, // the hub's guard stands before the lobby
	})
	return &phone{f}, err
}

// kept are the telephones that had a seat when the hub ended.
func (p *phones) kept() (out []remote.Player) {
	seats, err := os.ReadDir(p.seats)
	if err != nil {
		return nil // nobody had one
	}
	for _, s := range seats {
		if !s.IsDir() || !secretForm.MatchString(s.Name()) {
			continue
		}
		seat, err := p.phone(s.Name(), "", "")
		if err != nil || !seat.taken(time.Now()) {
			os.RemoveAll(filepath.Join(p.seats, s.Name()))
			continue
		}
		out = append(out, seat)
	}
	return out
}

// loopback is the hub's own address as its telephones' nodes dial it.
func (p *phones) loopback() string {
	l := p.station.playersLink()
	at := p.station.listener.Addr().(*net.TCPAddr)
	if at.IP.IsUnspecified() {
		l.Address = net.JoinHostPort("127.0.0.1", strconv.Itoa(at.Port))
	}
	return proto.Link{Address: l.Address, TLS: l.TLS, Fingerprint: l.Fingerprint}.String()
}

// Path implements remote.Player.
func (p *phone) Path() string { return p.page.Path() }

// Handler implements remote.Player.
func (p *phone) Handler() http.Handler { return p.page.Handler() }

// Busy implements remote.Player.
func (p *phone) Busy() bool {
	d := p.now()
	return d != nil && d.busy()
}

// Forget implements remote.Player.
func (p *phone) Forget() {
	if err := os.RemoveAll(p.config.state); err != nil {
		p.log.Warn("a telephone's seat is still kept", "err", err)
	}
}

// Run implements remote.Player. A node that ends, for whatever reason, is
// started anew: its player may have typed something wrong and try again.
func (p *phone) Run(ctx context.Context) error {
	defer p.mic.Close()
	defer p.page.Close()
	for {
		if err := p.run(ctx); ctx.Err() != nil {
			return ctx.Err()
		} else if err != nil {
			p.log.Warn("a telephone's node ended", "err", err)
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(time.Second): // neither spin nor keep the player waiting
		}
	}
}
