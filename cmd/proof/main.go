// Proof runs the accuracy and trial programs that back the project's figures.
// It is for developers; players and leaders use bellrow.
//
// Usage:
//
//	go run ./cmd/proof NAME [flags]
package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"os/signal"

	"bellrow/cmd/proof/attribute"
	"bellrow/cmd/proof/chords"
	"bellrow/cmd/proof/estimate"
	"bellrow/cmd/proof/habits"
	"bellrow/cmd/proof/moves"
	"bellrow/cmd/proof/network"
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
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if len(os.Args) < 2 {
		usage()
		os.Exit(2)
	}
	for _, p := range proofs {
		if p.name != os.Args[1] {
			continue
		}
		if err := p.run(ctx, os.Stdout, os.Args[2:]); err != nil {
			fmt.Fprintln(os.Stderr, "proof:", err)
			os.Exit(1)
		}
		return
	}
	usage()
	os.Exit(2)
}

func usage() {
	fmt.Fprintln(os.Stderr, "usage: proof NAME [flags]; NAME is one of")
	for _, p := range proofs {
		fmt.Fprintf(os.Stderr, "  %-12s %s\n", p.name, p.what)
	}
}
