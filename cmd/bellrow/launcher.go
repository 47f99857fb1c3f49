package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/pkg/browser"

	"bellrow/cmd/bellrow/plain"
	"bellrow/cmd/bellrow/preset"
	"bellrow/cmd/bellrow/start"
	"bellrow/hub/access"
	"bellrow/hub/sqlite"
	"bellrow/node/find"
	"bellrow/proto"
	"bellrow/proto/instrument"
)

// launcher is what a double click starts: a page on which one leads or plays.
type launcher struct {
	env       env
	log       *slog.Logger
	preset    preset.Preset
	data      string // of the hub
	state     string // of the node
	listen    string // of the hub
	phones    string
	announce  bool
	ctx       context.Context // of what runs; done at the end
	running   sync.WaitGroup
	searching sync.Mutex // held while the network is searched

	mu      sync.Mutex
	hubs    []start.Hub
	looked  time.Time // when the network was searched
	leading *start.Running
	playing *start.Running
	trouble error // what ended by itself
}

// Times of the launcher.
const (
	lookEvery   = 10 * time.Second // between searches of the network, while somebody looks
	unseenFor   = 15 * time.Second // until the address is left in a file: no browser came
	idleFor     = 5 * time.Minute  // without a page and without anything that runs, it ends
	startedPort = "127.0.0.1:7444" // whoever has it is the first
)

// showPage shows a page in this user's browser.
var showPage = func(url string) error {
	browser.Stdout, browser.Stderr = io.Discard, io.Discard
	return browser.OpenURL(url)
}

// launch serves the page until somebody stops it, or finds the one that is
// served already.
func launch(ctx context.Context, e env) error {
	if again, err := startedAgain(); again {
		return err
	}
	state, data := defaultFolder("node"), defaultFolder("hub")
	if state == "" {
		return say("set HOME, or use the commands that bellrow help lists", "this user has no home folder, so there is no usual place for what bellrow keeps")
	}
	set, err := presetHere()
	if err != nil {
		return err
	}
	l := &launcher{env: e, log: logger(e, false), preset: set, data: data, state: state, listen: ":" + strconv.Itoa(proto.DefaultPort), phones: ":7443", announce: true}
	note := filepath.Join(filepath.Dir(state), "started")
	listener, url, err := firstHere(ctx, startedPort, note)
	switch {
	case err != nil:
		return err
	case listener != nil:
		return l.serve(ctx, listener, note)
	}
	fmt.Fprintf(e.stdout, "bellrow runs already: %s\n", url)
	if err := showPage(url); err != nil {
		return say("open the page in a browser on this laptop", "no browser could be opened")
	}
	return nil
}

func presetHere() (preset.Preset, error) {
	program, err := os.Executable()
	if err != nil {
		return preset.Preset{}, err
	}
	p, err := preset.Load(preset.Places(program, runtime.GOOS, os.Getenv), os.Getenv)
	if err != nil {
		return p, misused("put it right, or delete the line; README says what can be set", "%w", err)
	}
	return p, nil
}

// firstHere listens at usual, or returns the address of the page that another
// start serves, which is noted in a file. Where somebody else has that port it
// listens at any.
func firstHere(ctx context.Context, usual, note string) (l net.Listener, url string, err error) {
	for range 5 { // another start may just be writing its address
		if l, err = net.Listen("tcp", usual); err == nil {
			return l, "", nil
		}
		if noted, err := os.ReadFile(note); err == nil && start.Alive(ctx, string(noted)) {
			return nil, string(noted), nil
		}
		time.Sleep(200 * time.Millisecond)
	}
	if l, err = net.Listen("tcp", "127.0.0.1:0"); err != nil {
		return nil, "", say("look whether something on this laptop forbids it", "no page can be served: %w", err)
	}
	return l, "", nil
}

func (l *launcher) serve(ctx context.Context, listener net.Listener, note string) error {
	page := start.New(l, time.Now)
	url := page.URL(listener.Addr())
	server := access.NewServer(page.Handler(), l.log)
	served := make(chan error, 1)
	go func() { served <- server.Serve(listener) }()
	var stop context.CancelFunc
	l.ctx, stop = context.WithCancel(ctx)
	defer func() {
		stop()
		l.running.Wait()
		server.Close()
		<-served
		os.Remove(note)
	}()
	if err := writeNote(note, url); err != nil {
		l.log.Warn("a second start will not find this one", "err", err)
	}
	fmt.Fprintf(l.env.stdout, "Open this page in a browser on this laptop: %s\nCommands: bellrow help\n", url)
	begun := page.Seen()
	unseen := time.After(unseenFor)
	failed := make(chan error, 1)
	go func() { failed <- showPage(url) }()
	left := ""
	defer func() { os.Remove(left) }()
	tick := time.NewTicker(time.Second)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-page.Ended():
			time.Sleep(200 * time.Millisecond) // the answer to the page is on its way
			return nil
		case err := <-served:
			served <- err
			return err
		case err := <-failed:
			if err != nil {
				left = l.leave(url)
			}
		case <-unseen:
			if left == "" && page.Seen().Equal(begun) {
				left = l.leave(url)
			}
		case now := <-tick.C:
			if now.Sub(page.Seen()) >= idleFor && !l.busy() {
				return nil
			}
		}
	}
}

// leave puts the address where somebody without a terminal finds it.
func (l *launcher) leave(url string) (path string) {
	path, err := leaveAddress(url)
	if err != nil {
		l.log.Warn("no browser was opened, and the address could not be left in a file", "err", err)
		return ""
	}
	fmt.Fprintf(l.env.stdout, "No browser has opened it. The address stands in %s, too.\n", path)
	return path
}

// writeNote leaves the page's address for a second start; the secret in it is
// this user's alone.
func writeNote(path, url string) error {
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return err
	}
	return os.WriteFile(path, []byte(url), 0o600)
}

// leaveAddress writes the page's address into a text file where somebody who
// has no terminal sees it: beside the program, or else in the home folder.
func leaveAddress(url string) (string, error) {
	var folders []string
	if program, err := os.Executable(); err == nil {
		folders = append(folders, filepath.Dir(program))
	}
	if home, err := os.UserHomeDir(); err == nil {
		folders = append(folders, home)
	}
	err := errors.New("no folder")
	for _, dir := range folders {
		path := filepath.Join(dir, "bellrow address.txt")
		if err = os.WriteFile(path, []byte("bellrow runs. Open this page in a browser on this laptop:\r\n\r\n"+url+"\r\n"), 0o600); err == nil {
			return path, nil
		}
	}
	return "", err
}

func (l *launcher) busy() bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.leading != nil || l.playing != nil
}

// Known implements start.Deeds.
func (l *launcher) Known(ctx context.Context) start.Known {
	l.look()
	k := start.Known{Sections: l.sections(ctx)}
	k.Player, k.Instrument = l.seat()
	l.mu.Lock()
	defer l.mu.Unlock()
	k.Hubs, k.Leading, k.Playing, k.Fault = slices.Clone(l.hubs), l.leading, l.playing, l.trouble
	if k.Hubs == nil {
		k.Hubs = []start.Hub{}
	}
	return k
}

// look searches the network now and then, without keeping the page waiting.
func (l *launcher) look() {
	if !l.searching.TryLock() {
		return
	}
	l.mu.Lock()
	late := time.Since(l.looked) >= lookEvery
	l.mu.Unlock()
	if !late {
		l.searching.Unlock()
		return
	}
	l.running.Go(func() {
		defer l.searching.Unlock()
		var hubs []start.Hub
		if l.preset.Hub != "" {
			hubs = append(hubs, start.Hub{Address: l.preset.Hub})
		}
		found, err := find.Browse(l.ctx, find.Interfaces())
		if err != nil {
			l.log.Debug("the network cannot be searched", "err", err)
		}
		for _, h := range found {
			if len(h.Addresses) > 0 {
				hubs = append(hubs, start.Hub{Name: h.Name, Address: h.Addresses[0]})
			}
		}
		l.mu.Lock()
		defer l.mu.Unlock()
		l.hubs, l.looked = hubs, time.Now()
	})
}

// sections lists what this laptop led before, the last one first.
func (l *launcher) sections(ctx context.Context) []string {
	names := []string{}
	if l.preset.Section != "" {
		names = append(names, l.preset.Section)
	}
	path := filepath.Join(l.data, databaseFile)
	if _, err := os.Stat(path); err != nil {
		return names
	}
	store, err := sqlite.Open(ctx, path)
	if err != nil {
		l.log.Warn("the sections of this laptop cannot be read", "err", err)
		return names
	}
	defer store.Close()
	list, err := store.Sections(ctx)
	if err != nil {
		l.log.Warn("the sections of this laptop cannot be read", "err", err)
	}
	for _, s := range list {
		if !slices.Contains(names, s.Name) {
			names = append(names, s.Name)
		}
	}
	return names
}

// seat is the seat of last time in words.
func (l *launcher) seat() (name, plays string) {
	w := (&front{config: &nodeConfig{state: l.state}}).wish()
	in, err := instrument.Find(w.Instrument)
	if w.Name == "" || err != nil {
		return "", ""
	}
	return w.Name, in.Name
}

// Lead implements start.Deeds.
func (l *launcher) Lead(_ context.Context, section string) (string, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.leading != nil {
		return l.leading.Link, nil
	}
	section = strings.TrimSpace(section)
	if err := checkName("section's name", section); err != nil {
		return "", plain.Keyed(err, "start.fault.name", proto.MaxName)
	}
	s, err := openStation(l.ctx, stationConfig{listen: l.listen, data: l.data, section: section, announce: l.announce, log: l.log})
	if err != nil {
		return "", err
	}
	telephones, err := s.servePhones(l.ctx, io.Discard, l.phones, l.data)
	if err != nil { // the row does without
		l.log.Warn("telephones cannot take part", "err", err)
		telephones = func() {}
	}
	l.leading, l.trouble = &start.Running{Name: s.hub.Section().Name, Link: s.leaderLink()}, nil
	l.running.Go(func() {
		err := s.run(l.ctx)
		telephones()
		l.over(&l.leading, err)
	})
	return l.leading.Link, nil
}

// Play implements start.Deeds.
func (l *launcher) Play(_ context.Context, hub string) (string, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.playing != nil {
		return l.playing.Link, nil
	}
	if hub != "" {
		if _, err := parseLink(hub); err != nil {
			return "", plain.Keyed(err, "start.fault.link", hub)
		}
	}
	f, err := openFront(&nodeConfig{state: l.state, at: hub, noMDNS: !l.announce}, env{strings.NewReader(""), io.Discard, l.env.stderr})
	if err != nil {
		return "", err
	}
	l.playing, l.trouble = &start.Running{Name: "your page", Link: f.page.URL(f.listener.Addr())}, nil
	l.running.Go(func() { l.over(&l.playing, f.run(l.ctx)) })
	return l.playing.Link, nil
}

// over notes that something ended, by itself or at the end.
func (l *launcher) over(what **start.Running, err error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	*what = nil
	if err != nil && l.ctx.Err() == nil {
		l.trouble = err
	}
}
