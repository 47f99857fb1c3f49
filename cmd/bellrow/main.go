// Bellrow tunes a brass section over the local network: settled readings from
// every player's laptop, one row for the leader, and slide moves in
// millimetres for everybody.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"

	"github.com/spf13/cobra"
)

func main() {
	cobra.MousetrapHelpText = "" // a double click is welcome
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	code := run(ctx, env{os.Stdin, os.Stdout, os.Stderr}, os.Args[1:])
	stop()
	os.Exit(code)
}
