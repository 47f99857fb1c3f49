package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"strings"
	"time"

	"bellrow/hub/history/study"
	"bellrow/hub/slide"
	"bellrow/node"
	"bellrow/node/capture"
	"bellrow/node/listen"
	"bellrow/node/player"
	"bellrow/node/simulate"
	simulated "bellrow/node/simulate/player"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// solo leads one player through a study, without any hub: the same node, with
// a desk of its own in place of the connection.
type solo struct {
	config  *nodeConfig
	study   study.Study
	in      *instrument.Instrument
	ref     pitch.Reference
	desk    *soloDesk
	out     io.Writer // what is said to the player
	pace    func(seconds float64) time.Duration
	waits   bool   // until the player says that a slide is moved
	confirm string // how a person says so
}

// bendHold is how long a bend may last, in seconds: the note's reading comes
// when it is over, not in the middle.
const bendHold = 10

// simulatedRest stands for a rest among simulated players.
const simulatedRest = 300 * time.Millisecond

func runSolo(ctx context.Context, e env, args []string) error {
	c := &nodeConfig{fast: true, noPage: true}
	fs := flagSet(e, "solo", "[--instrument ID] [--study centre|bend|hand-slide|tendencies] [--wav FILE | --simulate SPEC | --device NAME] [--json]\n\nA short study for one player alone, or for a class with a teacher. No hub is needed. Stop it with Ctrl-C.")
	id := fs.String("instrument", "trumpet_bb", "instrument `id`; bellrow instruments lists them")
	kind := fs.String("study", string(study.Centre), "`study`: centre (five fresh attacks), bend (about 10 cents and back), hand-slide (millimetres for cents), tendencies (a scale)")
	written := fs.String("note", "", "written `note` to play, such as C5; without it, concert B flat in the middle register")
	a4 := fs.Float64("a4", 440, "reference pitch A4 in `Hz`")
	settings := fs.String("settings", "", "where slides stand in mm out, such as `main=14,third=3`")
	fs.StringVar(&c.wav, "wav", "", "take the notes from this recorded session, a sound `file`")
	fs.StringVar(&c.simulate, "simulate", "", "play as a simulated player: `spec` such as build=+12,habit=holder,seed=3")
	fs.StringVar(&c.device, "device", "", "microphone by `name`; bellrow check lists them")
	fs.StringVar(&c.page, "page", "127.0.0.1:0", "where to serve the player's own page when it is the microphone, `HOST:PORT`")
	asJSON := fs.Bool("json", false, "print the report as JSON, what is said to the player on stderr")
	verbose := fs.Bool("verbose", false, "log details to stderr")
	if err := parse(fs, args); err != nil {
		return err
	}
	if count(c.wav != "", c.simulate != "", c.device != "") > 1 {
		return misused("choose one", "--wav, --simulate and --device exclude one another")
	}
	sc := study.Config{Kind: study.Kind(*kind)}
	if c.simulate != "" && sc.Kind == study.Bend {
		return misused("choose another study, or play this one yourself", "a simulated player does not bend notes on purpose")
	}
	var err error
	if sc.Instrument, err = instrument.Find(instrument.ID(*id)); err != nil {
		return misused("bellrow instruments lists them all", "%v", err)
	}
	if sc.Reference, err = pitch.NewReference(pitch.Hertz(*a4)); err != nil {
		return misused("the usual reference is 440, 442 or 443", "%v", err)
	}
	if *written != "" {
		n, err := pitch.ParseNote(*written)
		if err != nil {
			return misused("for example C5 or Bb4", "%v", err)
		}
		sc.Note = sc.Instrument.Sounding(n)
	}
	if sc.Settings, err = parseSettings(sc.Instrument, *settings); err != nil {
		return err
	}
	s := &solo{config: c, in: sc.Instrument, ref: sc.Reference, desk: newSoloDesk(), out: e.stdout, pace: seconds}
	if s.study, err = study.New(sc); err != nil {
		return misused("bellrow solo --help lists the studies", "%v", err)
	}
	report := func(r study.Report) error { printStudy(e.stdout, r); return nil }
	if *asJSON {
		s.out = e.stderr
		report = func(r study.Report) error { return encodeStudy(e.stdout, sc.Instrument.ID, r) }
	}
	return s.run(ctx, e, logger(e.stderr, *verbose), sc.Kind, report)
}

// seconds is the pace of people.
func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

// parseSettings reads "main=14,third=3".
func parseSettings(in *instrument.Instrument, spec string) (instrument.Settings, error) {
	set := instrument.Settings{}
	for _, pair := range strings.Split(spec, ",") {
		if strings.TrimSpace(pair) == "" {
			continue
		}
		name, value, _ := strings.Cut(pair, "=")
		id := instrument.SlideID(strings.TrimSpace(name))
		sl, ok := in.Slide(id)
		var mm float64
		if _, err := fmt.Sscan(value, &mm); !ok || err != nil || !(mm >= 0 && mm <= sl.TravelMM) {
			return nil, misused("for example --settings main=14; bellrow instruments shows the slides", "setting %q is not one of the %s's", pair, in.Name)
		}
		set[id] = mm
	}
	return set, nil
}

// run listens and leads until the study, the recording or ctx is over, and
// hands over what was found. A player's page stays until it has been read.
func (s *solo) run(ctx context.Context, e env, log *slog.Logger, kind study.Kind, report func(study.Report) error) error {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	lc := listen.Config{ClockPPM: s.config.clockPPM()}
	if kind == study.Bend {
		lc.KeepPath, lc.HoldFor = true, bendHold
	}
	open, shut, err := s.source(ctx, e, log)
	if err != nil {
		return err
	}
	defer func() { stop(); shut() }()
	n, err := node.New(node.Config{Open: open, Uplink: s.desk, Listen: lc, Played: warmSeconds, Heard: s.desk.heard, Log: log})
	if err != nil {
		return err
	}
	fmt.Fprintln(s.out, "Before you start:")
	for _, c := range study.Cautions {
		fmt.Fprintf(s.out, "  %s\n", c)
	}
	listening, deaf := context.WithCancel(ctx)
	defer deaf()
	ended := make(chan error, 1)
	go func() { ended <- n.Run(listening); close(s.desk.notes) }()
	s.lead(ctx)
	deaf()
	if err := <-ended; err != nil && !errors.Is(err, context.Canceled) {
		return hintedFile(err)
	}
	if err := report(s.study.Report()); err != nil {
		return err
	}
	if s.desk.page != nil && ctx.Err() == nil {
		fmt.Fprintln(s.out, "\nThe words are on your page too. Press Enter when you have read them.")
		s.wait(ctx, readWithin)
	}
	return nil
}

// readWithin is how long a page stays after its study when nobody says that it
// was read.
const readWithin = 5 * time.Minute

// source chooses what to listen to; shut waits for what it started.
func (s *solo) source(ctx context.Context, e env, log *slog.Logger) (open func(context.Context) (capture.Source, error), shut func(), err error) {
	shut = func() {}
	var page *player.Microphone
	switch {
	case s.config.wav != "":
		s.pace = func(float64) time.Duration { return 0 }
		s.desk.always = true
	case s.config.simulate != "":
		s.pace = func(float64) time.Duration { return simulatedRest }
		s.waits = true // the simulated player says so by itself
		open, err = s.simulate(ctx)
		return open, shut, err
	case s.config.ownPage():
		s.waits, s.confirm = true, "Say so on your page, or press Enter, when it stands there."
		go entered(ctx, e.stdin, s.desk)
		f := &front{config: s.config, env: env{stdin: e.stdin, stdout: s.out, stderr: e.stderr}, log: log, mic: player.NewMicrophone(log)}
		if f.listener, err = net.Listen("tcp", s.config.page); err != nil {
			return nil, shut, listenError(s.config.page, err)
		}
		if f.page, err = player.New(player.Config{Node: s.desk, Mic: f.mic, Log: log}); err != nil {
			return nil, shut, err
		}
		s.desk.page, page = f.page, f.mic
		f.page.ShowSeat(player.Wish{Name: "alone", Instrument: s.in.ID})
		f.page.ShowLink(player.Link{State: player.LinkJoined, Hub: "alone"})
		served := f.serve(ctx)
		shut = func() { <-served }
	default:
		s.waits, s.confirm = true, "Press Enter when it stands there."
		go entered(ctx, e.stdin, s.desk)
	}
	open, _, err = s.config.source(page, log)
	return open, shut, err
}

// simulate puts one simulated player on a stage of their own.
func (s *solo) simulate(ctx context.Context) (func(context.Context) (capture.Source, error), error) {
	pc, err := parsePlayer(s.in, s.config.simulate)
	if err != nil {
		return nil, err
	}
	stage, err := simulate.NewStage(simulate.Config{Rate: demoRate, Seats: soloSeat, Seed: pc.Seed})
	if err != nil {
		return nil, err
	}
	p, err := simulated.New(pc)
	if err != nil {
		return nil, err
	}
	if pc.Cold <= 0 {
		p.Warm(warmSeconds)
	}
	src := stage.Source(0)
	go stage.Run(ctx)
	go (&simulate.Performer{Player: p, Voice: stage.Voice(0), Desk: s.desk}).Run(ctx)
	return func(context.Context) (capture.Source, error) { return src, nil }, nil
}

// entered lets the desk go on at each line typed.
func entered(ctx context.Context, in io.Reader, d *soloDesk) {
	for sc := bufio.NewScanner(in); sc.Scan() && ctx.Err() == nil; {
		d.goOn()
	}
}

// lead goes through the study.
func (s *solo) lead(ctx context.Context) {
	for ctx.Err() == nil {
		p := s.study.Now()
		s.desk.show(s.view(p))
		switch p.Act {
		case study.Done:
			return
		case study.Play:
			fmt.Fprintf(s.out, "\n%s\n", counted(p))
			select {
			case r, ok := <-s.desk.notes:
				if !ok {
					return // the recording is over
				}
				if say := s.study.Take(noteOf(r)); say != "" {
					fmt.Fprintln(s.out, say)
				} else {
					fmt.Fprintln(s.out, "Heard.")
				}
			case <-ctx.Done():
			}
		case study.Rest:
			fmt.Fprintln(s.out, p.Say)
			s.rest(ctx, s.pace(p.Seconds))
			s.study.Go()
		case study.Move:
			fmt.Fprintf(s.out, "%s\n", p.Say)
			if s.confirm != "" {
				fmt.Fprintln(s.out, s.confirm)
			}
			if s.waits {
				s.wait(ctx, moveWithin)
			}
			s.study.Go()
		}
	}
}

// moveWithin is how long a study waits to hear that a slide was moved.
const moveWithin = 2 * time.Minute

// wait ends when the player goes on, or after d.
func (s *solo) wait(ctx context.Context, d time.Duration) {
	ctx, stop := context.WithTimeout(ctx, d)
	defer stop()
	select {
	case <-ctx.Done():
	case <-s.desk.on:
	}
}

// rest ends after d.
func (s *solo) rest(ctx context.Context, d time.Duration) {
	ctx, stop := context.WithTimeout(ctx, d)
	defer stop()
	<-ctx.Done()
}

// counted says what to do, and how far the study is.
func counted(p study.Prompt) string {
	if p.Of < 2 {
		return p.Say
	}
	return fmt.Sprintf("%d of %d. %s", p.Nth, p.Of, p.Say)
}

// view is what the player's page shows of a prompt.
func (s *solo) view(p study.Prompt) proto.View {
	v := proto.View{Section: "Alone", Chair: s.in.Name, Say: counted(p), Notes: study.Cautions}
	switch p.Act {
	case study.Play:
		v.Phase, v.Round, v.Listen = "play", 1, true
		v.Written, v.Concert, v.Target = s.in.Written(p.Note).Display(), p.Note.Display(), s.ref.Frequency(p.Note)
		if p.Path != (instrument.Path{}) {
			v.Fingering = p.Path.String()
		}
	case study.Rest:
		v.Phase = "rest"
	case study.Move:
		sl, _ := s.in.Slide(p.Slide)
		v.Phase = "answer"
		v.Answer = &proto.Answer{ID: s.desk.nextID(), Kind: string(slide.Move), Headline: p.Say, Moves: []proto.Slide{{
			ID: p.Slide, Name: sl.Name, FromMM: p.FromMM, ToMM: p.ToMM, TravelMM: sl.TravelMM,
		}}}
	case study.Done:
		r := s.study.Report()
		v.Phase = "answer"
		v.Answer = &proto.Answer{ID: s.desk.nextID(), Kind: string(slide.Stay), Headline: r.Words[0], Detail: strings.Join(r.Words[1:], " "), Next: r.Try}
	}
	return v
}
