package solo

import (
	"context"
	"slices"
	"sync"
	"time"

	"bellrow/cmd/bellrow/plain"
	"bellrow/hub/history/study"
	"bellrow/hub/slide"
	"bellrow/node"
	"bellrow/node/listen"
	"bellrow/node/player"
	"bellrow/proto"
	"bellrow/proto/track"
)

// noteOf is a reading as a study takes it.
func noteOf(r heardNote) study.Note {
	n := study.Note{Reading: slide.Reading{
		Hz: r.Hz, CI95: r.CI95, Spread: r.Spread, Drift: r.Drift, Level: r.Level, Early: r.Early,
		Settled: r.Settled, Reason: string(r.Reason),
	}}
	for _, p := range r.Path {
		n.Path = append(n.Path, study.Point{Seconds: float64(p.Sample-r.Onset) / r.rate, Hz: p.Hz})
	}
	return n
}

// heardNote is a reading with the rate of its source.
type heardNote struct {
	listen.Reading
	rate float64
}

// Desk stands where the connection to a hub would: it shows the node and
// the page what is asked, and keeps what was heard.
type Desk struct {
	Always bool // every note counts: a recording has its rests in it
	Page   *player.Server
	notes  chan heardNote
	on     chan struct{} // the player goes on: a slide was moved, or Enter pressed
	wanted bool          // by the node's goroutine alone: the next reading was asked for

	showing sync.Mutex // held while the page is shown a view

	mu      sync.Mutex
	asked   func(language string) proto.View // what is asked now; nil before anything is
	view    proto.View                       // the same in the page's language
	tag     string                           // of the page's language
	paused  bool
	changed chan struct{}
	id      int64
}

// manyNotes is how many notes of a recording may wait to be taken.
const manyNotes = 4096

// NewDesk makes a desk at which nothing is asked yet.
func NewDesk() *Desk {
	return &Desk{notes: make(chan heardNote, manyNotes), on: make(chan struct{}, 1), changed: make(chan struct{})}
}

func (d *Desk) show(view func(language string) proto.View) {
	d.mu.Lock()
	d.asked, d.view = view, view(d.tag)
	close(d.changed)
	d.changed = make(chan struct{})
	d.mu.Unlock()
	select { // what was said before this prompt answers another
	case <-d.on:
	default:
	}
	d.page()
}

// page shows the page what is asked; the last is what stays.
func (d *Desk) page() {
	if d.Page == nil {
		return
	}
	d.showing.Lock()
	defer d.showing.Unlock()
	d.mu.Lock()
	v := d.view
	d.mu.Unlock()
	d.Page.ShowView(v)
}

func (d *Desk) nextID() int64 {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.id++
	return d.id
}

// View and Changed are what a node, its page and a simulated player see.
func (d *Desk) View() proto.View {
	d.mu.Lock()
	defer d.mu.Unlock()
	v := d.view
	v.Listen = (v.Listen || d.Always) && !d.paused
	return v
}

func (d *Desk) Changed() <-chan struct{} {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.changed
}

// Send notes that the reading that is about to be heard was asked for.
func (d *Desk) Send(proto.Reading) { d.wanted = true }

// heard takes what the node hears.
func (d *Desk) heard(h node.Heard) {
	if d.Page != nil {
		d.Page.ShowSound(player.Sound{State: h.State, Level: h.Level, Floor: h.Floor, Device: h.Device, Rate: h.Rate, Trouble: h.Trouble})
	}
	if h.Reading == nil || !d.wanted {
		return
	}
	d.wanted = false
	select {
	case d.notes <- heardNote{*h.Reading, h.Rate}:
	default:
	}
}

// goOn passes what the study waits for the player to do.
func (d *Desk) goOn() {
	select {
	case d.on <- struct{}{}:
	default:
	}
}

// Setting says that a slide was moved.
func (d *Desk) Setting(proto.Setting) { d.goOn() }

// SetSetting, Pause and Join make the desk the node behind its own page.
func (d *Desk) SetSetting(_ context.Context, s proto.Setting) error {
	if a := d.View().Answer; a == nil || !slices.ContainsFunc(a.Moves, func(m proto.Slide) bool { return m.ID == s.Slide }) {
		return plain.Fail("give it with --settings when you start the next one", "this study takes the slides as they stood when it began")
	}
	d.goOn()
	return nil
}

// Pause closes the ears of the study, or opens them again; it waits meanwhile.
func (d *Desk) Pause(on bool) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.paused = on
	close(d.changed)
	d.changed = make(chan struct{})
}

// SetNames is for the page alone.
func (d *Desk) SetNames(string) {}

// SetLanguage says what is asked in the language of the page.
func (d *Desk) SetLanguage(tag string, _ bool) {
	d.mu.Lock()
	ask := d.asked != nil && d.tag != tag
	if d.tag = tag; ask {
		d.view = d.asked(tag)
	}
	d.mu.Unlock()
	if ask {
		d.page()
	}
}

// SetMute is nothing to a study: it is played open.
func (d *Desk) SetMute(string) {}

// Warm is nothing to a study: it takes its player as warm from the start.
func (d *Desk) Warm() {}

// Join is not for one who plays alone.
func (d *Desk) Join(context.Context, player.Wish) error {
	return plain.Fail("stop this study and start bellrow node to join a section", "you are playing alone")
}

// State, Track and Clock are for a hub.
func (d *Desk) State(proto.State)               {}
func (d *Desk) Track(track.Chunk)               {}
func (d *Desk) Clock(int64, float64, time.Time) {}
