package network

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"os"
	"os/signal"
	"runtime"
	"runtime/debug"
	"runtime/pprof"
	"syscall"

	"bellrow/hub/access"
	"bellrow/hub/announce"
	"bellrow/hub/link"
	"bellrow/hub/session"
	"bellrow/hub/sqlite"
	"bellrow/proto"
)

// joinCode is the code of all hubs in trials.
const joinCode = "K7M4QX"

// runHub is a hub with storage and announcement but without pages, as cmd
// wires it.
func runHub(ctx context.Context, w io.Writer, args []string) error {
	fs := flag.NewFlagSet(roleHub, flag.ContinueOnError)
	listen := fs.String("listen", ":7440", "")
	data := fs.String("data", "", "")
	maxNodes := fs.Int("max", 0, "")
	announced := fs.Bool("announce", true, "")
	screens := fs.Bool("screens", false, "")
	section := fs.String("section", "", "")
	clockFile := fs.String("clock", "", "")
	older := fs.Bool("older", true, "")
	chairs := fs.Int("chairs", 10000, "")
	leaderKey := fs.String("leader", "", "")
	leads := fs.Bool("lead", false, "")
	profile := fs.String("profile", os.Getenv("BELLROW_SOAK_PROFILE"), "")
	if err := fs.Parse(args); err != nil {
		return err
	}
	if *profile != "" {
		f, err := os.Create(*profile)
		if err != nil {
			return err
		}
		defer f.Close()
		if err := pprof.StartCPUProfile(f); err != nil {
			return err
		}
		defer pprof.StopCPUProfile()
	}
	debug.SetGCPercent(30) // as bellrow hub does
	ctx, stop := signal.NotifyContext(ctx, syscall.SIGTERM, os.Interrupt)
	defer stop()
	log := slog.New(slog.NewTextHandler(w, &slog.HandlerOptions{Level: slog.LevelWarn}))

	store, err := sqlite.Open(ctx, *data)
	if err != nil {
		return err
	}
	defer store.Close()
	clock, err := openClock(*clockFile)
	if err != nil {
		return err
	}
	h, err := session.New(ctx, session.Config{Store: store, Section: *section, Log: log, Now: clock.now})
	if err != nil {
		return err
	}
	guard, err := access.New(access.Config{JoinCode: joinCode, LeaderKey: *leaderKey, Rules: access.Rules{Older: *older}, NewChairs: *chairs})
	if err != nil {
		return err
	}
	links, err := link.New(link.Config{Hub: h, Access: guard, MaxNodes: *maxNodes, Log: log})
	if err != nil {
		return err
	}
	l, err := access.Open(*listen)
	if err != nil {
		return err
	}
	port := l.Addr().(*net.TCPAddr).Port
	mux := http.NewServeMux()
	mux.Handle(proto.NodePath, links)
	if *screens {
		if err := addScreens(mux, h, guard); err != nil {
			return err
		}
	}
	server := access.NewServer(mux, log)
	loops := make(chan error, 4)
	n := 2
	go func() { loops <- h.Run(ctx) }()
	go func() { loops <- clock.follow(ctx) }()
	if *leads {
		n++
		go func() { loops <- lead(ctx, h, log) }()
	}
	if *announced {
		a, err := announce.New(announce.Config{Hub: h.ID(), Name: h.Section().Name, Port: port})
		if err != nil {
			return err
		}
		n++
		go func() { loops <- a.Run(ctx) }()
	}
	go server.Serve(access.Listen(l))
	fmt.Fprintf(w, "ready %d\n", port)
	tell(ctx, w)
	err = errors.Join(links.Close(), server.Close())
	for range n {
		<-loops
	}
	return err
}

// tell prints the number of goroutines and the live heap in kB whenever it is
// asked by SIGUSR1, until ctx ends.
func tell(ctx context.Context, w io.Writer) {
	ask := make(chan os.Signal, 1)
	signal.Notify(ask, askStanding)
	defer signal.Stop(ask)
	for {
		select {
		case <-ctx.Done():
			return
		case <-ask:
			runtime.GC()
			var m runtime.MemStats
			runtime.ReadMemStats(&m)
			fmt.Fprintf(w, "now %d %d\n", runtime.NumGoroutine(), m.HeapAlloc>>10)
		}
	}
}
