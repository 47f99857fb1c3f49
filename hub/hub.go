package hub

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"bellrow/hub/attribute"
	"bellrow/hub/intonation"
	"bellrow/hub/piece"
	"bellrow/proto"
	"bellrow/proto/pitch"
)

// Config sets up a Hub.
type Config struct {
	// Store keeps what must not be lost. Required.
	Store Store
	// Now is the clock; nil means time.Now.
	Now func() time.Time
	// Log takes details for developers; nil discards them.
	Log *slog.Logger
	// Section names the section to open; it is created if the store has none
	// of that name. Empty opens the last one used, or creates DefaultSection.
	Section string
	// RetryEvery is how often Run tries again to store what the store
	// refused; 0 means DefaultRetryEvery.
	RetryEvery time.Duration
	// Attributor answers whose sound is whose when chairs play together; nil
	// means hub/attribute.
	Attributor Attributor
}

// Defaults.
const (
	// DefaultSection is the name of a section that nobody has named.
	DefaultSection = "Section"
	// DefaultRetryEvery is short enough that freeing disk space shows at
	// once, and long enough not to load a sick disk.
	DefaultRetryEvery = time.Second
	// tuneUpGap is how long a hub may stay silent before what comes next is
	// another tune-up: longer than any interval of a rehearsal.
	tuneUpGap = 3 * time.Hour
)

// Hub holds a section while it tunes. Every method may be called
// concurrently; none blocks on a player or a page.
type Hub struct {
	now        func() time.Time
	log        *slog.Logger
	store      Store
	attributor Attributor
	retryEvery time.Duration
	started    time.Time
	journal    journal
	wake       chan struct{} // tells Run that a deadline may have changed

	mu        sync.Mutex
	id        string
	join      string
	leader    string
	section   Section
	seats     map[ChairID]*seat
	past      map[ChairID]earlierDays // from earlier days
	knownAt   map[string]ChairID      // where nodes sat since the start
	index     map[ChairID]int         // into section.Chairs; see chair
	fresh     beginning               // of this tune-up
	rounds    []Round                 // of this tune-up, oldest first; the last one runs
	readings  []*Reading              // of this tune-up, oldest first
	moves     []*MoveRecord
	undo      []undoStep
	seen      map[bootKey]*seen
	window    *window               // the running together round's, nil while nobody has played
	current   ChairID               // whose turn it is; see turn
	turnAt    time.Time             // when it became so
	rings     ChairID               // played last, and may still sound
	judgement *intonation.Judgement // of the running chord round, once it was heard
	settings  []SettingRecord       // of this tune-up, oldest first
	trouble   string
	piece     *piece.Piece // nil when none is open
	watching  bool         // the section rehearses; see watch.go
	ids       idSource

	planning   sync.Mutex // held while a plan is worked out; never with mu inside
	plannedFor plannedFor
	planned    *PiecePlan

	version  uint64
	row      *Row // cached for version
	rowFeeds map[*RowFeed]struct{}
}

// bootKey is one start of one node.
type bootKey struct{ node, boot string }

// New opens the hub's state from the store, or begins it.
func New(ctx context.Context, c Config) (*Hub, error) {
	if c.Store == nil {
		return nil, errors.New("hub: no store given, need one")
	}
	h := &Hub{
		now: c.Now, log: c.Log, store: c.Store, attributor: c.Attributor, retryEvery: c.RetryEvery,
		wake:     make(chan struct{}, 1),
		seats:    map[ChairID]*seat{},
		seen:     map[bootKey]*seen{},
		knownAt:  map[string]ChairID{},
		rowFeeds: map[*RowFeed]struct{}{},
	}
	if h.now == nil {
		h.now = time.Now
	}
	if h.log == nil {
		h.log = slog.New(slog.DiscardHandler)
	}
	if h.retryEvery <= 0 {
		h.retryEvery = DefaultRetryEvery
	}
	if h.attributor == nil {
		h.attributor = new(attribute.Fitter)
	}
	h.started = h.now()
	h.journal.store = c.Store
	h.journal.changed = h.storeChanged
	h.journal.refused = func(err error) { h.log.Error("hub: the store refused a record for good", "err", err) }
	if err := h.openIdentity(ctx); err != nil {
		return nil, err
	}
	s, err := h.named(ctx, c.Section)
	if err != nil {
		return nil, err
	}
	l, err := h.load(ctx, s)
	if err != nil {
		return nil, err
	}
	h.open(l)
	return h, nil
}

// Keys of the store's small values.
const (
	keyHub    = "hub"
	keyJoin   = "join"
	keyLeader = "leader"
	keyNextID = "next-id"
	keyFresh  = "fresh/" // + section ID
	keyWatch  = "watch/" // + section ID
)

// openIdentity reads the hub's own id and keys, or makes them.
func (h *Hub) openIdentity(ctx context.Context) error {
	for _, v := range []struct {
		key  string
		into *string
		make func() string
	}{
		{keyHub, &h.id, func() string { return strings.ToLower(rand.Text()[:12]) }},
		{keyJoin, &h.join, proto.NewJoinCode},
		{keyLeader, &h.leader, rand.Text},
	} {
		s, err := h.store.Value(ctx, v.key)
		if errors.Is(err, ErrNotFound) || err == nil && s == "" {
			s = v.make()
			err = h.store.SetValue(ctx, v.key, s)
		}
		if err != nil {
			return fmt.Errorf("hub: opening the hub's identity: %w", err)
		}
		*v.into = s
	}
	s, err := h.store.Value(ctx, keyNextID)
	if err != nil && !errors.Is(err, ErrNotFound) {
		return fmt.Errorf("hub: opening the hub's numbering: %w", err)
	}
	h.ids.next, _ = strconv.ParseInt(s, 10, 64)
	h.ids.next = max(h.ids.next, 1)
	h.ids.limit = h.ids.next
	return nil
}

// ID tells this hub from another of the same name.
func (h *Hub) ID() string { return h.id }

// JoinCode is what players type to join.
func (h *Hub) JoinCode() string { return h.join }

// LeaderKey is the secret that lets a page command the hub.
func (h *Hub) LeaderKey() string { return h.leader }

// NodeRecord finds what is known of a node: ErrNotFound if it never joined.
func (h *Hub) NodeRecord(ctx context.Context, node string) (NodeRecord, error) {
	return h.store.Node(ctx, node)
}

// Section returns a copy of the open section.
func (h *Hub) Section() Section {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.section.Clone()
}

// Sections lists the saved sections.
func (h *Hub) Sections(ctx context.Context) ([]Section, error) { return h.store.Sections(ctx) }

// Seconds is the hub's clock for Pong: seconds since its start.
func (h *Hub) Seconds() float64 { return h.now().Sub(h.started).Seconds() }

// newSection returns a section with the usual settings.
func newSection(name string) Section {
	return Section{
		Name: name, Reference: pitch.Reference{A4: pitch.StandardA4},
		Good: DefaultGood, Watch: DefaultWatch, Order: OrderLowToHigh,
		TuningNotes: []pitch.Note{pitch.A4 + 1, pitch.A4 - 4, pitch.A4}, // B flat, F, A
	}
}

// The usual tolerance band, in cents (common practice, no source).
const (
	DefaultGood  pitch.Cents = 5
	DefaultWatch pitch.Cents = 10
)

// named finds the section of that name, or the last used one for "", or makes it.
func (h *Hub) named(ctx context.Context, name string) (Section, error) {
	sections, err := h.store.Sections(ctx)
	if err != nil {
		return Section{}, fmt.Errorf("hub: listing the sections: %w", err)
	}
	for _, s := range sections {
		if name == "" || strings.EqualFold(s.Name, name) {
			return s, nil
		}
	}
	if name == "" {
		name = DefaultSection
	}
	s, err := h.store.SaveSection(ctx, newSection(name))
	if err != nil {
		return s, fmt.Errorf("hub: creating section %q: %w", name, err)
	}
	return s, nil
}

// loaded is a section with what is needed to go on with it.
type loaded struct {
	section Section
	fresh   beginning // of its tune-up
	anew    bool      // it begins now
	tuneUp  Records   // since then, in the order in which the hub made them
	past    map[ChairID]earlierDays
	piece   *piece.Piece
	watched bool // when it was left
}

// load reads a section from the store. It must be called without the lock:
// writes that wait for the lock may hold the store.
func (h *Hub) load(ctx context.Context, s Section) (loaded, error) {
	l := loaded{section: s}
	var err error
	if l.fresh, err = h.freshOf(ctx, s.ID); err != nil {
		return l, err
	}
	all, err := h.records(ctx, s, h.now().Add(-longestTuneUp))
	if err != nil {
		return l, err
	}
	if l.tuneUp = all.from(l.fresh); h.now().Sub(l.tuneUp.last(l.fresh.at)) >= tuneUpGap {
		l.fresh, l.tuneUp, l.anew = beginning{at: h.now()}, Records{}, true
	}
	if l.past, err = h.loadPast(ctx, s, l.fresh.at); err != nil {
		return l, err
	}
	if l.watched, err = h.watchingOf(ctx, s.ID); err != nil {
		return l, err
	}
	l.piece, err = h.loadPiece(ctx, s.ID)
	return l, err
}

// open goes on with a loaded section. Callers hold the lock, or no one else
// knows h yet.
func (h *Hub) open(l loaded) {
	h.section, h.fresh, h.past, h.piece, h.watching = l.section, l.fresh, l.past, l.piece, l.watched
	if l.anew {
		h.fresh = h.beginning()
		h.saveFresh()
		h.setWatching(false)
	}
	h.window, h.undo, h.judgement, h.current = nil, nil, nil, 0
	h.seats = make(map[ChairID]*seat, len(l.section.Chairs))
	for _, c := range l.section.Chairs {
		s := newSeat(c.ID)
		s.left = h.now() // its node will be back in a moment
		h.seats[c.ID] = s
	}
	h.takeUp(l.tuneUp)
}

// takeUp goes on where the records end.
func (h *Hub) takeUp(rec Records) {
	h.rounds = slices.DeleteFunc(rec.Rounds, func(r Round) bool { return r.Void })
	h.readings, h.moves = nil, nil
	for i := range rec.Readings {
		h.readings = append(h.readings, &rec.Readings[i])
	}
	for i := range rec.Moves {
		h.moves = append(h.moves, &rec.Moves[i])
	}
	h.settings = rec.Settings
	h.rebuild()
	h.restoreMoves()
	h.resumeWindow()
	h.chord()
}

func later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}
