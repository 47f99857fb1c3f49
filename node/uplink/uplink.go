package uplink

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"sync"
	"time"

	"bellrow/node/find"
	"bellrow/proto"
	"bellrow/proto/track"
)

// Uplink connects one node to a hub. Every method may be called concurrently
// and none but Run and Drain waits for the network.
type Uplink struct {
	config Config
	start  time.Time // zero of the node's clock
	queue  *queue
	outbox outbox
	clock  exchanges
	memory *memory
	wake   chan struct{} // something waits to be sent
	kick   chan struct{} // the player changed the address or the code

	mu      sync.Mutex
	status  Status
	view    proto.View
	changed chan struct{} // closed at the next change of status or view
	join    string
	typed   proto.Link
	older   []string // addresses of hubs that cannot prove themselves
}

// New checks c and prepares the state folder. It starts nothing.
func New(c Config) (*Uplink, error) {
	if err := c.fill(); err != nil {
		return nil, err
	}
	u := &Uplink{
		config: c, start: c.Now(), queue: newQueue(c.Boot, newSpool(c.StateDir, c.Boot), nil), memory: openMemory(c.StateDir),
		wake: make(chan struct{}, 1), kick: make(chan struct{}, 1),
		status: Status{Phase: Searching}, changed: make(chan struct{}),
		join: c.Join, typed: c.Hub,
	}
	return u, nil
}

// Node returns this node's stable identity, Boot that of this start.
func (u *Uplink) Node() string { return u.config.Node }

// Boot returns the identity of this start, or of what came of it for the
// present hub; see queue.renumber.
func (u *Uplink) Boot() string { return u.queue.identity() }

// Since converts a moment to the node's own clock: seconds since its start.
func (u *Uplink) Since(t time.Time) float64 { return t.Sub(u.start).Seconds() }

// Send numbers r, keeps it, and delivers it however long that takes. It waits
// for the disk, once for each note; see spool. A reading beyond the limits of
// the protocol, or beyond maxReadings that wait, is dropped, counted and logged.
func (u *Uplink) Send(r proto.Reading) {
	switch err := u.queue.put(bounded(r)); {
	case errors.Is(err, errUnsaved):
		u.config.Log.Warn("reading kept in memory only", "err", err)
	case err != nil:
		u.config.Log.Error("reading not kept", "err", err)
		u.update(func(s *Status) { s.Dropped++ })
	}
	u.poke()
}

// bounded brings figures that say "hopelessly wide" within what the protocol
// carries, so that the note is still heard of.
func bounded(r proto.Reading) proto.Reading {
	r.CI95 = min(r.CI95, proto.MaxCents)
	r.Spread = min(r.Spread, proto.MaxCents)
	r.Drift = max(-proto.MaxCents, min(r.Drift, proto.MaxCents))
	r.Early = max(-proto.MaxCents, min(r.Early, proto.MaxCents))
	return r
}

// State tells what the listener hears; only the latest counts.
func (u *Uplink) State(s proto.State) {
	u.outbox.setState(s)
	u.poke()
}

// SetNames tells how the player wants notes named, as pitch.Style writes it;
// empty: as the section has it.
func (u *Uplink) SetNames(names string) {
	u.outbox.setNames(names)
	u.poke()
}

// SetLanguage tells what the player's page is in, as a tag of BCP 47; empty: as
// the section is.
func (u *Uplink) SetLanguage(tag string) {
	u.outbox.setLanguage(tag)
	u.poke()
}

// Setting tells where a slide stands; it waits for a connection.
func (u *Uplink) Setting(s proto.Setting) {
	u.outbox.addSetting(s)
	u.poke()
}

// Track sends partial tracks, or drops them while no hub is connected.
func (u *Uplink) Track(c track.Chunk) {
	if u.outbox.addTrack(c) {
		u.clock.tracked()
		u.poke()
	}
}

// Clock ties the source's sample count to the moment it was read.
func (u *Uplink) Clock(sample int64, rate float64, at time.Time) { u.clock.tie(sample, rate, at) }

// View returns the latest view, the zero View before the first.
func (u *Uplink) View() proto.View {
	u.mu.Lock()
	defer u.mu.Unlock()
	return u.view
}

// Status returns how the connection stands.
func (u *Uplink) Status() Status {
	waiting := u.queue.len()
	u.mu.Lock()
	defer u.mu.Unlock()
	s := u.status
	s.Waiting = waiting
	return s
}

// Changed returns a channel that is closed at the next change of View or
// Status. Ask for it before looking at either.
func (u *Uplink) Changed() <-chan struct{} {
	u.mu.Lock()
	defer u.mu.Unlock()
	return u.changed
}

// Rejoin gives the address, link or code that the player just typed; empty
// parts keep what was there. It ends a present connection to another hub.
func (u *Uplink) Rejoin(l proto.Link) {
	u.mu.Lock()
	if l.Address != "" {
		u.typed = l
	}
	if l.Code != "" {
		u.join = l.Code
	}
	u.mu.Unlock()
	u.again()
}

// again makes Run start over at once.
func (u *Uplink) again() {
	select {
	case u.kick <- struct{}{}:
	default:
	}
}

// Drain waits until every reading is acknowledged.
func (u *Uplink) Drain(ctx context.Context) error {
	select {
	case <-u.queue.drained():
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// ErrInUse means that another node runs with the same state folder.
var ErrInUse = errors.New("uplink: another node on this laptop uses the state folder")

// Run keeps the node connected until ctx ends. It returns nil then, or the
// error of closing the spool; or at once an error that wraps ErrInUse.
func (u *Uplink) Run(ctx context.Context) error {
	if u.config.StateDir != "" {
		release, err := lockFolder(u.config.StateDir)
		if err != nil {
			return errors.Join(err, u.queue.spool.close())
		}
		defer release()
	}
	failures := 0
	for ctx.Err() == nil {
		began := u.config.Now()
		t := u.attempt(ctx)
		if u.config.Now().Sub(began) > lastWait {
			failures = 0 // it held for a while; this failure is the first
		}
		retry := time.After(backoff(failures))
		failures++
		switch {
		case t != nil && t.code == proto.CodeReplaced:
			retry = nil // two laptops would take the chair from each other for ever
		case t != nil && t.code == codeUnproven, t != nil && t.code == codeOlder:
			// The right one may come up beside it; nothing was told.
		case t != nil && t.final:
			retry = time.After(refusedWait)
		}
		select {
		case <-ctx.Done():
		case <-u.kick:
			failures = 0
		case <-retry:
		}
	}
	return u.queue.spool.close()
}

// attempt finds a hub, delivers what earlier starts left behind, then this
// start's, and stays until the connection ends. It returns nil after a
// connection that held, and otherwise what stood in the way.
func (u *Uplink) attempt(ctx context.Context) *trouble {
	u.update(func(s *Status) {
		if s.Phase != Refused {
			s.Phase, s.Hub, s.Section = Searching, "", ""
		}
	})
	var t *trouble
	var s *session
	for _, j := range u.jobs() {
		if s == nil {
			s, t = u.search(ctx, j)
		} else if s, t = u.open(ctx, s.hub, j.queue, j.live); t == nil {
			s, t = s.settle(ctx)
		}
		if t == nil {
			t = s.stay(ctx)
		}
		if t != nil || !j.live && j.queue.len() > 0 {
			break // and what is not delivered stays
		}
		j.done()
	}
	if t != nil && ctx.Err() == nil {
		u.report(t)
	}
	return t
}

// job is what one connection is for: the readings of one start.
type job struct {
	queue *queue
	live  bool   // this start, rather than an earlier one
	done  func() // once all are delivered
}

// jobs lists what is to be delivered: the spools of earlier starts, each in
// runs without a gap in the numbers, then this start.
func (u *Uplink) jobs() []job {
	var out []job
	for _, boot := range leftovers(u.config.StateDir, u.queue.identity()) {
		old, err := readSpool(u.config.StateDir, boot)
		if err != nil {
			u.config.Log.Error("readings of an earlier start are unreadable", "boot", boot, "err", err)
			continue
		}
		remove := func() {
			err := os.Remove(filepath.Join(u.config.StateDir, boot+spoolSuffix))
			if err != nil && !errors.Is(err, os.ErrNotExist) {
				u.config.Log.Error("readings of an earlier start stay behind", "boot", boot, "err", err)
			}
		}
		if len(old) == 0 {
			remove()
		}
		for n := unbroken(old); len(old) > 0; n = unbroken(old) {
			j := job{queue: newQueue(boot, nil, old[:n]), done: func() {}}
			if old = old[n:]; len(old) == 0 {
				j.done = remove
			} else {
				u.config.Log.Error("readings of an earlier start are damaged", "boot", boot, "before", old[0].Sequence)
			}
			out = append(out, j)
		}
	}
	return append(out, job{queue: u.queue, live: true, done: func() {}})
}

// search finds the hub, lets it prove itself, and is welcomed there for a job.
func (u *Uplink) search(ctx context.Context, j job) (*session, *trouble) {
	c, only := u.searching()
	turn := make(chan bool, 1) // guards what follows; one hub at a time is told anything
	var won *session
	var worst *trouble
	var older []string
	try := func(ctx context.Context, h find.Hub) bool {
		if only != "" && h.ID != "" && h.ID != only {
			return false // the player's link names another
		}
		u.update(func(st *Status) {
			if st.Phase != Refused {
				st.Phase = Connecting
			}
		})
		s, t := u.open(ctx, h, j.queue, j.live)
		turn <- true
		defer func() { <-turn }()
		if t == nil && won != nil {
			s.line.Close()
			return false
		}
		if t == nil {
			s, t = s.settle(ctx)
		}
		if t != nil {
			worst = graver(worst, t)
			if t.code == codeOlder {
				older = append(older, h.Addresses[0])
			}
			return false
		}
		won = s
		return true
	}
	err := find.Hubs(ctx, c, try)
	if f := u.config.Fallback; f.Address != "" && won == nil && worst == nil { // nothing was there to be tried
		try(ctx, find.Typed(f))
	}
	u.mu.Lock()
	u.older = older
	u.mu.Unlock()
	switch {
	case won != nil:
		return won, nil
	case worst == nil:
		worst = searchTrouble(err)
	}
	return nil, worst
}

// searching says where to look, and the id of the only hub that will do, "" for
// any: the one that the player's link names.
func (u *Uplink) searching() (c find.Config, only string) {
	u.mu.Lock()
	defer u.mu.Unlock()
	c = find.Config{Last: u.memory.last(), Interfaces: u.config.Interfaces, NoMulticast: u.config.NoMulticast}
	if u.typed.Address != "" {
		h := find.Typed(u.typed)
		c.Typed = &h
	}
	return c, u.typed.Hub
}

// code is the join code as the player typed it last.
func (u *Uplink) code() string {
	u.mu.Lock()
	defer u.mu.Unlock()
	return u.join
}

// confirmed reports whether the player has confirmed that the hub at this
// address is the right one.
func (u *Uplink) confirmed(h find.Hub, address string) bool {
	u.mu.Lock()
	defer u.mu.Unlock()
	return u.config.Sure && h.From == find.FromTyped && (address == u.typed.Address || address == u.config.Fallback.Address)
}

// Older returns the addresses of the hubs that answered the last search and are
// of an older version, for the player to choose from; see Config.Sure.
func (u *Uplink) Older() []string {
	u.mu.Lock()
	defer u.mu.Unlock()
	return u.older
}

func (u *Uplink) poke() {
	select {
	case u.wake <- struct{}{}:
	default:
	}
}

func (u *Uplink) report(t *trouble) {
	u.config.Log.Info("not connected", "code", t.code, "message", t.message, "cause", t.cause)
	u.update(func(s *Status) {
		s.Phase = Searching
		if t.final {
			s.Phase = Refused
		}
		s.Code, s.Message, s.Hint, s.Hub, s.Section = t.code, t.message, t.hint, "", ""
	})
}

func (u *Uplink) update(change func(*Status)) {
	u.mu.Lock()
	defer u.mu.Unlock()
	was := u.status
	if change(&u.status); u.status != was {
		u.announce()
	}
}

func (u *Uplink) setView(v proto.View) {
	u.mu.Lock()
	defer u.mu.Unlock()
	u.view = v
	u.announce()
}

// announce tells watchers of a change; callers hold mu.
func (u *Uplink) announce() {
	close(u.changed)
	u.changed = make(chan struct{})
}
