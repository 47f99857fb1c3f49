// Package webtest is a hub for designing and testing the pages: an invented
// section in a given scene of its tune-up. It notes commands and does not
// answer them with physics; end-to-end tests use the real hub.
package webtest

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strconv"
	"strings"
	"sync"

	"bellrow/hub"
	"bellrow/hub/feed"
	"bellrow/hub/intonation"
	"bellrow/hub/piece"
	"bellrow/hub/show"
	"bellrow/hub/tuneup"
	"bellrow/hub/web"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// Hub is a stand-in for *session.Session. It is safe for concurrent use.
type Hub struct {
	mu       sync.Mutex
	row      show.Row
	section  hub.Section
	summary  show.Summary
	feeds    map[*feed.Feed[show.Row]]struct{}
	commands []hub.Command
	// Refuse, when set, answers every command.
	Refuse error
}

var _ web.Hub = (*Hub)(nil)

// New returns a hub with the chairs of the section repeated up to n, in the
// given scene.
func New(n int, scene Scene) *Hub {
	h := &Hub{feeds: map[*feed.Feed[show.Row]]struct{}{}, section: Section(n)}
	h.row = scene(h.section)
	h.summary = summaryOf(h.section)
	return h
}

// Row returns the present row.
func (h *Hub) Row() show.Row {
	h.mu.Lock()
	defer h.mu.Unlock()
	row := h.row
	row.Setup = h.section
	return row
}

// FollowRow begins a feed with its first news waiting.
func (h *Hub) FollowRow() *feed.Feed[show.Row] {
	f := feed.New(h.Row, func(f *feed.Feed[show.Row]) {
		h.mu.Lock()
		defer h.mu.Unlock()
		delete(h.feeds, f)
	})
	h.mu.Lock()
	defer h.mu.Unlock()
	h.feeds[f] = struct{}{}
	return f
}

// Set replaces the row by what change makes of a copy, and tells all feeds.
func (h *Hub) Set(change func(*show.Row)) {
	h.mu.Lock()
	defer h.mu.Unlock()
	r := h.row
	r.Chairs = append([]show.ChairRow(nil), r.Chairs...)
	change(&r)
	r.Version++
	h.row = r
	for f := range h.feeds {
		f.Poke()
	}
}

// Command notes c. Absence and calls show on the row at once.
func (h *Hub) Command(_ context.Context, c hub.Command) error {
	h.mu.Lock()
	h.commands = append(h.commands, c)
	refuse := h.Refuse
	if refuse == nil && c.Do == hub.DoEdit && c.Section != nil {
		h.section = *c.Section
	}
	h.mu.Unlock()
	if refuse != nil {
		return refuse
	}
	h.Set(func(r *show.Row) {
		for i := range r.Chairs {
			if r.Chairs[i].ID != c.Chair {
				continue
			}
			switch c.Do {
			case hub.DoAbsent:
				r.Chairs[i].State, r.Chairs[i].Words = "absent", "not here today"
				r.CanUndo = r.Chairs[i].Label + " absent"
			case hub.DoPresent:
				r.Chairs[i].State, r.Chairs[i].Words = "idle", "ready"
			}
		}
		if c.Do == hub.DoUndo {
			r.CanUndo = ""
		}
	})
	return nil
}

// Commands returns what was asked so far.
func (h *Hub) Commands() []hub.Command {
	h.mu.Lock()
	defer h.mu.Unlock()
	return append([]hub.Command(nil), h.commands...)
}

// SummaryInEnglish is the same.
func (h *Hub) SummaryInEnglish() show.Summary { return h.Summary() }

// Summary returns an invented summary.
func (h *Hub) Summary() show.Summary {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.summary
}

// SetSummary changes the summary, and tells all feeds that something is new.
func (h *Hub) SetSummary(change func(*show.Summary)) {
	h.mu.Lock()
	change(&h.summary)
	h.mu.Unlock()
	h.Set(func(*show.Row) {})
}

// Section returns the section.
func (h *Hub) Section() hub.Section {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.section
}

// SetSection changes the section.
func (h *Hub) SetSection(change func(*hub.Section)) {
	h.mu.Lock()
	defer h.mu.Unlock()
	change(&h.section)
}

// Sections returns the section and an older one.
func (h *Hub) Sections(context.Context) ([]hub.Section, error) {
	older := Section(5)
	older.ID, older.Name = 2, "Quintet"
	return []hub.Section{h.Section(), older}, nil
}

// Propose hands a chord out as the hub does.
func (h *Hub) Propose(name string) (tuneup.Proposal, error) {
	c, err := intonation.ParseChord(name)
	if err != nil {
		return tuneup.Proposal{}, err
	}
	var parts []intonation.Part
	for _, ch := range h.Section().Chairs {
		if in, err := instrument.Find(ch.Instrument); err == nil && !ch.Absent {
			rank, _ := strconv.Atoi(ch.Label[strings.LastIndex(ch.Label, " ")+1:]) // 0 where it has none
			parts = append(parts, intonation.Part{Chair: intonation.Chair(ch.ID), Low: in.Low, High: in.Top(), Rank: rank})
		}
	}
	p := tuneup.Proposal{Chord: c, Tones: map[hub.ChairID]pitch.Note{}}
	for id, n := range intonation.Spread(c, parts) {
		p.Tones[hub.ChairID(id)] = n
	}
	return p, nil
}

// LoadPiece refuses, or reads nothing.
func (h *Hub) LoadPiece(context.Context, io.Reader) error { return h.Refuse }

// Piece says that there is none.
func (h *Hub) Piece() (piece.View, bool) { return piece.View{}, false }

// PiecePlan refuses for want of a piece.
func (h *Hub) PiecePlan() (piece.Plan, error) {
	return piece.Plan{}, errors.New("hub: there is no piece; open one first")
}

// Guard lets everybody in as leader, or nobody.
type Guard struct{ Closed bool }

// IsLeader reports whether the guard is open.
func (g Guard) IsLeader(*http.Request) bool { return !g.Closed }

// Protect adds nothing.
func (g Guard) Protect(next http.Handler) http.Handler { return next }

// ServeLeader accepts any key.
func (g Guard) ServeLeader(w http.ResponseWriter, _ *http.Request) {
	w.WriteHeader(http.StatusNoContent)
}

// ErrBusy is a refusal as the hub would word it.
var ErrBusy = errors.New("hub: no round is running, call a note first")

// seat is a line of the invented section.
type seat struct {
	label, name, part, inst, display, family string
	row                                      int
	written                                  string
	slides                                   []proto.Slide
}

func mainSlide(name string, out, travel float64) []proto.Slide {
	return []proto.Slide{{ID: instrument.Main, Name: name, FromMM: out, ToMM: out, TravelMM: travel}}
}

// seats is an invented section of twelve, low brass at the back.
var seats = []seat{
	{"Horn 1", "Ada", "1st horn in F", "horn_double", "double horn", "horn", 0, "F4", mainSlide("main slide", 12, 40)},
	{"Horn 2", "Bram", "2nd horn in F", "horn_double", "double horn", "horn", 0, "F4", mainSlide("main slide", 9, 40)},
	{"Horn 3", "Cleo", "3rd horn in F", "horn_double", "double horn", "horn", 0, "F4", mainSlide("main slide", 14, 40)},
	{"Trumpet 1", "Dov", "1st trumpet in B♭", "trumpet_bb", "B♭ trumpet", "trumpet", 1, "C5", mainSlide("main slide", 15, 50)},
	{"Trumpet 2", "Esme", "2nd trumpet in B♭", "trumpet_bb", "B♭ trumpet", "trumpet", 1, "C5", mainSlide("main slide", 13, 50)},
	{"Trumpet 3", "Finn", "3rd trumpet in B♭", "trumpet_bb", "B♭ trumpet", "trumpet", 1, "C5", mainSlide("main slide", 18, 50)},
	{"Flugelhorn", "Greta", "flugelhorn in B♭", "flugelhorn_bb", "flugelhorn", "trumpet", 1, "C5", mainSlide("lead pipe", 12, 30)},
	{"Trombone 1", "Hugo", "1st trombone", "tenor_trombone_bb", "tenor trombone", "trombone", 2, "B♭3", mainSlide("tuning slide", 20, 60)},
	{"Trombone 2", "Iris", "2nd trombone", "tenor_trombone_bb", "tenor trombone", "trombone", 2, "B♭3", mainSlide("tuning slide", 16, 60)},
	{"Bass trombone", "Jonas", "bass trombone", "bass_trombone_bb", "bass trombone", "trombone", 2, "B♭2", mainSlide("tuning slide", 18, 60)},
	{"Euphonium", "Kaja", "euphonium", "euphonium_bb_bc", "euphonium", "euphonium", 2, "B♭2", mainSlide("main slide", 14, 55)},
	{"Tuba", "Leo", "tuba", "tuba_bbb", "B♭ tuba", "tuba", 2, "B♭1", mainSlide("main slide", 22, 80)},
}

// Section returns an invented section of n chairs.
func Section(n int) hub.Section {
	s := hub.Section{ID: 1, Name: "Saturday brass", Reference: pitch.Reference{A4: 442}, Good: 5, Near: 10,
		TuningNotes: []pitch.Note{58, 65, 57}, Order: hub.OrderLowToHigh}
	for i := range n {
		p := seats[i%len(seats)]
		row, label, name := p.row, p.label, p.name
		if i >= len(seats) {
			row, label, name = i/10, fmt.Sprintf("%s, desk %d", p.label, i/len(seats)+1), fmt.Sprintf("%s %d", p.name, i/len(seats)+1)
		}
		s.Chairs = append(s.Chairs, hub.Chair{ID: hub.ChairID(i + 1), Name: name, Label: label, Part: p.part,
			Instrument: instrument.ID(p.inst), Row: row, Place: i % 12,
			Settings: instrument.Settings{instrument.Main: p.slides[0].FromMM}, Travel: instrument.Settings{}})
	}
	return s
}

// Lengthen puts the section into phrase.Long, with its own sentences as long.
func (h *Hub) Lengthen() {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.section.Language = phrase.Long.Tag
	long := func(texts ...*string) {
		for _, s := range texts {
			*s = phrase.Longer(*s)
		}
	}
	long(&h.row.Say, &h.row.Section.Common)
	if r := h.row.Round; r != nil {
		long(&r.Title, &r.Sentence)
		for i := range r.Choices {
			long(&r.Choices[i].Label, &r.Choices[i].Words)
		}
	}
	for i := range h.row.Chairs {
		c := &h.row.Chairs[i]
		long(&c.Words, &c.Headline, &c.Detail, &c.FollowThrough, &c.Trouble, &c.Instrument)
	}
	for i := range h.row.Groups {
		long(&h.row.Groups[i].Title, &h.row.Groups[i].Words)
	}
	for i := range h.summary.Chairs {
		c := &h.summary.Chairs[i]
		long(&c.Words, &c.FollowThrough, &c.Instrument)
		for k := range c.Moves {
			long(&c.Moves[k])
		}
	}
}
