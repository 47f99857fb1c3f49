package network

import (
	"context"
	"fmt"
	"io"

	"bellrow/node/find"
)

// runFind looks for hubs once and prints them.
func runFind(ctx context.Context, w io.Writer, _ []string) error {
	hubs, err := find.Browse(ctx, find.Interfaces())
	if err != nil {
		return err
	}
	for _, h := range hubs {
		fmt.Fprintf(w, "%s|%s|%v\n", h.ID, h.Name, h.Addresses)
	}
	return nil
}
