package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/spf13/cobra"

	"bellrow/cmd/bellrow/plain"
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

func nodeCommand(e env) *cobra.Command {
	n := &nodeConfig{}
	c := &cobra.Command{
		Use: "node", Short: "the node on a player's laptop",
		Long: `Listens to one player and sends settled readings to the hub. Without options the
seat is taken on the player's own page. Stop it with Ctrl-C.`,
		Example: `bellrow node
bellrow node --chair "Horn 2" --instrument horn_f --join 12345678
bellrow node --chair "Trumpet 1" --instrument trumpet_bb --hub 192.168.4.7:7440 --simulate build=+12`,
		Args: noWords("a chair is given with --chair NAME, a recording with --wav FILE"),
	}
	nameFlag(c, &n.chair, "chair", "`NAME` of the chair or player")
	nameFlag(c, &n.part, "part", "`PART` played, as the leader calls it")
	instrumentFlag(c, &n.instrument, "instrument `ID`; bellrow instruments lists them")
	hubFlag(c, &n.at)
	flag(c, &n.older, "old-hub", "send the code to --hub although a hub of an older version cannot prove that it is the right one: compare the address with the leader's screen")
	text(c, &n.join, "join", "", "join `CODE` from the leader's screen, needed the first time")
	sourceFlags(c, n)
	flag(c, &n.fast, "fast", "with --wav: as quickly as possible")
	flag(c, &n.warm, "warm", "the instrument is warm already")
	pageFlag(c, &n.page, anyPage)
	flag(c, &n.noPage, "no-page", "no player's page")
	text(c, &n.sounds, "sounds", "", "`FOLDER` for notes whose sound you keep from your page; without it \"bellrow sounds\" in your home folder")
	text(c, &n.state, "state", "", "`FOLDER` for what this chair remembers; without it bellrow/node where this user's programs keep their data")
	flag(c, &n.noMDNS, "no-search", "do not search by multicast DNS")
	logFlag(c, &n.verbose)
	c.RunE = func(c *cobra.Command, _ []string) error {
		if err := first(needs(c, "fast", "wav"), needs(c, "old-hub", "hub"), without(c, "sounds", "no-page"), needs(c, "part", "chair"), oneOf(c, "page", "no-page"), n.sources(c, n.instrument), folderGiven(c, "state", &n.state, "node"), presets(c, "hub", &n.at, hubOf)); err != nil {
			return err
		}
		switch {
		case n.noPage && n.chair == "":
			return misused("give --chair NAME, for example --chair \"Horn 2\"", "no chair was named")
		case n.noPage && n.instrument == nil:
			return misused("give --instrument ID; bellrow instruments lists them", "no instrument was named")
		}
		frugal()
		f, err := openFront(n, e)
		if err != nil {
			return err
		}
		return f.run(c.Context())
	}
	return c
}

// sourceFlags declares what is listened to.
func sourceFlags(c *cobra.Command, n *nodeConfig) {
	text(c, &n.wav, "wav", "", "take the notes from this sound `FILE` instead of a microphone")
	text(c, &n.simulate, "simulate", "", "play as a simulated player: `SPEC` such as build=+12,habit=holder,seed=3")
	deviceFlag(c, &n.device)
}

// sources checks what is listened to; in may be nil as long as it is not known.
func (n *nodeConfig) sources(c *cobra.Command, in *instrument.Instrument) error {
	if err := oneOf(c, "wav", "simulate", "device"); err != nil {
		return err
	}
	if n.simulate == "" || in == nil {
		return nil
	}
	_, err := parsePlayer(in, n.simulate)
	return err
}

// nameFlag declares the name of a chair or part.
func nameFlag(c *cobra.Command, p *string, name, usage string) {
	taken(c, name, "NAME", "", usage, func(s string) error {
		*p = strings.TrimSpace(s)
		return checkName(name, *p)
	})
}

// checkName refuses a name that no page could show.
func checkName(what, s string) error {
	switch n := utf8.RuneCountInString(s); {
	case n > proto.MaxName:
		return misused(fmt.Sprintf("at most %d stand on the pages; for example \"Horn 2\"", proto.MaxName), "a %s of %d characters is too long", what, n)
	case !proto.Printable(s):
		return misused("use letters, digits and spaces", "a %s with signs that cannot be shown", what)
	}
	return nil
}

// pageFlag declares where the player's page is served: on this laptop alone,
// because whoever opens it speaks for the player and hands over a microphone.
func pageFlag(c *cobra.Command, p *string, value string) {
	*p = value
	usage := "where to serve the player's own page, `HOST:PORT` on this laptop"
	if value == anyPage {
		usage += "; without it " + pageAddress + ", or any free port"
	}
	taken(c, "page", "HOST:PORT", value, usage, func(s string) error {
		*p = s
		host, err := checkAddress(s)
		if err != nil {
			return misused("give an address of this laptop, for example 127.0.0.1:7442", "it is not HOST:PORT")
		}
		if ip := net.ParseIP(host); host != "localhost" && (ip == nil || !ip.IsLoopback()) {
			return misused("give --page 127.0.0.1:PORT, because whoever opens the page speaks for this player; others take part through bellrow hub --phones :7443", "other machines could open that page")
		}
		return nil
	})
}

// addressFlag declares where to listen.
func addressFlag(c *cobra.Command, p *string, name, value, usage string) {
	*p = value
	taken(c, name, "HOST:PORT", value, usage, func(s string) error {
		*p = s
		_, err := checkAddress(s)
		return err
	})
}

func checkAddress(s string) (host string, err error) {
	host, port, err := net.SplitHostPort(s)
	if err == nil {
		_, err = strconv.ParseUint(port, 10, 16)
	}
	if err != nil {
		return "", misused("give HOST:PORT, for example 127.0.0.1:7440, or :7440 for every network of this laptop", "it is not HOST:PORT")
	}
	return host, nil
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
		src, err := openSound(c.wav)
		if err != nil {
			return nil, false, err
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
		hint = "leave out --device and use the browser, or take the Debian package bellrow-native, or build with -tags portaudio"
		err = errors.New("this build has no native microphone")
	}
	return plain.Keyed(say(hint, "the microphone cannot be opened: %s", plain.Sentence(err)), "start.fault.microphone")
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
