package announce

import (
	"context"
	"fmt"
	"io"
	"log"
	"log/slog"
	"net"
	"net/netip"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/hashicorp/mdns"

	"bellrow/proto"
	"bellrow/proto/lan"
)

// Config sets up an Announcer.
type Config struct {
	Hub  string // hub id; required
	Name string // section name, shown to players
	Port int    // where the hub listens; required
	TLS  bool
	// Addresses limits what is announced to these; nil means every address of
	// every usable interface. Set it when the hub listens on some only.
	Addresses []netip.Addr
	// Interfaces lists the interfaces to announce on; nil means Interfaces.
	Interfaces func() []net.Interface
	// Log gets details; nil discards them.
	Log *slog.Logger
}

// Announcer makes one hub known while Run runs.
type Announcer struct {
	config Config
	log    *slog.Logger
	name   string

	// Owned by Run:
	spots     map[string]*spot // by interface name
	announced []netip.Addr
}

// spot is the presence on one interface.
type spot struct {
	server  *mdns.Server
	speaker *speaker
}

// Pace of announcements.
const (
	// again is between the two announcements (RFC 6762, section 8.3).
	again = time.Second
	// look is how often the interfaces are looked at for changes.
	look = 5 * time.Second
)

// New checks c. It starts nothing.
func New(c Config) (*Announcer, error) {
	if c.Hub == "" || c.Port < 1 || c.Port > 65535 {
		return nil, fmt.Errorf("announce: hub id %q and port %d, need both", c.Hub, c.Port)
	}
	if c.Name == "" {
		c.Name = "bellrow"
	}
	if c.Interfaces == nil {
		c.Interfaces = Interfaces
	}
	if c.Log == nil {
		c.Log = slog.New(slog.DiscardHandler)
	}
	return &Announcer{config: c, log: c.Log, spots: map[string]*spot{}}, nil
}

// HostName returns the name under which the addresses of the hub with this id
// are announced, such as "bellrow-hs6imjckwt5y.local". The access guard must
// accept it.
func HostName(hubID string) string { return strings.TrimSuffix(namesOf("", hubID).host, ".") }

// Run announces the hub until ctx ends, then says goodbye. Trouble with one
// interface is logged and tried again; a hub that cannot be announced can still
// be reached by its address. Run returns nil when ctx ends.
func (a *Announcer) Run(ctx context.Context) error {
	a.name = a.freeName(ctx)
	defer a.leave()
	tick := time.NewTicker(look)
	defer tick.Stop()
	repeat := time.NewTimer(again)
	defer repeat.Stop()
	a.survey()
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-repeat.C:
			a.announce(false)
		case <-tick.C:
			if a.survey() {
				repeat.Reset(again)
			}
		}
	}
}

// freeName returns the section's name, with a number behind it if another
// hub goes by it already: "Low brass (2)". Two hubs that start in the same
// second may still end up with one name; nodes tell them apart by their ids.
func (a *Announcer) freeName(ctx context.Context) string {
	taken := takenOn(ctx, a.config.Interfaces())
	name := a.config.Name
	for n := 2; ; n++ {
		by, used := taken[wire(strings.ToLower(namesOf(name, a.config.Hub).instance))]
		if !used || by == a.config.Hub {
			return name
		}
		name = a.config.Name + " (" + strconv.Itoa(n) + ")"
	}
}

// survey brings the spots in line with the interfaces, announces what is new,
// and reports whether anything was.
func (a *Announcer) survey() (changed bool) {
	if now := a.addresses(); !slices.Equal(now, a.announced) {
		a.announced, changed = now, true
	}
	seen := map[string]bool{}
	for _, i := range a.config.Interfaces() {
		seen[i.Name] = true
		if a.spots[i.Name] != nil {
			continue
		}
		s, err := a.open(i)
		if err != nil {
			a.log.Debug("not announced here", "interface", i.Name, "err", err)
			continue
		}
		a.spots[i.Name], changed = s, true
	}
	for name, s := range a.spots {
		if !seen[name] {
			s.close()
			delete(a.spots, name)
		}
	}
	if changed {
		a.announce(false)
	}
	return changed
}

func (a *Announcer) open(i net.Interface) (*spot, error) {
	sp, err := newSpeaker(&i)
	if err != nil {
		return nil, err
	}
	server, err := mdns.NewServer(&mdns.Config{Zone: a.zone(), Iface: &i, Logger: log.New(io.Discard, "", 0)})
	if err != nil {
		sp.close()
		return nil, err
	}
	return &spot{server: server, speaker: sp}, nil
}

func (a *Announcer) zone() *zone {
	return &zone{
		names: namesOf(a.name, a.config.Hub), port: uint16(a.config.Port),
		txt: a.txt, addresses: a.addresses,
	}
}

func (a *Announcer) txt() proto.TXT {
	return proto.TXT{
		Version: proto.Version, Hub: a.config.Hub, Name: a.config.Name, TLS: a.config.TLS,
		Addresses: slices.DeleteFunc(a.addresses(), func(x netip.Addr) bool {
			return x.Is6() && x.IsLinkLocalUnicast() // means nothing without the interface
		}),
	}
}

// addresses returns all addresses of the hub, whatever interface is asked
// on: on Linux each server hears the questions of all interfaces and cannot tell
// them apart, and a node tries all addresses at once. Those of loopback count
// only where there are no others.
func (a *Announcer) addresses() []netip.Addr {
	var out, loop []netip.Addr
	for _, i := range a.config.Interfaces() {
		for _, x := range lan.Addresses(i) {
			switch {
			case a.config.Addresses != nil && !slices.Contains(a.config.Addresses, x):
			case slices.Contains(out, x) || slices.Contains(loop, x):
			case x.IsLoopback():
				loop = append(loop, x)
			default:
				out = append(out, x)
			}
		}
	}
	if len(out) == 0 {
		return loop
	}
	return out
}

// announce multicasts all records on every interface; goodbye takes them back.
func (a *Announcer) announce(goodbye bool) {
	records := a.zone().all()
	for name, s := range a.spots {
		if err := s.speaker.say(records, goodbye); err != nil {
			a.log.Debug("announcement not sent", "interface", name, "err", err)
		}
	}
}

func (a *Announcer) leave() {
	a.announce(true)
	for name, s := range a.spots {
		s.close()
		delete(a.spots, name)
	}
}

func (s *spot) close() {
	s.server.Shutdown()
	s.speaker.close()
}
