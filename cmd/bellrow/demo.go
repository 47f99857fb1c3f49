package main

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"os"
	"strings"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"bellrow/cmd/bellrow/plain"
	"bellrow/hub"
	"bellrow/hub/intonation"
	"bellrow/hub/show"
	"bellrow/node"
	"bellrow/node/capture"
	"bellrow/node/find"
	"bellrow/node/listen"
	"bellrow/node/simulate"
	"bellrow/node/simulate/player"
	"bellrow/node/simulate/room"
	"bellrow/node/uplink"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

const (
	// demoRate is the rate of the simulated microphones, that of most laptops.
	demoRate = 48000
	// demoRounds is how often the demo's leader calls before going on to the
	// rehearsal: once, and twice again for those who are not set.
	demoRounds = 3
	// seatWithin is how long a section may take to sit down.
	seatWithin = 20 * time.Second
	// findWithin is how long discovery may take before the demo's nodes are
	// given the address, as players are where multicast is filtered.
	findWithin = 8 * time.Second
)

// demo is one run of the invented section.
type demo struct {
	out     io.Writer
	log     *slog.Logger
	station *station
	desks   []*desk
	demoBand
	own      map[int]pitch.Note // what each holds where the choice is theirs
	together bool
	clock    *simulate.Clock // nil = real time
	started  time.Time
	// first is how long the first reading took; 0 before it.
	first time.Duration
}

func demoCommand(e env) *cobra.Command {
	d := &demo{out: e.stdout}
	at := "127.0.0.1:0"
	var data, language string
	var headless, asJSON, wait, verbose, fast bool
	c := &cobra.Command{
		Use: "demo", Short: "a whole section of simulated players on this machine",
		Long: `Tunes an invented section of simulated players: real audio, estimation,
discovery, sockets, hub and pages, all on this machine.`,
		Example: "bellrow demo --headless",
		Args:    noWords("it takes options only; bellrow demo --help lists them"),
	}
	flag(c, &headless, "headless", "run the tune-up once and exit")
	c.Flags().BoolVar(&asJSON, "json", false, "print the summary as JSON and nothing else")
	addressFlag(c, &at, "listen", at, "where the hub listens, `HOST:PORT`")
	text(c, &data, "data", "", "keep the hub's data in this `FOLDER`")
	choice(c, &language, "language", "en", "whose band it is, with its words for notes and parts: en, us, de, fr or es", "en", "us", "de", "fr", "es")
	flag(c, &d.together, "together", "call the first round together instead of in turn")
	flag(c, &fast, "fast", "as quickly as the machine can; minutes are those on the stage")
	flag(c, &wait, "wait", "do not call; let a leader do it on the page")
	logFlag(c, &verbose)
	c.RunE = func(c *cobra.Command, _ []string) (err error) {
		if err := first(oneOf(c, "wait", "together"), oneOf(c, "wait", "headless"), oneOf(c, "wait", "json"), oneOf(c, "wait", "fast")); err != nil {
			return err
		}
		d.demoBand = demoBands[language]
		d.log, d.started = logger(e, verbose), time.Now()
		if asJSON {
			d.out = io.Discard
		}
		if data == "" {
			if data, err = os.MkdirTemp("", "bellrow-demo-"); err != nil {
				return say("give a folder with --data", "no temporary folder can be made: %v", err)
			}
			defer os.RemoveAll(data)
		}
		if fast {
			d.clock = simulate.NewClock(d.started)
		}
		d.station, err = openStation(c.Context(), stationConfig{listen: at, data: data, section: d.demoBand.section, announce: true, log: d.log, clock: d.clock})
		if err != nil {
			return err
		}
		return d.run(c.Context(), e, headless || asJSON, asJSON, wait)
	}
	return c
}

// run opens the hub, seats the section, tunes it and tells how it went.
func (d *demo) run(ctx context.Context, e env, once, asJSON, wait bool) (err error) {
	ctx, stop := context.WithCancel(ctx)
	var running sync.WaitGroup
	defer func() {
		stop()
		running.Wait()
	}()
	hubDone := make(chan error, 1)
	running.Go(func() { hubDone <- d.station.run(ctx) })
	fmt.Fprintf(d.out, "%s is open.\n\n  leader  %s\n  wall    %swall\n\n", d.demoBand.section, d.station.leaderLink(), d.station.local())

	if err := d.station.hub.Command(ctx, hub.Command{Do: hub.DoEdit, Section: d.setUp()}); err != nil {
		return err
	}
	if err := d.seat(ctx, &running); err != nil {
		return err
	}
	if !wait {
		fmt.Fprintln(d.out, "Each plays a B flat, moves the slide that the answer names, and is heard again: two and a half minutes in all,\nunder a minute with --fast. The first answer comes in seconds; the leader's page above draws every slide.")
		fmt.Fprintln(d.out)
		if err := d.tune(ctx); err != nil {
			return err
		}
		d.summary()
	}
	if asJSON {
		err = plain.JSON(e.stdout, d.station.hub.SummaryInEnglish())
	}
	if once {
		return err
	}
	fmt.Fprintln(d.out, "\nThe players stay: lead them from the page. Ctrl-C ends the demo.")
	select {
	case <-ctx.Done():
		return nil
	case err := <-hubDone:
		return err
	}
}

// setUp is the invented section as a leader would have set it up.
func (d *demo) setUp() *hub.Section {
	s := d.station.hub.Section()
	s.Notes, s.Language = d.notes, d.language
	for _, m := range d.players {
		s.Chairs = append(s.Chairs, hub.Chair{
			Name: m.name, Label: m.label, Part: m.label, Instrument: m.instrument, Row: m.row, Place: m.place,
		})
	}
	return &s
}

// seat starts a stage and a node for each chair, and waits until all sit.
func (d *demo) seat(ctx context.Context, running *sync.WaitGroup) error {
	stage, err := simulate.NewStage(simulate.Config{
		Rate: demoRate, Seats: demoSeats(d.players), Mics: demoMics(len(d.players)), RT60: 0.6, Seed: 1, Clock: d.clock, Speed: d.speed(),
	})
	if err != nil {
		return err
	}
	d.own = demoChord(d.players)
	for i, m := range d.players {
		desk, err := d.desk(ctx, stage, i, m)
		if err != nil {
			return fmt.Errorf("%s: %w", m.label, err)
		}
		d.desks = append(d.desks, desk)
		running.Go(func() {
			if err := desk.run(ctx, false); err != nil && ctx.Err() == nil {
				d.log.Error("a node stopped", "chair", m.label, "err", err)
			}
		})
	}
	running.Go(func() { stage.Run(ctx) })
	return d.waitSeated(ctx)
}

func (d *demo) desk(ctx context.Context, stage *simulate.Stage, i int, m demoPlayer) (*desk, error) {
	in, err := instrument.Find(m.instrument)
	if err != nil {
		return nil, err
	}
	pc, err := parsePlayer(in, m.spec)
	if err != nil {
		return nil, err
	}
	src := stage.Source(i)
	played := float64(node.WarmSeconds)
	if pc.Cold > 0 {
		played = 0
	}
	var now func() time.Time
	if d.clock != nil {
		now = d.clock.Now
	}
	desk, err := newDesk(deskConfig{
		now: now,
		uplink: uplink.Config{
			Now:   now,
			Chair: m.label, Part: m.label, Instrument: m.instrument, Tracks: true,
			Join: d.station.guard.JoinCode(), Log: d.log,
			// The demo finds its hub as a real section does, but asks nobody
			// else, and does without where a machine carries no multicast.
			Interfaces: find.Loopback, Fallback: d.station.playersLink(),
		},
		listen: listen.Config{ClockPPM: -1}, played: played, log: d.log,
		open: func(context.Context) (capture.Source, error) { return src, nil },
	})
	if err != nil {
		return nil, err
	}
	perform, err := performer(pc, stage.Voice(i), desk)
	if err != nil {
		return nil, err
	}
	perform.Own, perform.Clock = d.own[i], d.clock
	go perform.Run(ctx)
	return desk, nil
}

// mostSpeed keeps the sockets' milliseconds small beside a player's seconds.
const mostSpeed = 16

// speed is how much faster than real time the stage may go.
func (d *demo) speed() float64 {
	if d.clock == nil {
		return 1
	}
	return mostSpeed
}

// now is the time on the stage.
func (d *demo) now() time.Time {
	if d.clock != nil {
		return d.clock.Now()
	}
	return time.Now()
}

// waitSeated waits until every node has found the hub. Where discovery finds
// nothing the nodes are given the address.
func (d *demo) waitSeated(ctx context.Context) error {
	feed := d.station.hub.FollowRow()
	defer feed.Close()
	give, late := time.After(findWithin), time.After(seatWithin)
	for {
		here := 0
		for _, c := range d.station.hub.Row().Chairs {
			if c.State != "away" && c.State != "absent" {
				here++
			}
		}
		if here == len(d.players) {
			fmt.Fprintf(d.out, "%d players found the hub and took their seats (%.1f s).\n\n", here, time.Since(d.started).Seconds())
			return nil
		}
		select {
		case <-feed.C():
		case <-give:
			fmt.Fprintln(d.out, "Multicast DNS found no hub on this machine; the players type its address.")
			for _, desk := range d.desks {
				desk.up.Rejoin(proto.Link{Address: d.station.addresses()[0]})
			}
		case <-late:
			return say("run it again with --verbose to see why", "only %d of %d players found the hub", here, len(d.players))
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

// tune leads the section: one call, and again for those who are not set.
func (d *demo) tune(ctx context.Context) error {
	call := hub.Command{Do: hub.DoCall, Call: &hub.Call{Kind: hub.CallNote, Note: demoNote, Together: d.together}}
	for n := 1; n <= demoRounds; n++ {
		if err := d.station.hub.Command(ctx, call); err != nil {
			return err
		}
		if err := d.watch(ctx, n); err != nil {
			return err
		}
		row := d.station.hub.Row()
		if row.Section.Set == row.Section.Present {
			break
		}
		call = hub.Command{Do: hub.DoAgain}
		if d.station.hub.Row().SayKind == "room" {
			call = hub.Command{Do: hub.DoMoves}
		}
	}
	return nil
}

// watch prints what happens until the round is done.
func (d *demo) watch(ctx context.Context, n int) error {
	feed := d.station.hub.FollowRow()
	defer feed.Close()
	before, told, asked := map[hub.ChairID]string{}, map[hub.ChairID]string{}, map[hub.ChairID]bool{}
	for _, c := range d.station.hub.RowInEnglish().Chairs {
		before[c.ID], _ = answerLine(c)
	}
	title := ""
	for {
		row := d.station.hub.RowInEnglish()
		if row.Round != nil && row.Round.Title != title {
			title = row.Round.Title
			fmt.Fprintf(d.out, "Round %d: %s\n", n, title)
		}
		for _, c := range row.Chairs {
			line, over := answerLine(c)
			if line == "" || line == told[c.ID] || line == before[c.ID] && !over {
				continue
			}
			told[c.ID] = line
			if d.first == 0 {
				d.first = d.now().Sub(d.started)
			}
			if !asked[c.ID] { // what became of a move is news once
				line = strings.TrimSuffix(line, "; "+c.FollowThrough)
			}
			asked[c.ID] = len(c.Moves) > 0
			fmt.Fprintf(d.out, "  %-14s %s\n", c.Label, line)
		}
		if row.Round == nil || row.Round.Done {
			fmt.Fprintf(d.out, "  %s\n\n", row.Say)
			return nil
		}
		select {
		case <-feed.C():
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

// answerLine says what a chair was told last, empty while nothing was, and
// whether its turn is over with it.
func answerLine(c show.ChairRow) (line string, over bool) {
	line = c.Headline
	if line == "" {
		return "", false
	}
	if c.Cents != nil {
		line = fmt.Sprintf("%-36s %s", line, pitch.Cents(*c.Cents).Off())
	}
	if c.FollowThrough != "" {
		line += "; " + c.FollowThrough
	}
	switch c.State {
	case "heard", "unsettled", "overheard":
		over = true
	}
	return line, over
}

func (d *demo) summary() {
	s := d.station.hub.SummaryInEnglish()
	rounds := "one round"
	if s.Rounds != 1 {
		rounds = fmt.Sprintf("%d rounds", s.Rounds)
	}
	fmt.Fprintf(d.out, "%d of %d are set after %s and %.0f seconds; the first reading came after %.1f s.\n",
		s.Set, s.Present, rounds, s.Seconds, d.first.Seconds())
	for _, c := range s.Chairs {
		did := "nothing moved"
		if len(c.Moves) > 0 {
			did = strings.Join(c.Moves, "; then ")
		}
		if c.Verdict != "set" {
			did += "; " + c.Words
		}
		fmt.Fprintf(d.out, "  %-14s %s\n", c.Label, did)
	}
}

// demoChord is what the invented section holds when nobody calls a note.
func demoChord(players []demoPlayer) map[int]pitch.Note {
	var parts []intonation.Part
	for i, m := range players {
		if in, err := instrument.Find(m.instrument); err == nil {
			parts = append(parts, intonation.Part{Chair: intonation.Chair(i), Low: in.Low, High: in.High, Rank: i + 1})
		}
	}
	own := map[int]pitch.Note{}
	for i, n := range intonation.Spread(intonation.Chord{Root: pitch.A4.Class() + 1, Quality: intonation.Major}, parts) {
		own[int(i)] = n
	}
	return own
}

// performer puts a simulated player at a desk.
func performer(c player.Config, v *simulate.Voice, d *desk) (*simulate.Performer, error) {
	p, err := player.New(c)
	if err != nil {
		return nil, err
	}
	if c.Cold <= 0 {
		p.Warm(node.WarmSeconds)
	}
	return &simulate.Performer{Player: p, Voice: v, Desk: d.up, Warmed: d.node.Warmed}, nil
}

// demoSeats puts the section into three rows, as on the leader's page.
func demoSeats(players []demoPlayer) []room.Seat {
	rows := []int{}
	for _, m := range players {
		for len(rows) <= m.row {
			rows = append(rows, 0)
		}
		rows[m.row]++
	}
	seats := room.Rows(rows, 1.5, 1.6, room.Point{X: 4.5, Y: 6, Z: 1.1})
	out := make([]room.Seat, len(players))
	for i, m := range players {
		k := m.place
		for r := range m.row {
			k += rows[r]
		}
		out[i] = seats[k]
	}
	return out
}

// demoMics are laptops: no bass, some noise, clocks of their own.
func demoMics(n int) []room.Mic {
	mics := make([]room.Mic, n)
	for i := range mics {
		mics[i] = room.Mic{HighPass: 100 + 8*float64(i), Noise: 2e-4, PPM: 10 * float64(i%7-3)}
	}
	return mics
}

// demoNote is the concert note the demo's leader calls.
var demoNote = pitch.Note(58) // B flat 3

// soloSeat is a stage for one.
var soloSeat = room.Rows([]int{1}, 1.5, 1.6, room.Point{X: 4.5, Y: 6, Z: 1.1})
