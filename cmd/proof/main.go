// Proof runs the accuracy and trial programs that back the project's figures.
// It is for developers; players and leaders use bellrow.
//
// Usage:
//
//	go run ./cmd/proof [-write SUBJECT] NAME [flags]
//
// With -write what it prints goes to testdata/results/SUBJECT.md too, under the
// command, with date, commit and machine.
package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"os/signal"

	"bellrow/cmd/proof/attribute"
	"bellrow/cmd/proof/chords"
	"bellrow/cmd/proof/estimate"
	"bellrow/cmd/proof/habits"
	"bellrow/cmd/proof/moves"
	"bellrow/cmd/proof/mutate"
	"bellrow/cmd/proof/network"
	"bellrow/cmd/proof/result"
	"bellrow/testdata/processor"
)

// A proof prints one table of measured figures.
type proof struct {
	name string
	what string
	run  func(ctx context.Context, w io.Writer, args []string) error
}

// proofs lists what can be run; one line each.
var proofs = []proof{
	{"estimate", "pitch readings against their targets, beside reference libraries", estimate.Run},
	{"network", "delivery, load and hostile clients over real sockets", network.Run},
	{"habits", "months of simulated rehearsals: habits found, and people accused without cause", habits.Run},
	{"chords", "chords inferred from simulated groups", chords.Run},
	{"attribute", "whose sound is it: simulated rows of 4 to 32 chairs playing at once", attribute.Run},
	{"moves", "tune-ups of simulated sections, with slide advice and without", moves.Run},
	{"mutate", "edits that break a package and that its tests do not notice", mutate.Run},
	{"go", "a go command, such as go test -bench, so that -write keeps what it prints", goCommand},
}

// errUsage is a command line that was not understood.
var errUsage = errors.New("not understood")

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	err := run(ctx, os.Stdout, os.Args[1:])
	switch {
	case errors.Is(err, errUsage):
		usage()
		os.Exit(2)
	case err != nil:
		fmt.Fprintln(os.Stderr, "proof:", err)
		os.Exit(1)
	}
}

// run runs one proof, and keeps what it prints where that is asked for.
func run(ctx context.Context, w io.Writer, args []string) error {
	if len(args) >= 2 && args[0] == "-write" {
		return keep(ctx, w, args[1], args[2:])
	}
	if len(args) == 0 {
		return errUsage
	}
	for _, p := range proofs {
		if p.name == args[0] {
			return p.run(ctx, w, args[1:])
		}
	}
	return errUsage
}

// keep runs a proof to its end and writes what it printed; of one that fails
// nothing is kept.
func keep(ctx context.Context, w io.Writer, subject string, args []string) error {
	if err := result.Valid(result.Folder, subject); err != nil {
		return err
	}
	command := args
	if len(args) == 0 || args[0] != "go" {
		command = append([]string{"go", "run", "./cmd/proof"}, args...)
	}
	r := result.New(command)
	var printed bytes.Buffer
	if err := run(ctx, io.MultiWriter(w, &printed), args); err != nil {
		return err
	}
	r.Processor, r.Output = processor.WithChildren(), printed.String()
	return result.Write(result.Folder, subject, r)
}

// goCommand runs go with its arguments.
func goCommand(ctx context.Context, w io.Writer, args []string) error {
	c := exec.CommandContext(ctx, "go", args...)
	c.Stdout, c.Stderr = w, os.Stderr
	return c.Run()
}

func usage() {
	fmt.Fprintln(os.Stderr, "usage: proof [-write SUBJECT] NAME [flags]; NAME is one of")
	for _, p := range proofs {
		fmt.Fprintf(os.Stderr, "  %-12s %s\n", p.name, p.what)
	}
	fmt.Fprintln(os.Stderr, "with -write what it prints is kept in", result.Folder+"/SUBJECT.md, with date, commit and machine")
}
