package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"time"

	"github.com/spf13/cobra"

	"bellrow/node/capture"
	"bellrow/node/check"
	"bellrow/node/find"
	"bellrow/node/mic"
	"bellrow/proto/phrase"
)

// checker is the check command.
type checker struct {
	device, wav, hub   string
	noSound, noNetwork bool
	json               bool
	e                  env
}

func checkCommand(e env) *cobra.Command {
	k := checker{e: e}
	c := &cobra.Command{
		Use: "check", Short: "the microphone and the network of this laptop",
		Long: `Checks the microphone and the network before a rehearsal. Each line is ok, or
says what to do. The exit status is 0 when nothing is to be done, else 1.`,
		Example: `bellrow check
bellrow check --no-network --wav rehearsal.wav`,
		Args: noWords("a recording is given with --wav FILE"),
	}
	deviceFlag(c, &k.device)
	text(c, &k.wav, "wav", "", "check a recording: a sound `FILE` of quiet, a held note and quiet")
	hubFlag(c, &k.hub)
	flag(c, &k.noSound, "no-sound", "leave the microphone out")
	flag(c, &k.noNetwork, "no-network", "leave the network out")
	c.Flags().BoolVar(&k.json, "json", false, "print one JSON object per line")
	c.RunE = func(c *cobra.Command, _ []string) error {
		if err := first(oneOf(c, "device", "wav"), oneOf(c, "no-sound", "no-network"), without(c, "device", "no-sound"), without(c, "wav", "no-sound"), without(c, "hub", "no-network")); err != nil {
			return err
		}
		return k.run(c.Context())
	}
	return c
}

func (c *checker) run(ctx context.Context) error {
	well := true
	if !c.noNetwork { // first: a browser's microphone may let wait
		well = c.print(c.network().Lines(ctx)) && well
	}
	if !c.noSound && ctx.Err() == nil {
		well = c.print(c.sound(ctx)) && well
	}
	switch {
	case ctx.Err() != nil:
		return ctx.Err()
	case !well:
		return say("do what stands below each line that is to do, then check again", "something has to be put right")
	}
	return nil
}

func (c *checker) network() check.Network {
	if c.hub == "" {
		return check.Network{}
	}
	link, _ := parseLink(c.hub) // its option took only what it understood
	hub := find.Typed(link)
	return check.Network{Hub: &hub}
}

// sound checks the microphone, or a recording in its place.
func (c *checker) sound(ctx context.Context) []check.Line {
	if c.wav == "" && !mic.Native {
		return c.soundOnPage(ctx)
	}
	var lines []check.Line
	if c.wav == "" {
		names, err := deviceNames()
		lines = append(lines, check.Microphones(names, err))
		if err == nil && len(names) == 0 {
			return lines
		}
	}
	src, err := c.open()
	if err != nil {
		do := "choose one of those listed with --device NAME"
		if c.wav != "" {
			do = "give --wav a WAV or FLAC file"
		}
		return append(lines, check.Unopened(err, do))
	}
	defer src.Close()
	return append(lines, check.Microphone(ctx, src, c.say, time.Now)...)
}

func deviceNames() ([]string, error) {
	devices, err := mic.Devices()
	names := make([]string, len(devices))
	for i, d := range devices {
		names[i] = d.String()
	}
	return names, err
}

func (c *checker) open() (capture.Source, error) {
	if c.wav != "" {
		return openSound(c.wav)
	}
	return mic.Open(mic.Config{Device: c.device})
}

// say tells the player what to do now, apart from the findings.
func (c *checker) say(s check.Step) {
	if c.wav == "" {
		fmt.Fprintf(c.e.stderr, "%s (%.0f s)\n", s.In(phrase.Tongue{}), s.Seconds)
	}
}

// words are the states as they are printed.
var words = map[check.State]string{check.OK: "ok", check.Act: "to do", check.Skipped: "-"}

// print prints the lines and reports whether none asks for anything.
func (c *checker) print(lines []check.Line) bool {
	for _, l := range lines {
		if err := c.line(c.e.stdout, l); err != nil {
			return false
		}
	}
	return check.Well(lines)
}

func (c *checker) line(w io.Writer, l check.Line) error {
	if c.json {
		return json.NewEncoder(w).Encode(l)
	}
	_, err := fmt.Fprintf(w, "%-6s %-12s %s\n", words[l.State], l.Check, l.Finding)
	if err == nil && l.Do != "" {
		_, err = fmt.Fprintf(w, "%-6s %-12s %s\n", "", "", l.Do)
	}
	return err
}
