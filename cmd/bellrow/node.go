package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"time"

	"bellrow/node/capture"
	"bellrow/node/mic"
	"bellrow/node/player"
	"bellrow/node/uplink"
	"bellrow/proto"
	"bellrow/proto/instrument"
)

// nodeConfig is what a node process is told.
type nodeConfig struct {
	chair, part     string
	instrument      *instrument.Instrument
	at, join, state string
	wav, device     string
	simulate        string
	fast, warm      bool
	page            string
	sounds          string // folder for sounds the player keeps; empty is one in the home folder
	noPage          bool
	verbose, noMDNS bool
	older           bool // the address was compared; see uplink.Config.Sure
	remote          bool // the node of a telephone: its page is the microphone
}

// warmSeconds is what --warm counts as already played: the end of what the
// hub calls cold.
const warmSeconds = 300

func runNode(ctx context.Context, e env, args []string) error {
	c, err := parseNode(e, args)
	if err != nil {
		return err
	}
	frugal()
	f, err := openFront(c, e)
	if err != nil {
		return err
	}
	return f.run(ctx)
}

func parseNode(e env, args []string) (*nodeConfig, error) {
	c := &nodeConfig{}
	fs := flagSet(e, "node", "--chair NAME --instrument ID [--hub HOST:PORT] [--join CODE] [--wav FILE [--fast] | --simulate SPEC | --device NAME]\n\nListens to one player and sends settled readings to the hub. Stop it with Ctrl-C.")
	var id string
	fs.StringVar(&c.chair, "chair", "", "`name` of the chair or player")
	fs.StringVar(&c.part, "part", "", "`part` played, as the leader calls it")
	fs.StringVar(&id, "instrument", "", "instrument `id`; bellrow instruments lists them")
	fs.StringVar(&c.at, "hub", "", "`address` or link of the hub; without it the hub is searched for")
	fs.BoolVar(&c.older, "old-hub", false, "send the code to --hub although a hub of an older version cannot prove that it is the right one: compare the address with the leader's screen")
	fs.StringVar(&c.join, "join", "", "join `code` from the leader's screen, needed the first time")
	fs.StringVar(&c.wav, "wav", "", "play this sound `file` through the node instead of a microphone")
	fs.BoolVar(&c.fast, "fast", false, "with --wav: as quickly as possible")
	fs.StringVar(&c.simulate, "simulate", "", "play as a simulated player: `spec` such as build=+12,habit=holder,seed=3")
	fs.StringVar(&c.device, "device", "", "microphone by `name`; bellrow check lists them")
	fs.BoolVar(&c.warm, "warm", false, "the instrument is warm already")
	fs.StringVar(&c.page, "page", anyPage, "where to serve the player's own page, `HOST:PORT` on this laptop; without it "+pageAddress+", or any free port")
	fs.BoolVar(&c.noPage, "no-page", false, "no player's page")
	fs.StringVar(&c.sounds, "sounds", "", "`folder` for notes whose sound you keep from your page; without it \"bellrow sounds\" in your home folder")
	fs.StringVar(&c.state, "state", "", "`folder` for what this chair remembers")
	fs.BoolVar(&c.noMDNS, "no-search", false, "do not search by multicast DNS")
	fs.BoolVar(&c.verbose, "verbose", false, "log details to stderr")
	if err := parse(fs, args); err != nil {
		return nil, err
	}
	if c.noPage && c.chair == "" {
		return nil, misused("give --chair NAME, for example --chair \"Horn 2\"", "no chair was named")
	}
	if c.noPage && id == "" {
		return nil, misused("give --instrument ID; bellrow instruments lists them", "no instrument was named")
	}
	var err error
	if id != "" {
		if c.instrument, err = instrument.Find(instrument.ID(id)); err != nil {
			return nil, misused("bellrow instruments lists them all", "%v", err)
		}
	}
	if c.at != "" {
		if _, err = proto.ParseLink(c.at); err != nil {
			return nil, misused("give --hub as host:port, or paste the players' link", "%v", err)
		}
	}
	if n := count(c.wav != "", c.simulate != "", c.device != ""); n > 1 {
		return nil, misused("choose one", "--wav, --simulate and --device exclude one another")
	}
	return c, nil
}

func count(bs ...bool) (n int) {
	for _, b := range bs {
		if b {
			n++
		}
	}
	return n
}

// stateRoot is where this user's nodes keep what they remember.
func stateRoot(given string) string {
	if given != "" {
		return given
	}
	dir, err := os.UserConfigDir()
	if err != nil {
		dir = os.TempDir()
	}
	return filepath.Join(dir, "bellrow", "node")
}

// fileName makes a folder name of a chair's: two chairs on one laptop are two
// nodes.
func fileName(chair string) string {
	return strings.Map(func(r rune) rune {
		if r == ' ' || r == '-' || r >= '0' && r <= '9' || r >= 'A' && r <= 'Z' || r >= 'a' && r <= 'z' {
			return r
		}
		return '_'
	}, chair)
}

// ownPage reports whether the player's page is the microphone.
func (c *nodeConfig) ownPage() bool {
	return c.remote || c.wav == "" && c.simulate == "" && c.device == "" && !mic.Native
}

// clockPPM: a file has no clock of its own; a simulated player an exact one.
func (c *nodeConfig) clockPPM() float64 {
	if c.wav != "" || c.simulate != "" {
		return -1
	}
	return 0
}

// source chooses what to listen to. ended is true for sources that end by
// themselves and whose readings are then to be delivered.
func (c *nodeConfig) source(page *player.Microphone, log *slog.Logger) (open func(context.Context) (capture.Source, error), ended bool, err error) {
	switch {
	case c.wav != "":
		src, err := capture.Open(c.wav)
		if err != nil {
			return nil, false, hintedFile(err)
		}
		if !c.fast {
			src = capture.Paced(src)
		}
		return func(context.Context) (capture.Source, error) { return src, nil }, true, nil
	case !c.ownPage():
		return func(context.Context) (capture.Source, error) {
			src, err := mic.Open(mic.Config{Device: c.device, Log: log})
			if err != nil {
				return nil, microphoneError(err)
			}
			return src, nil
		}, false, nil
	}
	return page.Open, false, nil
}

// microphoneError says what to do about a microphone that does not open.
func microphoneError(err error) error {
	hint := "bellrow check lists the microphones"
	if errors.Is(err, mic.ErrNotBuilt) {
		hint = "leave out --device and use the browser, or take the Debian package, or build with -tags portaudio"
		err = errors.New("this build has no native microphone")
	}
	return say(hint, "the microphone cannot be opened: %s", strings.TrimPrefix(err.Error(), "mic: "))
}

// drain waits until the hub has everything, or has said no.
func drain(ctx context.Context, up *uplink.Uplink) error {
	waiting, cancel := context.WithTimeout(ctx, drainFor)
	defer cancel()
	done := make(chan error, 1)
	go func() { done <- up.Drain(waiting) }()
	for {
		changed := up.Changed()
		s := up.Status()
		select {
		case err := <-done:
			if err == nil || ctx.Err() != nil {
				return ctx.Err()
			}
			return undelivered(s)
		case <-changed:
			if s = up.Status(); s.Phase == uplink.Refused && s.Waiting > 0 {
				return undelivered(s)
			}
		}
	}
}

// undelivered says what waits for the hub and why.
func undelivered(s uplink.Status) error {
	why := s.Message
	if why == "" {
		why = "the hub has not acknowledged"
	}
	return say("they are kept on this laptop and delivered at the next start; "+s.Hint, "%d readings wait for the hub: %s", s.Waiting, why)
}

// drainFor is how long the end of a file waits for the hub: several searches.
const drainFor = 20 * time.Second

// teller writes a node's story to the terminal: never a pitch in motion.
type teller struct{ out io.Writer }

// follow prints status and view as they change.
func (t *teller) follow(ctx context.Context, up *uplink.Uplink) {
	var status, said, answered string
	for {
		changed := up.Changed()
		if s := t.status(up.Status()); s != "" && s != status {
			status = s
			fmt.Fprintln(t.out, s)
		}
		v := up.View()
		if v.Say != "" && v.Say != said {
			said = v.Say
			fmt.Fprintf(t.out, "  %s\n", said)
		}
		if a := v.Answer; a != nil && fmt.Sprint(a.ID) != answered {
			answered = fmt.Sprint(a.ID)
			t.answer(a)
		}
		select {
		case <-ctx.Done():
			return
		case <-changed:
		}
	}
}

// status says how the connection stands, empty when there is nothing to say.
func (t *teller) status(s uplink.Status) string {
	switch {
	case s.Phase == uplink.Connected:
		return "In " + s.Section + "."
	case s.Message != "":
		return s.Message + "\n  " + s.Hint
	case s.Phase == uplink.Searching && s.Code == "":
		return "Looking for the hub."
	}
	return ""
}

func (t *teller) answer(a *proto.Answer) {
	for _, line := range []string{a.Headline, a.Detail, a.Next, a.Small} {
		if line != "" {
			fmt.Fprintf(t.out, "    %s\n", line)
		}
	}
}
