package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"time"

	"bellrow/node/capture"
	"bellrow/node/check"
	"bellrow/node/find"
	"bellrow/node/mic"
	"bellrow/proto"
)

const checkSynopsis = `[--device NAME | --wav FILE] [--hub HOST:PORT] [--json]

Checks the microphone and the network before a rehearsal. Each line is ok, or
says what to do. The exit status is 0 when nothing is to be done, else 1.`

// checker is the check command.
type checker struct {
	device, wav, hub   string
	noSound, noNetwork bool
	json               bool
	e                  env
}

func runCheck(ctx context.Context, e env, args []string) error {
	c := checker{e: e}
	fs := flagSet(e, "check", checkSynopsis)
	fs.StringVar(&c.device, "device", "", "microphone by `name`, as the check lists them")
	fs.StringVar(&c.wav, "wav", "", "check a recording: a sound `file` of quiet, a held note and quiet")
	fs.StringVar(&c.hub, "hub", "", "`address` or link of the hub; without it the hub is searched for")
	fs.BoolVar(&c.noSound, "no-sound", false, "leave the microphone out")
	fs.BoolVar(&c.noNetwork, "no-network", false, "leave the network out")
	fs.BoolVar(&c.json, "json", false, "print one JSON object per line")
	if err := parse(fs, args); err != nil {
		return err
	}
	if fs.NArg() > 0 {
		return misused("a recording is given with --wav FILE", "%q is not an option", fs.Arg(0))
	}
	network, err := c.network()
	if err != nil {
		return err
	}
	well := true
	if !c.noNetwork { // first: a browser's microphone may let wait
		well = c.print(network.Lines(ctx)) && well
	}
	if !c.noSound && ctx.Err() == nil {
		well = c.print(c.sound(ctx)) && well
	}
	switch {
	case ctx.Err() != nil:
		return ctx.Err()
	case !well:
		return fmt.Errorf("something has to be put right")
	}
	return nil
}

func (c *checker) network() (check.Network, error) {
	if c.hub == "" {
		return check.Network{}, nil
	}
	link, err := proto.ParseLink(c.hub)
	if err != nil {
		return check.Network{}, misused("give --hub as host:port, or paste the players' link", "%v", err)
	}
	hub := find.Typed(link)
	return check.Network{Hub: &hub}, nil
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
		return capture.Open(c.wav)
	}
	return mic.Open(mic.Config{Device: c.device})
}

// say tells the player what to do now, apart from the findings.
func (c *checker) say(s check.Step) {
	if c.wav == "" {
		fmt.Fprintf(c.e.stderr, "%s (%.0f s)\n", s.Say, s.Seconds)
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
