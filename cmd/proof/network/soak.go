// Package network tries the network out: delivery of readings over bad networks
// between real hosts, hostile clients, load, and many comings and goings. It is for developers:
//
//	go run ./cmd/proof network delivery -minutes 5
//	go run ./cmd/proof network load
//	go run ./cmd/proof network hostile
//	go run ./cmd/proof network doors
//	go run ./cmd/proof network churn -minutes 20
//	go run ./cmd/proof network rehearsal -minutes 40
//
// Hosts are network namespaces joined by a bridge, each with processes of its
// own, so that a hub can be killed and a link taken down without a rehearsal
// room. That needs root, ip and nft (Linux). The processes are this same
// program in other roles. Its tests run short versions.
package network

import (
	"context"
	"errors"
	"fmt"
	"io"
)

// Run runs the trial named by the first argument.
func Run(ctx context.Context, w io.Writer, args []string) error {
	if len(args) == 0 {
		return errors.New("soak: no trial named, need delivery, load, churn, rehearsal, hostile or doors")
	}
	trials := map[string]func(context.Context, io.Writer, []string) error{
		"delivery":  runDelivery,
		"load":      runLoad,
		"hostile":   runHostile,
		"doors":     runDoors,
		"churn":     runChurn,
		"rehearsal": runRehearsal,
		// Roles of the processes that the trials start.
		roleHub:    runHub,
		roleNodes:  runNodes,
		roleFind:   runFind,
		roleFlood:  runFlood,
		roleGuest:  runGuest,
		rolePings:  runPings,
		rolePosers: runPosers,
	}
	trial := trials[args[0]]
	if trial == nil {
		return fmt.Errorf("soak: trial %q, need delivery, load, churn, rehearsal, hostile or doors", args[0])
	}
	return trial(ctx, w, args[1:])
}
