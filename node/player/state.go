package player

import (
	"cmp"

	"bellrow/node/listen"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// Sound is what the node hears, for the page. No pitch is in it.
type Sound struct {
	State   listen.State
	Level   pitch.Level
	Floor   pitch.Level
	Device  string
	Rate    float64
	Trouble string  // stable code as in proto.State
	Played  float64 // seconds the instrument has sounded
	// Enough is set once for a note, when it has been heard well enough to end.
	Enough bool
}

// LinkState tells how the node stands with its hub.
type LinkState string

// Link states.
const (
	LinkSearching LinkState = "searching" // no hub found yet
	LinkFound     LinkState = "found"     // found, not joined
	LinkJoined    LinkState = "joined"
	LinkLost      LinkState = "lost"    // joined, but the hub does not answer just now
	LinkRefused   LinkState = "refused" // the hub said no; Problem says why
)

// Link is the connection to the hub, for the page.
type Link struct {
	State LinkState
	Hub   string // the hub's own name or address
	// Found are the addresses of hubs that answered on this network and cannot
	// prove that they are the right one, for choosing.
	Found []string
	// Seated are the chairs that are taken at the only hub that was found, as it
	// says before it has proved anything.
	Seated []string
	// Problem and Hint explain LinkLost and LinkRefused, as plain English clauses;
	// Code is their stable code.
	Code, Problem, Hint string
}

// state is all the page is made from.
type state struct {
	view    proto.View
	sound   Sound
	link    Link
	wish    Wish
	joining bool
	paused  bool
	mute    string
	browser string // the language that the browser reads best; empty for none of ours
	moved   int64  // the answer whose moves the player says were made
	heard   bool   // a note that was heard well enough has just ended; its answer is on the way
	kept    kept
}

// kept is where the sound of the note lies that an answer refused.
type kept struct {
	answer int64
	path   string
}

// language is what the page is to be in: as the player chose, or as the browser
// reads.
func (st state) language() string { return cmp.Or(st.wish.Language, st.browser) }

// joined reports whether the hub has a say on the page.
func (st state) joined() bool { return st.link.State == LinkJoined || st.link.State == LinkLost }

// tongue is what the page is in, all of it: on a seat, what the hub's sentences are
// in, for a hub of an earlier version knows English alone.
func (st state) tongue() phrase.Tongue {
	if st.joined() {
		return phrase.Player.In(st.view.Language, st.style())
	}
	return phrase.Player.In(st.language(), st.style())
}

// tongue see state.tongue.
func (s *Server) tongue() phrase.Tongue {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.state.tongue()
}

// ShowView shows what the hub sent. It does not block.
func (s *Server) ShowView(v proto.View) {
	s.update(func(st *state) {
		st.view, st.heard = v, false
		if a := v.Answer; a != nil && a.Moved && st.moved == a.ID {
			st.moved = 0 // from here on the hub's word holds: its leader may take the move back
		}
	})
}

// ShowSound shows what the node hears. It does not block.
func (s *Server) ShowSound(h Sound) {
	s.update(func(st *state) {
		st.heard = h.State == listen.Quiet && st.sound.Enough // the next look at the quiet room ends it
		h.Enough = h.State != listen.Quiet && h.State != "" && (h.Enough || st.sound.Enough)
		st.sound = h
	})
}

// ShowLink shows how the node stands with its hub. It does not block.
func (s *Server) ShowLink(l Link) {
	s.update(func(st *state) {
		st.link = l
		if l.State == LinkJoined || l.State == LinkRefused {
			st.joining = false
		}
	})
}

// ShowSeat says whose page this is when the seat was taken without the form.
func (s *Server) ShowSeat(w Wish) {
	s.update(func(st *state) { st.wish = w })
}

func (s *Server) update(change func(*state)) {
	s.mu.Lock()
	defer s.mu.Unlock()
	change(&s.state)
	for v := range s.viewers {
		select {
		case v <- struct{}{}:
		default: // a change is waiting already
		}
	}
}

// sheet returns the page as it stands.
func (s *Server) sheet() Sheet {
	s.mu.Lock()
	defer s.mu.Unlock()
	sh := newSheet(s.state, s.mic != nil)
	if a := sh.Answer; a != nil && s.keep != nil && refuses(a.Kind) {
		a.keep(s.state.kept)
	}
	return sh
}

// clefOf returns the clef that the hub tells, or else that of the seat's
// instrument; treble when unknown.
func clefOf(v proto.View, id instrument.ID) string {
	if _, known := bottomLines[v.Clef]; known {
		return v.Clef
	}
	if in, err := instrument.Find(id); err == nil && in.Clef != "" {
		return in.Clef
	}
	return "treble"
}
