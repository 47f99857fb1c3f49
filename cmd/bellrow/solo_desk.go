package main

import (
	"context"
	"slices"
	"sync"
	"time"

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

// soloDesk stands where the connection to a hub would: it shows the node and
// the page what is asked, and keeps what was heard.
type soloDesk struct {
	always bool // every note counts: a recording has its rests in it
	page   *player.Server
	notes  chan heardNote
	on     chan struct{} // the player goes on: a slide was moved, or Enter pressed
	wanted bool          // by the node's goroutine alone: the next reading was asked for

	mu      sync.Mutex
	view    proto.View
	paused  bool
	changed chan struct{}
	id      int64
}

// soloNotes is how many notes of a recording may wait to be taken.
const soloNotes = 4096

func newSoloDesk() *soloDesk {
	return &soloDesk{notes: make(chan heardNote, soloNotes), on: make(chan struct{}, 1), changed: make(chan struct{})}
}

func (d *soloDesk) show(v proto.View) {
	d.mu.Lock()
	d.view = v
	close(d.changed)
	d.changed = make(chan struct{})
	d.mu.Unlock()
	select { // what was said before this prompt answers another
	case <-d.on:
	default:
	}
	if d.page != nil {
		d.page.ShowView(v)
	}
}

func (d *soloDesk) nextID() int64 {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.id++
	return d.id
}

// View and Changed are what a node, its page and a simulated player see.
func (d *soloDesk) View() proto.View {
	d.mu.Lock()
	defer d.mu.Unlock()
	v := d.view
	v.Listen = (v.Listen || d.always) && !d.paused
	return v
}

func (d *soloDesk) Changed() <-chan struct{} {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.changed
}

// Send notes that the reading that is about to be heard was asked for.
func (d *soloDesk) Send(proto.Reading) { d.wanted = true }

// heard takes what the node hears.
func (d *soloDesk) heard(h node.Heard) {
	if d.page != nil {
		d.page.ShowSound(player.Sound{State: h.State, Level: h.Level, Floor: h.Floor, Device: h.Device, Rate: h.Rate, Trouble: h.Trouble})
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
func (d *soloDesk) goOn() {
	select {
	case d.on <- struct{}{}:
	default:
	}
}

// Setting says that a slide was moved.
func (d *soloDesk) Setting(proto.Setting) { d.goOn() }

// SetSetting, Pause and Join make the desk the node behind its own page.
func (d *soloDesk) SetSetting(_ context.Context, s proto.Setting) error {
	if a := d.View().Answer; a == nil || !slices.ContainsFunc(a.Moves, func(m proto.Slide) bool { return m.ID == s.Slide }) {
		return say("give it with --settings when you start the next one", "this study takes the slides as they stood when it began")
	}
	d.goOn()
	return nil
}

// Pause closes the ears of the study, or opens them again; it waits meanwhile.
func (d *soloDesk) Pause(on bool) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.paused = on
	close(d.changed)
	d.changed = make(chan struct{})
}

// Join is not for one who plays alone.
func (d *soloDesk) Join(context.Context, player.Wish) error {
	return say("stop this study and start bellrow node to join a section", "you are playing alone")
}

// State, Track and Clock are for a hub.
func (d *soloDesk) State(proto.State)               {}
func (d *soloDesk) Track(track.Chunk)               {}
func (d *soloDesk) Clock(int64, float64, time.Time) {}
