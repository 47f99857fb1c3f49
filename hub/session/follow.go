package session

import (
	"reflect"
	"slices"

	"bellrow/hub"
	"bellrow/hub/feed"
	"bellrow/hub/receipt"
	"bellrow/hub/show"
	"bellrow/hub/tuneup"
	"bellrow/proto"
)

type (
	viewFeed   = feed.Feed[proto.View]
	rowFeed    = feed.Feed[show.Row]
	storedFeed = feed.Feed[uint64]
)

// followers are the feeds that are open, guarded by the session's mutex.
type followers struct {
	rows   map[*rowFeed]struct{}
	views  map[hub.ChairID]*viewers
	stored map[receipt.Boot]map[*storedFeed]struct{}
}

// viewers follow one chair; view is what they were last told of.
type viewers struct {
	view  proto.View
	feeds map[*viewFeed]struct{}
}

func newFollowers() followers {
	return followers{map[*rowFeed]struct{}{}, map[hub.ChairID]*viewers{}, map[receipt.Boot]map[*storedFeed]struct{}{}}
}

// publish tells everybody who can see a difference. Callers hold mu.
func (s *Session) publish(seen tuneup.Seen) {
	if seen == tuneup.Nobody {
		return
	}
	s.version++
	if seen == tuneup.Everyone && len(s.follow.views) > 0 {
		s.renewViews()
	}
	for f := range s.follow.rows {
		f.Poke()
	}
}

// renewViews tells the players whose view is another by now, and those whose chair is
// gone that there will be no more.
func (s *Session) renewViews() {
	st := s.state.Standing(s.now())
	for id, v := range s.follow.views {
		c := st.Chair(id)
		if c == nil {
			s.follow.endViews(id)
			continue
		}
		if now := show.NewView(st, c); !reflect.DeepEqual(now, v.view) {
			v.view = now
			for f := range v.feeds {
				f.Poke()
			}
		}
	}
}

// endViews ends what a chair's node follows.
func (f *followers) endViews(id hub.ChairID) {
	if v := f.views[id]; v != nil {
		for feed := range v.feeds {
			feed.End()
		}
		delete(f.views, id)
	}
}

func (f *followers) endAllViews() {
	for id := range f.views {
		f.endViews(id)
	}
}

func (f *followers) addStored(b receipt.Boot, feed *storedFeed) {
	if f.stored[b] == nil {
		f.stored[b] = map[*storedFeed]struct{}{}
	}
	f.stored[b][feed] = struct{}{}
}

// dropStored reports whether the feed was there.
func (f *followers) dropStored(b receipt.Boot, feed *storedFeed) bool {
	_, open := f.stored[b][feed]
	if delete(f.stored[b], feed); len(f.stored[b]) == 0 {
		delete(f.stored, b)
	}
	return open
}

func (f *followers) pokeStored(b receipt.Boot) {
	for feed := range f.stored[b] {
		feed.Poke()
	}
}

// Follow hands out a chair's view whenever it changes. The feed of a chair
// that does not exist is closed from the start.
func (s *Session) Follow(chair hub.ChairID) *feed.Feed[proto.View] {
	s.mu.Lock()
	defer s.mu.Unlock()
	f := feed.New(func() proto.View { return s.followed(chair) }, func(f *viewFeed) {
		s.mu.Lock()
		defer s.mu.Unlock()
		if v := s.follow.views[chair]; v != nil {
			if delete(v.feeds, f); len(v.feeds) == 0 {
				delete(s.follow.views, chair)
			}
		}
	})
	st := s.state.Standing(s.now())
	c := st.Chair(chair)
	if c == nil {
		f.End()
		return f
	}
	v := s.follow.views[chair]
	if v == nil {
		v = &viewers{feeds: map[*viewFeed]struct{}{}}
		s.follow.views[chair] = v
	}
	v.view = show.NewView(st, c)
	v.feeds[f] = struct{}{}
	return f
}

// followed is the view that a chair's feeds were last told of.
func (s *Session) followed(chair hub.ChairID) proto.View {
	s.mu.Lock()
	defer s.mu.Unlock()
	if v := s.follow.views[chair]; v != nil {
		return v.view
	}
	return show.NoView()
}

// View returns what a chair's page shows now.
func (s *Session) View(chair hub.ChairID) proto.View {
	s.mu.Lock()
	defer s.mu.Unlock()
	st := s.state.Standing(s.now())
	if c := st.Chair(chair); c != nil {
		return show.NewView(st, c)
	}
	return show.NoView()
}

// FollowRow hands out the row whenever it changes.
func (s *Session) FollowRow() *feed.Feed[show.Row] {
	s.mu.Lock()
	defer s.mu.Unlock()
	f := feed.New(s.Row, func(f *rowFeed) {
		s.mu.Lock()
		defer s.mu.Unlock()
		delete(s.follow.rows, f)
	})
	s.follow.rows[f] = struct{}{}
	return f
}

// Row returns the leader's row as it is now. The list of chairs is the
// caller's own; what the chairs point to is shared and must not be changed.
func (s *Session) Row() show.Row {
	s.mu.Lock()
	defer s.mu.Unlock()
	now := s.now()
	if s.row == nil || s.row.Version != s.version {
		r := show.NewRow(s.state.Standing(now), s.version, s.trouble)
		s.row = &r
	}
	row := *s.row
	row.Chairs = slices.Clone(row.Chairs)
	if row.Round != nil {
		r := *row.Round
		r.UsedSeconds = s.state.Used(now).Seconds()
		row.Round = &r
	}
	return row
}

// RowInEnglish is the row as commands print it, without the time.
func (s *Session) RowInEnglish() show.Row {
	return show.NewRow(show.English(s.Standing()), 0, nil)
}

// Standing is how things stand now, in facts and figures. It must not be changed.
func (s *Session) Standing() tuneup.Standing {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.state.Standing(s.now())
}

// Summary sums up the tune-up so far.
func (s *Session) Summary() show.Summary { return show.NewSummary(s.Standing()) }

// SummaryInEnglish sums it up as commands and files have it.
func (s *Session) SummaryInEnglish() show.Summary { return show.NewSummary(show.English(s.Standing())) }

// Section returns a copy of the open section.
func (s *Session) Section() hub.Section {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.state.Section()
}

// Node returns which node holds a chair now, "" when none.
func (s *Session) Node(chair hub.ChairID) string {
	s.mu.Lock()
	defer s.mu.Unlock()
	node, _ := s.state.Node(chair)
	return node
}

// ChairFor finds the chair that a peer would get, 0 for a new one. known is the
// node's record, zero for none.
func (s *Session) ChairFor(p hub.Peer, known hub.NodeRecord) hub.ChairID {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.state.ChairFor(p, known)
}

// Propose hands the tones of a chord, by its name, out to the chairs as a call
// would. The error says what is wrong with the name.
func (s *Session) Propose(chord string) (tuneup.Proposal, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.state.Propose(chord)
}
