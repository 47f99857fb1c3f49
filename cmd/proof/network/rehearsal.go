package network

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"log/slog"
	"math/rand/v2"
	"os"
	"sync"
	"sync/atomic"
	"time"

	"bellrow/hub"
	"bellrow/hub/session"
	"bellrow/hub/show"
	"bellrow/proto"
	"bellrow/proto/pitch"
)

// usualReading is how far apart a player's readings are in a rehearsal, by
// which the trial's readings are turned into hours.
const usualReading = 10 * time.Second

func runRehearsal(ctx context.Context, w io.Writer, args []string) error {
	fs := flag.NewFlagSet("network rehearsal", flag.ContinueOnError)
	minutes := fs.Float64("minutes", 40, "how long")
	nodes := fs.Int("nodes", 24, "players")
	samples := fs.Int("samples", 20, "lines of the table")
	if err := fs.Parse(args); err != nil {
		return err
	}
	readings, all, err := rehearse(ctx, *nodes, time.Duration(*minutes*float64(time.Minute)), *samples)
	for _, s := range all {
		fmt.Fprintln(w, s)
	}
	hours := (time.Duration(readings / *nodes) * usualReading).Hours()
	fmt.Fprintf(w, "%d readings of %d players: %.1f h with one each %v\n", readings, *nodes, hours, usualReading)
	return err
}

// rehearse lets a section be tuned round after round, as fast as hub and
// players can, with screens that watch, and looks at the hub in between. Each
// player's program starts anew now and then.
func rehearse(ctx context.Context, nodes int, length time.Duration, samples int) (readings int, all []standing, err error) {
	dir, err := os.MkdirTemp("", "bellrow-rehearsal-")
	if err != nil {
		return 0, nil, err
	}
	defer os.RemoveAll(dir)
	hub, address, err := startedHub(dir, nodes, "-lead")
	if err != nil {
		return 0, nil, err
	}
	defer hub.kill()
	for range 3 {
		stop, err := watch(address)
		if err != nil {
			return 0, nil, err
		}
		defer stop()
	}
	playing, cancel := context.WithCancel(ctx)
	defer cancel()
	var wait sync.WaitGroup
	var count atomic.Int64
	errs := make([]error, nodes)
	for i := range nodes {
		p, err := newPlayer(address, i)
		if err != nil {
			return 0, nil, err
		}
		wait.Go(func() { errs[i] = p.rehearse(playing, address, i, &count) })
	}
	for n := range samples {
		select {
		case <-ctx.Done():
		case <-time.After(length / time.Duration(samples)):
		}
		s, err := look(hub, n+1)
		if err != nil {
			return int(count.Load()), all, err
		}
		s.readings = int(count.Load())
		all = append(all, s)
	}
	cancel()
	wait.Wait()
	return int(count.Load()), all, errors.Join(errs...)
}

// rehearse is one player, through several starts of the program.
func (p *player) rehearse(ctx context.Context, address string, i int, count *atomic.Int64) error {
	for {
		stop := context.AfterFunc(ctx, func() { p.ws.Close() })
		err := p.answer(50+rand.IntN(100), count)
		stop()
		p.ws.Close()
		if ctx.Err() != nil {
			return nil
		}
		if err == nil {
			p, err = newPlayer(address, i)
		}
		if err != nil {
			return fmt.Errorf("soak: player %d: %w", i, err)
		}
	}
}

// answer plays whenever the hub asks, until so many readings are acknowledged.
func (p *player) answer(readings int, count *atomic.Int64) error {
	var sent, acked uint64
	var asked *proto.View // to play, and not answered yet
	for acked < uint64(readings) {
		m, err := p.hear()
		switch {
		case err != nil:
			return err
		case m.Error != nil && m.Error.Fatal:
			return errors.New(m.Error.Message)
		case m.Ack != nil:
			count.Add(int64(m.Ack.Stored - min(acked, m.Ack.Stored)))
			acked = max(acked, m.Ack.Stored)
		case m.View != nil:
			if asked = nil; m.View.Phase == "play" && m.View.Round != 0 {
				asked = m.View
			}
		}
		if asked != nil && sent == acked {
			sent++
			if err := p.note(sent, asked); err != nil {
				return err
			}
			asked = nil
		}
	}
	return nil
}

// note sends what a player sends for one note.
func (p *player) note(seq uint64, v *proto.View) error {
	off := pitch.Cents(40*rand.Float64() - 20)
	return errors.Join(p.say(proto.Message{Type: proto.TypeReading, Reading: &proto.Reading{
		Sequence: seq, Round: v.Round, Start: 1, End: 2, Onset: 1, Hz: v.Target.Shift(off),
		CI95: 0.5, Spread: 1, Level: -20, Floor: -60, Played: 600, Settled: true,
	}}), p.say(proto.Message{Type: proto.TypeState, State: &proto.State{State: "quiet", Level: -60}}))
}

// tuneUp is how many rounds the trial's leader takes before a new one.
const tuneUp = 12

// patience is how long the leader waits for a round to be done.
const patience = 10 * time.Second

// lead calls one round after the other, in turn and together, until ctx ends.
func lead(ctx context.Context, h *session.Session, log *slog.Logger) error {
	rows := h.FollowRow()
	defer rows.Close()
	wait := func(ok func(show.Row) bool) {
		late := time.After(patience)
		for !ok(rows.Get()) {
			select {
			case <-rows.C():
			case <-late:
				return
			case <-ctx.Done():
				return
			}
		}
	}
	for n := 0; ctx.Err() == nil; n++ {
		wait(func(r show.Row) bool { return r.Section.Present > 0 })
		commands := []hub.Command{{Do: hub.DoCall, Call: &hub.Call{Note: []pitch.Note{70, 65}[n%2], Together: n%3 == 2}}}
		if n%tuneUp == 0 {
			commands = append([]hub.Command{{Do: hub.DoFresh}}, commands...)
		}
		for _, c := range commands {
			if err := h.Command(ctx, c); err != nil {
				log.Error("not led on", "do", c.Do, "err", err)
			}
		}
		wait(func(r show.Row) bool { return r.Round != nil && r.Round.Done })
	}
	return nil
}
