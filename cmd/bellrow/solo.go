package main

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"strings"
	"sync"
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
	"bellrow/proto/track"
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
	confirm <-chan struct{} // a move was made; nil when nobody has to say so
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
	if *asJSON {
		s.out = e.stderr
	}
	log := logger(e.stderr, *verbose)
	if err := s.run(ctx, e, log, sc); err != nil {
		return err
	}
	r := s.study.Report()
	if *asJSON {
		enc := json.NewEncoder(e.stdout)
		enc.SetIndent("", "  ")
		return enc.Encode(struct {
			study.Report
			Instrument instrument.ID `json:"instrument"`
			Cautions   []string      `json:"cautions"`
		}{r, sc.Instrument.ID, study.Cautions})
	}
	printStudy(e.stdout, r)
	return nil
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

// run listens and leads until the study, the recording or ctx is over.
func (s *solo) run(ctx context.Context, e env, log *slog.Logger, sc study.Config) error {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	lc := listen.Config{ClockPPM: s.config.clockPPM()}
	if sc.Kind == study.Bend {
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
	ended := make(chan error, 1)
	go func() { ended <- n.Run(ctx); close(s.desk.notes) }()
	s.lead(ctx)
	stop()
	if err := <-ended; err != nil && !errors.Is(err, context.Canceled) {
		return hintedFile(err)
	}
	return nil
}

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
		s.confirm = s.desk.moved
		open, err = s.simulate(ctx)
		return open, shut, err
	case s.config.ownPage():
		s.confirm = s.desk.moved
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
		s.confirm = entered(ctx, e.stdin)
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

// entered gives a token for each line typed.
func entered(ctx context.Context, in io.Reader) <-chan struct{} {
	lines := make(chan struct{})
	go func() {
		defer close(lines)
		for sc := bufio.NewScanner(in); sc.Scan(); {
			select {
			case lines <- struct{}{}:
			case <-ctx.Done():
				return
			}
		}
	}()
	return lines
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
			fmt.Fprintf(s.out, "\n%s\n", p.Say)
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
			s.wait(ctx, s.pace(p.Seconds), nil)
			s.study.Go()
		case study.Move:
			fmt.Fprintf(s.out, "%s\n", p.Say)
			if s.confirm != nil {
				fmt.Fprintln(s.out, "Press Enter, or say so on your page, when it stands there.")
				s.wait(ctx, moveWithin, s.confirm)
			}
			s.study.Go()
		}
	}
}

// moveWithin is how long a study waits to hear that a slide was moved.
const moveWithin = 2 * time.Minute

func (s *solo) wait(ctx context.Context, d time.Duration, until <-chan struct{}) {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-ctx.Done():
	case <-until:
	case <-t.C:
	}
}

// view is what the player's page shows of a prompt.
func (s *solo) view(p study.Prompt) proto.View {
	v := proto.View{Section: "Alone", Chair: s.in.Name, Say: p.Say, Notes: study.Cautions}
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
	moved  chan struct{}
	wanted bool // by the node's goroutine alone: the next reading was asked for

	mu      sync.Mutex
	view    proto.View
	changed chan struct{}
	id      int64
}

// soloNotes is how many notes of a recording may wait to be taken.
const soloNotes = 4096

func newSoloDesk() *soloDesk {
	return &soloDesk{notes: make(chan heardNote, soloNotes), moved: make(chan struct{}, 1), changed: make(chan struct{})}
}

func (d *soloDesk) show(v proto.View) {
	d.mu.Lock()
	d.view = v
	close(d.changed)
	d.changed = make(chan struct{})
	d.mu.Unlock()
	select { // what was said before this prompt answers another
	case <-d.moved:
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
	v.Listen = v.Listen || d.always
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

// Setting says that a slide was moved.
func (d *soloDesk) Setting(proto.Setting) {
	select {
	case d.moved <- struct{}{}:
	default:
	}
}

// SetSetting, Pause and Join make the desk the node behind its own page.
func (d *soloDesk) SetSetting(_ context.Context, s proto.Setting) error {
	d.Setting(s)
	return nil
}

// Pause does nothing: a study waits anyway.
func (d *soloDesk) Pause(bool) {}

// Join is not for one who plays alone.
func (d *soloDesk) Join(context.Context, player.Wish) error {
	return say("stop this study and start bellrow node to join a section", "you are playing alone")
}

// State, Track and Clock are for a hub.
func (d *soloDesk) State(proto.State)               {}
func (d *soloDesk) Track(track.Chunk)               {}
func (d *soloDesk) Clock(int64, float64, time.Time) {}
