package main

import (
	"context"
	"encoding/json"
	"fmt"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"bellrow/cmd/bellrow/plain"
	"bellrow/node"
	"bellrow/node/capture"
	"bellrow/node/find"
	"bellrow/node/listen"
	"bellrow/node/player"
	"bellrow/node/uplink"
	"bellrow/proto"
	"bellrow/proto/disk"
	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
)

// front is one player's laptop: the page that takes the player's wishes, and
// the desk that the latest wish asked for.
type front struct {
	config   *nodeConfig
	env      env
	log      *slog.Logger
	page     *player.Server     // nil with --no-page
	mic      *player.Microphone // nil unless the page is the microphone
	listener net.Listener
	wishes   chan player.Wish

	mayJoin func() bool // nil: any number of times

	browser atomic.Pointer[string] // the language of the page; nil until it was opened

	mu   sync.Mutex
	desk *desk // nil until somebody sits here
}

func openFront(c *nodeConfig, e env) (*front, error) {
	f := &front{config: c, env: e, log: logger(e, c.verbose), wishes: make(chan player.Wish, 1)}
	if c.noPage {
		if c.ownPage() {
			return nil, misused("leave out --no-page, or give --device, --wav or --simulate", "without its page this node has no microphone")
		}
		return f, nil
	}
	pc := player.Config{Node: f, Secret: pageSecret(c.state), Last: f.wish(), Keep: f.keepSound, Log: f.log}
	if c.ownPage() {
		f.mic = player.NewMicrophone(f.log)
		pc.Mic = f.mic
	}
	var err error
	if f.listener, err = listenForPage(c.page); err != nil {
		return nil, err
	}
	f.page, err = player.New(pc)
	return f, err
}

// wish is what the command line says, filled up with what was said last time.
func (f *front) wish() player.Wish {
	w := player.Wish{}
	if data, err := os.ReadFile(f.memory()); err == nil {
		_ = json.Unmarshal(data, &w) // an unreadable memory is no memory
	}
	c := f.config
	if c.chair != "" {
		w.Name, w.Part = c.chair, c.part
	}
	if c.instrument != nil {
		w.Instrument = c.instrument.ID
	}
	if c.join != "" {
		w.Code = c.join
	}
	if c.at != "" {
		w.Hub = c.at
	}
	w.Sure = c.older
	return w
}

// memory is the file of the last wish.
func (f *front) memory() string { return filepath.Join(f.config.state, "seat.json") }

func (f *front) remember(w player.Wish) {
	w.Code, w.Sure = "", false // they may be others tomorrow
	if l, err := proto.ParseLink(w.Hub); err == nil {
		w.Hub = l.Address // a link would name the only hub that will do, and the code
	}
	data, err := json.Marshal(w)
	if err == nil {
		err = os.MkdirAll(filepath.Dir(f.memory()), 0o700)
	}
	if err == nil {
		err = os.WriteFile(f.memory(), data, 0o600)
	}
	if err != nil {
		f.log.Warn("the seat is not remembered", "err", err)
	}
}

// run serves the page and one desk after the other until ctx is done or a
// file has ended.
func (f *front) run(ctx context.Context) error {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	served := f.serve(ctx)
	defer func() { stop(); <-served }()

	w := f.wish()
	if !f.taken(time.Now()) && (f.config.chair == "" || f.config.instrument == nil) {
		fmt.Fprintln(f.env.stdout, "Say on your page who you are and what you play.")
		if w = f.next(ctx); ctx.Err() != nil {
			return nil
		}
	}
	for {
		again, err := f.sit(ctx, &w)
		if !again {
			return err
		}
	}
}

// seatKept is how long after it was taken a seat is taken again by itself: the
// evening's, whatever ended meanwhile, and nobody's of yesterday.
const seatKept = 8 * time.Hour

// taken reports whether this laptop took a seat a while ago, so that it is taken
// again without a press.
func (f *front) taken(now time.Time) bool {
	w := f.wish()
	at, err := os.Stat(f.memory())
	_, unknown := instrument.Find(w.Instrument)
	return err == nil && unknown == nil && w.Name != "" && now.Sub(at.ModTime()) < seatKept
}

// lookAgain spaces the looks at the network while nobody sits here yet.
const lookAgain = 5 * time.Second

// look shows on the page what hubs are on this network, until ctx is done: what
// the page says before somebody sits down is true.
func (f *front) look(ctx context.Context) {
	if f.config.remote { // the hub itself serves this page
		f.page.ShowLink(player.Link{State: player.LinkFound})
		return
	}
	for !f.config.noMDNS {
		found, err := find.Browse(ctx, find.Interfaces())
		if ctx.Err() != nil {
			return
		}
		l := player.Link{State: player.LinkSearching}
		var names []string
		for _, h := range found {
			names = append(names, h.Name)
		}
		if names = slices.Compact(names); err == nil && len(names) > 0 {
			l = player.Link{State: player.LinkFound, Hub: strings.Join(names, ", ")}
			if len(found) == 1 {
				l.Seated = seated(ctx, found[0])
			}
		}
		f.page.ShowLink(l)
		select {
		case <-ctx.Done():
			return
		case <-time.After(lookAgain):
		}
	}
}

// next waits for a wish, and looks around meanwhile.
func (f *front) next(ctx context.Context) player.Wish {
	if f.page != nil {
		looking, stop := context.WithCancel(ctx)
		looked := make(chan struct{})
		go func() { defer close(looked); f.look(looking) }()
		defer func() { stop(); <-looked }()
	}
	select {
	case w := <-f.wishes:
		return w
	case <-ctx.Done():
		return player.Wish{}
	}
}

// serve opens the page's door; the channel closes when it is shut.
func (f *front) serve(ctx context.Context) <-chan struct{} {
	done := make(chan struct{})
	if f.listener == nil { // no page, or somebody else serves it
		close(done)
		return done
	}
	shut := servePage(f.page, f.listener)
	fmt.Fprintf(f.env.stdout, "Your page: %s\n", f.page.URL(f.listener.Addr()))
	if f.mic != nil {
		fmt.Fprintln(f.env.stdout, "Open it in a browser on this laptop: it is the microphone.")
	}
	go func() {
		defer close(done)
		<-ctx.Done()
		shut()
	}()
	return done
}

// sit runs the desk of wish w until the next wish (again is true, w is the
// new one), the end of the source, or the end of ctx.
func (f *front) sit(ctx context.Context, w *player.Wish) (again bool, err error) {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	d, ended, err := f.newDesk(ctx, *w)
	if err != nil {
		return false, err
	}
	f.set(d)
	f.remember(*w)
	told := make(chan struct{})
	go func() { defer close(told); (&teller{f.env.stdout}).follow(ctx, d.up) }()
	done := make(chan error, 1)
	go func() { done <- d.run(ctx, ended) }()
	select {
	case err = <-done:
	case next := <-f.wishes:
		*w, again = next, true
		stop()
		<-done
	}
	stop()
	<-told
	return again, err
}

func (f *front) set(d *desk) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.desk = d
}

func (f *front) now() *desk {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.desk
}

// newDesk makes the desk of a wish.
func (f *front) newDesk(ctx context.Context, w player.Wish) (d *desk, ended bool, err error) {
	in, err := findInstrument(string(w.Instrument))
	if err != nil {
		return nil, false, err
	}
	var at proto.Link
	if w.Hub != "" {
		if at, err = parseLink(w.Hub); err != nil {
			return nil, false, plain.Keyed(err, "start.fault.link", w.Hub)
		}
	}
	c := deskConfig{
		uplink: uplink.Config{
			Chair: w.Name, Part: w.Part, Instrument: in.ID, Tracks: true, Join: w.Code, Hub: at, Sure: w.Sure,
			StateDir: filepath.Join(f.config.state, "chair", fileName(w.Name)), NoMulticast: f.config.noMDNS, Log: f.log,
		},
		listen: listen.Config{ClockPPM: f.config.clockPPM()},
		page:   f.page, keep: f.page != nil && !f.config.remote, log: f.log,
	}
	if f.config.wav == "" && f.config.simulate == "" {
		c.warmth = filepath.Join(c.uplink.StateDir, "warmth.json")
	}
	if f.config.warm {
		c.played = node.WarmSeconds
	}
	if f.page != nil {
		f.page.ShowSeat(w)
	}
	defer func() {
		if d != nil {
			d.SetNames(w.Names)
			d.SetLanguage(f.language(w), true)
		}
	}()
	if f.config.simulate != "" {
		d, err = soloist(ctx, c, in, f.config.simulate)
		return d, false, err
	}
	c.open, ended, err = f.config.source(f.mic, f.log)
	if err != nil {
		return nil, false, err
	}
	d, err = newDesk(c)
	return d, ended, err
}

// SetSetting tells the hub where a slide stands.
func (f *front) SetSetting(ctx context.Context, s proto.Setting) error {
	if d := f.now(); d != nil {
		return d.SetSetting(ctx, s)
	}
	return say("take your seat first", "nobody sits here yet")
}

// keepSound writes the last note to this laptop.
func (f *front) keepSound() (path string, err error) {
	dir := f.config.sounds
	if dir == "" {
		home, err := os.UserHomeDir()
		if err != nil {
			return "", phrase.Refuse("node", "player.kept.home")
		}
		dir = filepath.Join(home, "bellrow sounds")
	}
	var sound *node.Sound
	if d := f.now(); d != nil {
		sound = d.node.Kept()
	}
	if sound == nil {
		return "", phrase.Refuse("node", "player.kept.gone")
	}
	path, err = sound.Save(dir, time.Now())
	return path, keptError(dir, err)
}

// keptError says why a sound could not be written to dir; nil for nil.
func keptError(dir string, err error) error {
	switch {
	case err == nil:
		return nil
	case disk.Full(err):
		return phrase.Refuse("node", "player.kept.full", dir)
	case disk.ReadOnly(err):
		return phrase.Refuse("node", "player.kept.forbidden", dir)
	}
	return phrase.Refuse("node", "player.kept.unwritten", dir)
}

// Pause stops listening, or goes on.
func (f *front) Pause(on bool) {
	if d := f.now(); d != nil {
		d.Pause(on)
	}
}

// SetNames says how this player wants notes named, now and next time.
func (f *front) SetNames(names string) {
	w := f.wish()
	w.Names = names
	f.remember(w)
	if d := f.now(); d != nil {
		d.SetNames(names)
	}
}

// SetLanguage says what this player's page is in, and, where the player chose it,
// next time too.
func (f *front) SetLanguage(tag string, chosen bool) {
	if chosen {
		w := f.wish()
		w.Language = tag
		f.remember(w)
	}
	f.browser.Store(&tag)
	if d := f.now(); d != nil {
		d.SetLanguage(tag, chosen)
	}
}

// language is what a player chose, or what the browser that opened the page reads.
func (f *front) language(w player.Wish) string {
	if tag := f.browser.Load(); w.Language == "" && tag != nil {
		return *tag
	}
	return w.Language
}

// SetMute says what is in the bell.
func (f *front) SetMute(mute string) {
	if d := f.now(); d != nil {
		d.SetMute(mute)
	}
}

// Warm counts the instrument as warm.
func (f *front) Warm() {
	if d := f.now(); d != nil {
		d.Warm()
	}
}

// Join takes a seat, or changes to another.
func (f *front) Join(ctx context.Context, w player.Wish) error {
	if f.mayJoin != nil && !f.mayJoin() {
		return phrase.Refuse("node", "player.refused.often")
	}
	if f.config.remote { // a telephone does not send this laptop elsewhere
		w.Hub = f.config.at
		if f.config.join != "" {
			w.Code = f.config.join
		}
	}
	if _, err := instrument.Find(w.Instrument); err != nil {
		return &phrase.Refusal{Key: "player.refused.no-instrument", Err: err}
	}
	select {
	case f.wishes <- w:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	case <-time.After(joinWithin):
		return phrase.Refuse("node", "player.refused.busy")
	}
}

// joinWithin is how long a wish may wait for the desk before it to close.
const joinWithin = 3 * time.Second

// soloist makes the desk of one simulated player alone on a stage.
func soloist(ctx context.Context, c deskConfig, in *instrument.Instrument, spec string) (*desk, error) {
	stage, pc, err := lonelyStage(in, spec)
	if err != nil {
		return nil, err
	}
	src := stage.Source(0)
	c.open = func(context.Context) (capture.Source, error) { return src, nil }
	d, err := newDesk(c)
	if err != nil {
		return nil, err
	}
	perform, err := performer(pc, stage.Voice(0), d)
	if err != nil {
		return nil, err
	}
	go stage.Run(ctx)
	go perform.Run(ctx)
	return d, nil
}
