package main

import (
	"context"
	"time"

	"github.com/spf13/cobra"

	"bellrow/cmd/bellrow/advise"
	"bellrow/cmd/bellrow/plain"
	"bellrow/cmd/bellrow/solo"
	"bellrow/hub/history/study"
	"bellrow/node"
	"bellrow/node/capture"
	"bellrow/node/player"
	"bellrow/node/simulate"
	simulated "bellrow/node/simulate/player"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// simulatedRest stands for a rest among simulated players.
const simulatedRest = 300 * time.Millisecond

func soloCommand(e env) *cobra.Command {
	n := &nodeConfig{fast: true, noPage: true}
	s := solo.Config{Played: node.WarmSeconds}
	var written pitch.Note
	var style plain.Notes
	var settings string
	var asJSON, verbose bool
	s.Study.Instrument, _ = instrument.Find("trumpet_bb") // it is in the catalogue
	c := &cobra.Command{
		Use: "solo", Short: "a study for one player, without a hub",
		Long: `A short study for one player alone, or for a class with a teacher: centre (five
fresh attacks), bend (about 10 cents and back), hand-slide (millimetres for
cents), tendencies (a scale). No hub is needed. Stop it with Ctrl-C.`,
		Example: `bellrow solo --instrument tenor_trombone_bb --study hand-slide --simulate seed=3
bellrow solo --wav note.wav`,
		Args: noWords("a recording is given with --wav FILE"),
	}
	instrumentFlag(c, &s.Study.Instrument, "instrument `ID`; without it trumpet_bb")
	choice(c, &s.Study.Kind, "study", study.Centre, "`STUDY`: centre, bend, hand-slide or tendencies", study.Centre, study.Bend, study.HandSlide, study.Tendencies)
	c.Flags().Float64Var(&s.Study.Position, "position", 0, "hand-slide study: the one `POSITION` to try, 1 to 7; without it first, third and fifth")
	names := namesFlag(c, &style)
	names.flag(c, &written, "note", "", "written `NOTE` to play, such as C5; without it, concert B flat in the middle register")
	referenceFlag(c, &s.Study.Reference)
	text(c, &settings, "settings", "", "where slides stand in mm out, such as `main=14,third=3`")
	sourceFlags(c, n)
	pageFlag(c, &n.page, "127.0.0.1:0")
	c.Flags().BoolVar(&asJSON, "json", false, "print the report as JSON, what is said to the player on stderr")
	logFlag(c, &verbose)
	c.RunE = func(c *cobra.Command, _ []string) (err error) {
		if err := first(n.sources(c, s.Study.Instrument), without(c, "page", "wav", "simulate", "device")); err != nil {
			return err
		}
		if s.Study.Position != 0 && s.Study.Kind != study.HandSlide {
			return misused("leave out --position, or add --study hand-slide", "only the hand-slide study has a position")
		}
		if n.simulate != "" && s.Study.Kind == study.Bend {
			return misused("choose another study, or play this one yourself", "a simulated player does not bend notes on purpose")
		}
		if err := names.read(); err != nil {
			return err
		}
		tell(e, names.Notes)
		s.Study.Notes = style.Style
		if written != 0 {
			s.Study.Note = s.Study.Instrument.Sounding(written)
		}
		if s.Study.Settings, err = advise.Standing(s.Study.Instrument, settings); err != nil {
			return err
		}
		s.Out, s.Log, s.Desk, s.ClockPPM = e.stdout, logger(e, verbose), solo.NewDesk(), n.clockPPM()
		report := func(r study.Report) error { solo.Print(e.stdout, r); return nil }
		if asJSON {
			s.Out = e.stderr
			report = func(r study.Report) error { return solo.JSON(e.stdout, s.Study.Instrument.ID, r) }
		}
		return playSolo(c.Context(), e, n, s, report)
	}
	return c
}

// playSolo gives a study its source and its page, and goes through it.
func playSolo(ctx context.Context, e env, n *nodeConfig, s solo.Config, report func(study.Report) error) error {
	ctx, stop := context.WithCancel(ctx)
	shut := func() {}
	defer func() { stop(); shut() }()
	var page *player.Microphone
	switch {
	case n.wav != "":
		s.Rest = func(float64) time.Duration { return 0 }
		s.Desk.Always = true
	case n.simulate != "":
		s.Rest = func(float64) time.Duration { return simulatedRest }
		s.Waits = true // the simulated player says so by itself
	case n.ownPage():
		s.Waits, s.Confirm = true, "Say so on your page, or press Enter, when it stands there."
		var err error
		if page, shut, err = soloPage(ctx, e, n, s); err != nil {
			return err
		}
	default:
		s.Waits, s.Confirm = true, "Press Enter when it stands there."
	}
	if s.Confirm != "" {
		go solo.Entered(ctx, e.stdin, s.Desk)
	}
	study, err := solo.New(s)
	if err != nil {
		return misused("bellrow solo --help lists the studies", "%v", err)
	}
	if n.simulate != "" {
		study.Open, err = simulateSolo(ctx, n.simulate, s)
	} else {
		study.Open, _, err = n.source(page, s.Log)
	}
	if err != nil {
		return err
	}
	return hintedFile(study.Run(ctx, report))
}

// soloPage serves the page that is the microphone; shut waits for its end.
func soloPage(ctx context.Context, e env, n *nodeConfig, s solo.Config) (m *player.Microphone, shut func(), err error) {
	f := &front{config: n, env: env{e.stdin, s.Out, e.stderr}, log: s.Log, mic: player.NewMicrophone(s.Log)}
	if f.listener, err = listenForPage(n.page); err != nil {
		return nil, func() {}, err
	}
	if f.page, err = player.New(player.Config{Node: s.Desk, Mic: f.mic, Log: s.Log}); err != nil {
		f.listener.Close()
		return nil, func() {}, err
	}
	s.Desk.Page = f.page
	f.page.ShowSeat(player.Wish{Name: "alone", Instrument: s.Study.Instrument.ID})
	f.page.ShowLink(player.Link{State: player.LinkJoined, Hub: "alone"})
	served := f.serve(ctx)
	return f.mic, func() { <-served }, nil
}

// simulateSolo puts one simulated player on a stage of their own.
func simulateSolo(ctx context.Context, spec string, s solo.Config) (func(context.Context) (capture.Source, error), error) {
	stage, pc, err := lonelyStage(s.Study.Instrument, spec)
	if err != nil {
		return nil, err
	}
	p, err := simulated.New(pc)
	if err != nil {
		return nil, err
	}
	if pc.Cold <= 0 {
		p.Warm(node.WarmSeconds)
	}
	src := stage.Source(0)
	go stage.Run(ctx)
	go (&simulate.Performer{Player: p, Voice: stage.Voice(0), Desk: s.Desk}).Run(ctx)
	return func(context.Context) (capture.Source, error) { return src, nil }, nil
}

// lonelyStage is a stage for one simulated player.
func lonelyStage(in *instrument.Instrument, spec string) (*simulate.Stage, simulated.Config, error) {
	pc, err := parsePlayer(in, spec)
	if err != nil {
		return nil, pc, err
	}
	stage, err := simulate.NewStage(simulate.Config{Rate: demoRate, Seats: soloSeat, Seed: pc.Seed})
	return stage, pc, err
}

// parsePlayer reads what --simulate says of a player.
func parsePlayer(in *instrument.Instrument, spec string) (simulated.Config, error) {
	pc, err := simulated.Parse(in, spec)
	if err != nil {
		return pc, misused("for example --simulate build=+12,habit=holder,seed=3", "%v", err)
	}
	return pc, nil
}
