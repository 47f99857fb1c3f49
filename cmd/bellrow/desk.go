package main

import (
	"context"
	"errors"
	"log/slog"
	"sync"
	"sync/atomic"
	"time"

	"bellrow/cmd/bellrow/plain"
	"bellrow/node"
	"bellrow/node/capture"
	"bellrow/node/listen"
	"bellrow/node/player"
	"bellrow/node/uplink"
	"bellrow/proto"
)

// deskConfig is what one player's desk is made of.
type deskConfig struct {
	uplink uplink.Config
	listen listen.Config
	played float64 // seconds already played
	warmth string  // file that keeps them from one start to the next; may be empty
	page   *player.Server
	open   func(ctx context.Context) (capture.Source, error)
	heard  func(node.Heard) // may be nil
	keep   bool             // the sound of the last note, for the page
	log    *slog.Logger
	now    func() time.Time // nil means time.Now
}

// desk is one player's place: the node, its connection to the hub, and what
// the player's page shows of both.
type desk struct {
	up   *uplink.Uplink
	node *node.Node
	page *player.Server // nil without a page
	// sounding says that the player is heard just now.
	sounding atomic.Bool
}

// busy reports whether the player sounds or is called just now.
func (d *desk) busy() bool { return d.sounding.Load() || d.up.View().Round != 0 }

func newDesk(c deskConfig) (*desk, error) {
	up, err := uplink.New(c.uplink)
	if err != nil {
		return nil, plain.Keyed(say("give another folder with --state", "the folder for this chair cannot be used: %v", err), "start.fault.state")
	}
	d := &desk{up: up, page: c.page}
	d.node, err = node.New(node.Config{
		Open: c.open, Uplink: up, Listen: c.listen, Played: c.played, Log: c.log, KeepSound: c.keep, Warmth: c.warmth, Now: c.now,
		Heard: func(h node.Heard) {
			d.sounding.Store(h.State != listen.Quiet)
			if d.page != nil {
				d.page.ShowSound(player.Sound{
					State: h.State, Level: h.Level, Floor: h.Floor, Device: h.Device, Rate: h.Rate, Trouble: h.Trouble, Played: h.Played, Enough: h.Enough,
				})
			}
			if c.heard != nil {
				c.heard(h)
			}
		},
	})
	return d, err
}

// run listens until ctx is done, or until the source ends and, with drained,
// the hub has acknowledged everything.
func (d *desk) run(ctx context.Context, drained bool) error {
	ctx, stop := context.WithCancel(ctx)
	linked := make(chan error, 1)
	var told sync.WaitGroup
	go func() { linked <- d.up.Run(ctx) }()
	told.Go(func() { d.show(ctx) })
	err := d.node.Run(ctx)
	if err == nil && drained {
		err = drain(ctx, d.up)
	}
	stop()
	told.Wait()
	if closing := <-linked; err == nil {
		err = closing
	}
	if errors.Is(err, context.Canceled) {
		return nil
	}
	return err
}

// show keeps the player's page in step with the connection.
func (d *desk) show(ctx context.Context) {
	if d.page == nil {
		return
	}
	joined := false
	for {
		changed := d.up.Changed()
		s := d.up.Status()
		joined = joined || s.Phase == uplink.Connected
		l := linkOf(s, joined)
		l.Found = d.up.Older()
		d.page.ShowLink(l)
		if joined {
			d.page.ShowView(d.up.View())
		}
		select {
		case <-ctx.Done():
			return
		case <-changed:
		}
	}
}

func linkOf(s uplink.Status, joined bool) player.Link {
	l := player.Link{Hub: s.Section, Code: s.Code, Problem: s.Message, Hint: s.Hint, State: player.LinkSearching}
	switch {
	case s.Phase == uplink.Connected:
		l.State = player.LinkJoined
	case s.Phase == uplink.Refused:
		l.State = player.LinkRefused
	case joined:
		l.State = player.LinkLost
	case s.Phase == uplink.Connecting:
		l.State = player.LinkFound
	}
	return l
}

// SetSetting, Pause and Join make a desk the node behind its own page.

// SetSetting tells the hub where a slide stands.
func (d *desk) SetSetting(_ context.Context, s proto.Setting) error {
	d.up.Setting(s)
	return nil
}

// Pause stops listening, or goes on.
func (d *desk) Pause(on bool) { d.node.Pause(on) }

// SetNames says how this player wants notes named.
func (d *desk) SetNames(names string) { d.up.SetNames(names) }

// SetLanguage says what this player's page is in.
func (d *desk) SetLanguage(tag string, _ bool) { d.up.SetLanguage(tag) }

// SetMute says what is in the bell.
func (d *desk) SetMute(mute string) { d.node.SetMute(mute) }

// Warm counts the instrument as warm.
func (d *desk) Warm() { d.node.Warm() }
