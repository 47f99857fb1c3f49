// Package session runs a section's tune-up: it lets players, pages and the
// leader at one tuneup.State, one after the other, commits what changes, serves
// its timers, and tells everybody who follows. It knows no rules and no words.
//
// A Session's one mutex guards the state. Nothing is written to the store and
// no fit is solved under it, so that a slow disk delays acknowledgements and
// nothing else, and a fit nothing at all.
package session

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"bellrow/hub"
	"bellrow/hub/attribute"
	"bellrow/hub/ensemble"
	"bellrow/hub/journal"
	"bellrow/hub/receipt"
	"bellrow/hub/show"
	"bellrow/hub/tuneup"
	"bellrow/proto"
	"bellrow/proto/track"
)

// Config sets up a Session.
type Config struct {
	// Store keeps what must not be lost. Required.
	Store hub.Store
	// Now is the clock; nil means time.Now. After tells that time has passed on it,
	// as time.After does, which nil means.
	Now   func() time.Time
	After func(time.Duration) <-chan time.Time
	// Log takes details for developers; nil discards them.
	Log *slog.Logger
	// Section names the section to open; it is created if the store has none
	// of that name. Empty opens the last one used, or creates DefaultSection.
	Section string
	// Order is how turns go in a section that is created; empty means
	// hub.OrderByWorth.
	Order hub.Order
	// RetryEvery is how often Run tries again to store what the store
	// refused; 0 means DefaultRetryEvery.
	RetryEvery time.Duration
	// Attributor answers whose sound is whose when chairs play together, for one
	// goroutine at a time; nil means hub/attribute.
	Attributor ensemble.Attributor
}

// Defaults.
const (
	// DefaultSection is the name of a section that nobody has named.
	DefaultSection = "Section"
	// DefaultRetryEvery is short enough that freeing disk space shows at
	// once, and long enough not to load a sick disk.
	DefaultRetryEvery = time.Second
)

// Session is a section that tunes, with everybody who takes part. Its methods
// may be called concurrently; none blocks on a player or a page.
type Session struct {
	now        func() time.Time
	after      func(time.Duration) <-chan time.Time
	log        *slog.Logger
	store      hub.Store
	attributor ensemble.Attributor
	retryEvery time.Duration
	order      hub.Order // of a section that is created
	started    time.Time
	journal    *journal.Journal
	woken      chan struct{} // tells Run that a deadline may have changed
	plans      planner

	id, join string // identity, never changed

	mu      sync.Mutex
	state   *tuneup.State
	wake    time.Time   // when the state is due for a Tick, zero for never
	fit     *tuneup.Fit // to be solved, nil for none
	book    receipt.Book[*journal.Entry]
	trouble error // why nothing can be stored, nil when all is well
	version uint64
	row     *show.Row // cached for version
	follow  followers
}

// New opens the session's state from the store, or begins it.
func New(ctx context.Context, c Config) (*Session, error) {
	if c.Store == nil {
		return nil, errors.New("session: no store given, need one")
	}
	s := &Session{
		now: c.Now, after: c.After, log: c.Log, store: c.Store, attributor: c.Attributor, retryEvery: c.RetryEvery, order: cmp.Or(c.Order, hub.OrderByWorth),
		woken: make(chan struct{}, 1), follow: newFollowers(),
	}
	if s.now == nil {
		s.now = time.Now
	}
	if s.after == nil {
		s.after = time.After
	}
	if s.log == nil {
		s.log = slog.New(slog.DiscardHandler)
	}
	if s.retryEvery <= 0 {
		s.retryEvery = DefaultRetryEvery
	}
	if s.attributor == nil {
		s.attributor = new(attribute.Fitter)
	}
	s.started = s.now()
	s.journal = journal.New(c.Store, s.storeChanged, func(err error) {
		s.log.Error("session: the store refused a record for good", "err", err)
	})
	if err := s.openIdentity(ctx); err != nil {
		return nil, err
	}
	sec, err := s.named(ctx, c.Section)
	if err != nil {
		return nil, err
	}
	rec, err := s.load(ctx, sec)
	if err != nil {
		return nil, err
	}
	s.open(rec)
	return s, nil
}

// ID tells this hub from another of the same name.
func (s *Session) ID() string { return s.id }

// JoinCode is what players type to join.
func (s *Session) JoinCode() string { return s.join }

// Seconds is the hub's clock for Pong: seconds since its start.
func (s *Session) Seconds() float64 { return s.now().Sub(s.started).Seconds() }

// NodeRecord finds what is known of a node: hub.ErrNotFound if it never joined.
func (s *Session) NodeRecord(ctx context.Context, node string) (hub.NodeRecord, error) {
	return s.store.Node(ctx, node)
}

// Sections lists the saved sections.
func (s *Session) Sections(ctx context.Context) ([]hub.Section, error) { return s.store.Sections(ctx) }

// step lets the state take an event, queues what changed, and tells who can see
// it. after is called without locks once it is stored; it may be nil. The entry
// is nil when nothing changed. Callers hold mu.
func (s *Session) step(e tuneup.Event, after func()) (tuneup.Outcome, *journal.Entry, error) {
	out, err := s.state.Step(s.now(), e)
	entry := s.take(out, after)
	return out, entry, err
}

// take does what an outcome asks for. Callers hold mu.
func (s *Session) take(out tuneup.Outcome, after func()) (entry *journal.Entry) {
	if len(out.Changes) > 0 {
		entry = s.journal.Put(out.Changes, after)
	}
	if out.Fit != nil {
		s.fit = out.Fit
	}
	if out.Fit != nil || !out.Wake.Equal(s.wake) {
		s.wake = out.Wake
		select {
		case s.woken <- struct{}{}:
		default:
		}
	}
	if out.Joined.Replaced != "" {
		s.follow.endViews(out.Joined.Chair)
	}
	s.publish(out.Seen)
	return entry
}

// happened takes an event that cannot fail and that nobody waits for.
func (s *Session) happened(e tuneup.Event) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.step(e, nil)
}

// asked takes an event that may be refused. Like every lock on the state, its
// own ends with it whatever happens: a fault in one answer must not stop the hub.
func (s *Session) asked(e tuneup.Event) (*journal.Entry, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	_, entry, err := s.step(e, nil)
	return entry, err
}

// State notes what a chair's listener hears.
func (s *Session) State(chair hub.ChairID, st proto.State) {
	s.happened(tuneup.Sound{Chair: chair, State: st})
}

// Track keeps a stretch of a chair's partial tracks for attribution.
func (s *Session) Track(chair hub.ChairID, c track.Chunk) {
	s.happened(tuneup.Track{Chair: chair, Chunk: c})
}

// Clock notes a node's own estimate of its clock against the hub's.
func (s *Session) Clock(chair hub.ChairID, p proto.Ping) {
	s.happened(tuneup.Ping{Chair: chair, Ping: p})
}

// Leave notes that a node's connection ended. It does nothing if another node
// holds the chair by now.
func (s *Session) Leave(chair hub.ChairID, node string) {
	s.happened(tuneup.Left{Chair: chair, Node: node})
}

// Setting notes where a player says a slide stands, and returns once that is
// stored. It is how a player says that a move was made.
func (s *Session) Setting(ctx context.Context, chair hub.ChairID, set proto.Setting) error {
	entry, err := s.asked(tuneup.Setting{Chair: chair, Set: set})
	if err != nil {
		return err
	}
	return s.journal.Flush(context.WithoutCancel(ctx), entry)
}

// Command carries out what the leader asks for. An error says why nothing
// happened; a nil error means that it is on the row, and stored as soon as the
// store can.
func (s *Session) Command(ctx context.Context, c hub.Command) error {
	if c.Do == hub.DoOpen {
		return s.openSaved(ctx, c.Name)
	}
	_, err := s.asked(tuneup.Command(c))
	if err == nil {
		s.flush(ctx)
	}
	return err
}

// Join seats a node: at the chair it had, at the chair of the same name or
// label, or at a new one. Whoever joins last holds the chair.
func (s *Session) Join(ctx context.Context, p hub.Peer) (hub.Joined, error) {
	if p.Node == "" || p.Boot == "" {
		return hub.Joined{}, errors.New("session: join without node or boot, need both")
	}
	known, err := s.store.Node(ctx, p.Node)
	if err != nil && !errors.Is(err, hub.ErrNotFound) {
		return hub.Joined{}, fmt.Errorf("session: looking up node %s: %w", p.Node, err)
	}
	stored, err := s.store.Stored(ctx, p.Node, p.Boot)
	if err != nil {
		return hub.Joined{}, fmt.Errorf("session: looking up what node %s has stored: %w", p.Node, err)
	}
	joined, err := s.seat(p, known, stored)
	if err == nil {
		s.flush(ctx)
	}
	return joined, err
}

func (s *Session) seat(p hub.Peer, known hub.NodeRecord, stored uint64) (hub.Joined, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	out, _, err := s.step(tuneup.Joined{Peer: p, Known: known}, nil)
	if err != nil {
		return hub.Joined{}, err
	}
	boot := receipt.Boot{Node: p.Node, Boot: p.Boot}
	s.book.Stored(boot, stored)
	out.Joined.Stored = s.book.Committed(boot)
	s.forgetBoots()
	return out.Joined, nil
}

// DeletePlayer takes a chair out of the section and erases everything it ever
// stored. It cannot be undone.
func (s *Session) DeletePlayer(ctx context.Context, id hub.ChairID) error {
	s.happened(tuneup.Erased{Chair: id})
	err := s.journal.Flush(context.WithoutCancel(ctx), nil)
	if err == nil {
		err = s.store.DeletePlayer(ctx, id)
	}
	if err != nil {
		return fmt.Errorf("session: deleting chair %d: %w", id, err)
	}
	return nil
}

// Forget erases what is older than before. The tune-up that is going on stays.
func (s *Session) Forget(ctx context.Context, before time.Time) error {
	s.mu.Lock()
	if begun := s.state.Begun().At; begun.Before(before) {
		before = begun
	}
	s.mu.Unlock()
	return s.store.Forget(ctx, before)
}

// flush stores what is queued; a refusal shows on the row.
func (s *Session) flush(ctx context.Context) {
	if err := s.journal.Flush(context.WithoutCancel(ctx), nil); err != nil {
		s.log.Error("session: not stored", "err", err)
	}
}

// storeChanged says loudly that the store refuses, and that it works again.
func (s *Session) storeChanged(err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.trouble = err
	s.publish(tuneup.Leader)
}
