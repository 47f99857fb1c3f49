// Package node is the player's side: it wires a source of samples to the
// listener and the listener to the hub.
//
// A Node owns one reading goroutine and runs its uplink beside it; both end
// before Run returns. Audio never leaves it: only readings, the listener's
// state and, while the hub asks for them, partial tracks of the called note.
package node

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"sync"
	"time"

	"bellrow/node/capture"
	"bellrow/node/listen"
	"bellrow/node/partials"
	"bellrow/proto"
	"bellrow/proto/pitch"
	"bellrow/proto/track"
)

// Uplink is what a node needs of its connection to the hub. Send, State and
// Track do not block; View returns the latest view, and the zero View before
// the first. node/uplink implements it.
type Uplink interface {
	Send(proto.Reading)
	State(proto.State)
	Track(track.Chunk)
	View() proto.View
	// Clock ties the source's sample count to the moment it was read.
	Clock(sample int64, rate float64, at time.Time)
}

// Config sets up a Node.
type Config struct {
	// Open opens the source; it is called again when a live source is lost.
	Open func(ctx context.Context) (capture.Source, error)
	// Uplink takes what the node hears.
	Uplink Uplink
	// Listen sets up the listener; its Rate is filled in from the source.
	Listen listen.Config
	// Played is how many seconds the player has played before this node
	// started: 0 for a cold instrument.
	Played float64
	// Warmth is a file that keeps how long the instrument has sounded from one
	// start to the next; empty keeps nothing.
	Warmth string
	// Heard, when set, is told of every event, in the reading goroutine: for
	// the terminal and the player's page. It must not block.
	Heard func(Heard)
	// KeepSound keeps the sound of the last note that was asked for in memory;
	// see Kept.
	KeepSound bool
	// Log gets details; nil discards them.
	Log *slog.Logger
	// Now stamps samples; nil means time.Now.
	Now func() time.Time
}

// Heard is what the node tells its own page and terminal.
type Heard struct {
	State   listen.State
	Level   pitch.Level
	Floor   pitch.Level
	Device  string
	Rate    float64
	Trouble string  // stable code as in proto.State; empty when all is well
	Played  float64 // seconds the instrument has sounded
	Reading *listen.Reading
	// Enough says, once for a note, that it has been heard well enough and may
	// end. Its reading waits for the end.
	Enough bool
}

// reopenAfter is how long a node waits before it tries a lost device again:
// long enough not to spin, short enough that a replugged microphone is back
// before the player wonders.
const reopenAfter = time.Second

// stateEvery is how often an unchanged state is repeated, in seconds of audio,
// so that the hub's picture of levels stays fresh.
const stateEvery = 1.0

// Node listens to one player.
type Node struct {
	config Config
	log    *slog.Logger
	now    func() time.Time

	mu     sync.Mutex
	last   Heard
	played float64 // seconds the instrument has sounded
	mute   string  // what is in the bell, as its player says
	// writtenPlayed is what of it was written down last.
	writtenPlayed float64
	paused        bool
	kept          *Sound
}

// New checks the configuration. It starts nothing.
func New(c Config) (*Node, error) {
	if c.Open == nil || c.Uplink == nil {
		return nil, errors.New("node: a source and an uplink are needed")
	}
	n := &Node{config: c, log: c.Log, now: c.Now, played: c.Played}
	if n.log == nil {
		n.log = slog.New(slog.DiscardHandler)
	}
	if n.now == nil {
		n.now = time.Now
	}
	if c.Warmth != "" {
		n.played = max(n.played, loadWarmth(c.Warmth, n.now()))
		n.writtenPlayed = n.played
	}
	return n, nil
}

// Last returns what the node heard last.
func (n *Node) Last() Heard {
	n.mu.Lock()
	defer n.mu.Unlock()
	return n.last
}

// Warmed adds seconds of playing that this node did not hear: the player says
// that the instrument is warm. It may be called from any goroutine.
func (n *Node) Warmed(seconds float64) {
	n.mu.Lock()
	defer n.mu.Unlock()
	n.played += seconds
}

// Played returns how long the instrument has sounded, in seconds.
func (n *Node) Played() float64 {
	n.mu.Lock()
	defer n.mu.Unlock()
	return n.played
}

// Pause makes the node deaf, or lets it listen again. A note under way is
// given up, and what was kept of the last one forgotten. It may be called from
// any goroutine.
func (n *Node) Pause(on bool) {
	n.mu.Lock()
	defer n.mu.Unlock()
	n.paused, n.kept = on, nil
}

func (n *Node) deaf() bool {
	n.mu.Lock()
	defer n.mu.Unlock()
	return n.paused
}

// Run listens until ctx is done or the source ends. A source that ends (a
// file) returns nil; a live source that fails is opened again until ctx is
// done.
func (n *Node) Run(ctx context.Context) error {
	for {
		src, err := n.config.Open(ctx)
		if err == nil {
			var live bool
			live, err = n.hear(ctx, src)
			if err == nil || (!live && ctx.Err() == nil) {
				return err
			}
		} else if n.Last().Device == "" {
			return err // never worked: say so at once
		}
		if ctx.Err() != nil {
			return ctx.Err()
		}
		n.log.Warn("source lost", "err", err)
		n.trouble("no-samples")
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(reopenAfter):
		}
	}
}

func (n *Node) trouble(code string) {
	h := n.Last()
	h.Trouble, h.State, h.Reading, h.Enough = code, listen.Quiet, nil, false
	n.tell(h)
	n.config.Uplink.State(proto.State{State: string(h.State), Level: pitch.Silence, Trouble: code})
}

func (n *Node) tell(h Heard) {
	n.mu.Lock()
	n.last = h
	n.last.Reading, n.last.Enough = nil, false
	n.mu.Unlock()
	if n.config.Heard != nil {
		n.config.Heard(h)
	}
}

// hear reads one source to its end. live says whether opening it again makes
// sense.
func (n *Node) hear(ctx context.Context, src capture.Source) (live bool, err error) {
	defer src.Close()
	info := src.Info()
	c := n.config.Listen
	c.Rate = info.Rate
	l, err := listen.New(c)
	if err != nil {
		return false, fmt.Errorf("node: source %s: %w", info.Name, err)
	}
	e := &ear{node: n, listener: l, info: info, state: listen.Quiet}
	e.device, _ = src.(capture.Troubled)
	if n.config.KeepSound {
		e.recent = newRecent(info.Rate)
	}
	e.report(nil)
	for {
		b, err := src.Read(ctx)
		if errors.Is(err, io.EOF) {
			e.events(l.Flush())
			return info.Live, nil
		}
		if ctx.Err() != nil {
			return info.Live, err // a note cut short by the end of this program is nobody's reading
		}
		if err != nil {
			e.events(l.Flush())
			return info.Live, err
		}
		e.block(b)
	}
}

// ear is the state of hearing one source.
type ear struct {
	node     *Node
	listener *listen.Listener
	info     capture.Info

	state    listen.State
	trouble  string
	unheard  int64   // samples passed while paused
	paused   bool    // and the hub was told
	reported float64 // audio time of the last state sent, seconds
	round    int64   // of the view at the note's onset
	wanted   bool    // the view at the onset asked for a reading
	enough   bool    // the event being told of says that the note may end
	eaten    int     // notes that a program took for noise, one after the other
	eatenAt  int64   // sample at which that was heard last

	recent *recent          // nil unless sound is kept
	device capture.Troubled // nil when the source knows of no lasting trouble

	bending bool // the listener keeps the pitch path of long notes

	extractor *partials.Extractor
	reference pitch.Hertz
}

func (e *ear) block(b capture.Block) {
	up := e.node.config.Uplink
	end := b.First + int64(len(b.Samples))
	up.Clock(end, e.info.Rate, e.node.now())
	e.trouble = ""
	if e.device != nil {
		e.trouble = e.device.Trouble()
	}
	if e.eaten >= eatenTwice && e.trouble == "" {
		e.trouble = "processing-on"
	}
	if e.node.deaf() {
		e.unheard += b.Lost + int64(len(b.Samples))
		if at := float64(end) / e.info.Rate; !e.paused || at-e.reported >= stateEvery {
			e.paused, e.reported, e.state = true, at, listen.Quiet
			e.report(nil)
		}
		return
	}
	if e.paused {
		e.paused = false
		defer e.report(nil) // back at once
	}
	b.Lost, e.unheard = b.Lost+e.unheard, 0
	if e.recent != nil {
		e.recent.hear(b)
	}
	if b.Lost > 0 {
		e.trouble = "overrun"
		e.listener.Gap(b.Lost)
		if e.extractor != nil {
			e.extractor.Gap(b.Lost)
		}
	}
	view := up.View()
	if e.state == listen.Quiet {
		if view.Path != e.bending {
			e.bend(view.Path, b.First)
		}
		e.round, e.wanted = view.Round, view.Listen
		e.listener.Call(view.Target)
		e.listener.Row(view.Tracks > 0)
	}
	e.events(e.listener.Write(b.Samples))
	e.tracks(b, view.Tracks)
	if e.state != listen.Quiet {
		e.node.Warmed(float64(len(b.Samples)) / e.info.Rate)
		if e.node.warmedSinceKept() >= keepEvery {
			e.node.keepWarmth()
		}
	}
	if at := float64(end) / e.info.Rate; at-e.reported >= stateEvery {
		e.reported = at
		e.report(nil)
	}
}

// tracks feeds the partial extractor while the hub asks for tracks.
func (e *ear) tracks(b capture.Block, reference pitch.Hertz) {
	if !reference.Valid() {
		e.extractor, e.reference = nil, 0
		return
	}
	if reference != e.reference {
		x, err := partials.New(partials.Config{Rate: e.info.Rate, Reference: reference})
		if err != nil {
			e.node.log.Warn("no partial tracks", "err", err)
		} else if b.First > 0 {
			x.Gap(b.First) // count as the source does
		}
		e.extractor, e.reference = x, reference
	}
	if e.extractor == nil {
		return
	}
	for _, c := range e.extractor.Write(b.Samples) {
		c.Floor, c.Level = e.listener.Floor(), e.listener.Level()
		e.node.config.Uplink.Track(c)
	}
}

func (e *ear) events(es []listen.Event) {
	for _, ev := range es {
		changed := ev.State != e.state
		e.state = ev.State
		e.processed(ev)
		if ev.Reading != nil && e.wanted {
			if e.recent != nil {
				e.node.keep(e.recent.note(ev.Reading.Onset))
			}
			e.node.config.Uplink.Send(e.wire(ev.Reading))
		}
		e.enough = ev.Enough
		if changed || ev.Reading != nil || ev.Enough {
			e.report(ev.Reading)
		}
		e.enough = false
	}
}

// spared is how long, in seconds, a note must have sounded to show that no program eats
// what is held any more; eatenTwice says how many must have been eaten before that is
// believed, for a room may take a note and not give it back.
const spared, eatenTwice = 3, 2

// processed hears from ev whether a program takes held notes for noise.
func (e *ear) processed(ev listen.Event) {
	switch r := ev.Reading; {
	case ev.Eaten:
		if e.eaten == 0 || float64(ev.Sample-e.eatenAt) > spared*e.info.Rate {
			e.eaten++
		}
		e.eatenAt = ev.Sample
	case r != nil && r.Settled && float64(r.End-r.Onset) > spared*e.info.Rate && e.eatenAt < r.Onset:
		e.eaten = 0
	}
}

func (e *ear) report(r *listen.Reading) {
	h := Heard{
		State: e.state, Level: e.listener.Level(), Floor: e.listener.Floor(),
		Device: e.info.Name, Rate: e.info.Rate, Trouble: e.trouble, Reading: r, Played: e.node.Played(), Enough: e.enough,
	}
	e.node.tell(h)
	state := string(h.State)
	if e.node.deaf() {
		state = proto.Paused
	}
	e.node.config.Uplink.State(proto.State{State: state, Level: h.Level, Trouble: h.Trouble, Played: e.node.Played()})
}

// wire turns a reading into its message. Times become seconds.
func (e *ear) wire(r *listen.Reading) proto.Reading {
	s := func(sample int64) float64 { return float64(sample) / e.info.Rate }
	w := proto.Reading{
		Round: e.round, Onset: s(r.Onset), Start: s(r.Start), End: s(r.End),
		Hz: r.Hz, CI95: r.CI95, Spread: r.Spread, Drift: r.Drift,
		Level: r.Level, Floor: r.Floor, Early: r.Early, Played: e.node.Played(),
		Settled: r.Settled, Reason: string(r.Reason), Clipped: r.Clipped, OctaveInDoubt: r.Octave, Mute: e.node.muted(), Path: wirePath(r, e.info.Rate),
	}
	if r.Vibrato != nil {
		w.Vibrato = &proto.Vibrato{RateHz: r.Vibrato.RateHz, Extent: r.Vibrato.Extent}
	}
	return w
}
