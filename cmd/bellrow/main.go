// Bellrow tunes a brass section over the local network: settled readings from
// every player's laptop, one row for the leader, and slide moves in
// millimetres for everybody.
package main

import (
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
	"strings"
	"syscall"
)

// env is the outside world of a command, so that tests can stand in for it.
type env struct {
	stdin          io.Reader
	stdout, stderr io.Writer
}

// A command is one verb of the program.
type command struct {
	name string
	what string
	run  func(ctx context.Context, e env, args []string) error
}

// commands lists the verbs in the order of the usage text.
func commands() []command {
	return []command{
		{"hub", "the hub on the leader's laptop", runHub},
		{"node", "the node on a player's laptop", runNode},
		{"demo", "a whole section of simulated players on this machine", runDemo},
		{"solo", "a study for one player, without a hub", runSolo},
		{"check", "the microphone and the network of this laptop", runCheck},
		{"read", "settled readings from sound files", runRead},
		{"chord", "what is wrong with a chord, and what to move", runChord},
		{"piece", "a score: its held chords and one main-slide setting for all of it", runPiece},
		{"report", "what the records show of a section and its players, and erasing them", runReport},
		{"backup", "a copy of the hub's data", runBackup},
		{"advise", "the slide move for readings typed or read", runAdvise},
		{"instruments", "the instruments and their slides", runInstruments},
		{"version", "the version of this program", runVersion},
	}
}

// Exit statuses.
const (
	exitOK     = 0
	exitFailed = 1 // the command could not do its job
	exitUsage  = 2 // the command line was not understood
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	code := run(ctx, env{os.Stdin, os.Stdout, os.Stderr}, os.Args[1:])
	stop()
	os.Exit(code)
}

// run finds the command and turns its error into a sentence and a status.
func run(ctx context.Context, e env, args []string) int {
	if len(args) == 0 || args[0] == "help" || args[0] == "-h" || args[0] == "--help" {
		usage(e.stdout)
		return exitOK
	}
	for _, c := range commands() {
		if c.name == args[0] {
			return report(e, c.name, c.run(ctx, e, args[1:]))
		}
	}
	names := make([]string, 0, len(commands()))
	for _, c := range commands() {
		names = append(names, c.name)
	}
	return report(e, "", &hinted{
		fmt.Errorf("there is no command %q", args[0]),
		"the commands are " + strings.Join(names, ", "), exitUsage,
	})
}

// hinted is an error for people: one sentence, and the next action.
type hinted struct {
	err  error
	hint string
	code int // exit status; 0 means exitFailed
}

func (h *hinted) Error() string { return h.err.Error() }
func (h *hinted) Unwrap() error { return h.err }

// say makes a hinted error.
func say(hint, format string, a ...any) error {
	return &hinted{err: fmt.Errorf(format, a...), hint: hint}
}

// misused makes a hinted error for a command line that makes no sense.
func misused(hint, format string, a ...any) error {
	return &hinted{err: fmt.Errorf(format, a...), hint: hint, code: exitUsage}
}

func report(e env, name string, err error) int {
	if err == nil {
		return exitOK
	}
	if errors.Is(err, flag.ErrHelp) {
		return exitOK
	}
	prefix := "bellrow"
	if name != "" {
		prefix += " " + name
	}
	fmt.Fprintf(e.stderr, "%s: %v\n", prefix, err)
	var h *hinted
	if !errors.As(err, &h) {
		return exitFailed
	}
	if h.hint != "" {
		fmt.Fprintf(e.stderr, "  %s\n", h.hint)
	}
	if h.code != 0 {
		return h.code
	}
	return exitFailed
}

// printJSON prints one indented value.
func printJSON(w io.Writer, v any) error {
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	return enc.Encode(v)
}

func usage(w io.Writer) {
	fmt.Fprint(w, `bellrow tunes a brass section over the local network.

usage: bellrow COMMAND [options]

`)
	for _, c := range commands() {
		fmt.Fprintf(w, "  %-12s %s\n", c.name, c.what)
	}
	fmt.Fprint(w, `
Options of a command: bellrow COMMAND --help.
Exit status: 0 done, 1 could not be done, 2 the command line was not understood.

Try it without instruments:

  bellrow demo
`)
}

// flagSet makes a flag set that prints its help to stdout and its errors
// nowhere: errors become sentences of the command.
func flagSet(e env, name, synopsis string) *flag.FlagSet {
	fs := flag.NewFlagSet(name, flag.ContinueOnError)
	fs.SetOutput(io.Discard)
	fs.Usage = func() {
		fmt.Fprintf(e.stdout, "usage: bellrow %s %s\n\n", name, synopsis)
		fs.SetOutput(e.stdout)
		fs.PrintDefaults()
		fs.SetOutput(io.Discard)
	}
	return fs
}

// parse reads args; a mistake becomes a misused error naming --help.
func parse(fs *flag.FlagSet, args []string) error {
	err := fs.Parse(args)
	if err == nil || errors.Is(err, flag.ErrHelp) {
		return err
	}
	return misused("bellrow "+fs.Name()+" --help lists the options", "%v", err)
}
