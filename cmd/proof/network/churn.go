package network

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"strings"
	"sync"
	"time"
)

// standing is a hub's memory and goroutines at some moment.
type standing struct {
	visits     int // connections so far
	readings   int // acknowledged so far
	goroutines int
	heap       int // kB that live
	rss        int // kB
}

func (s standing) String() string {
	after := ""
	switch {
	case s.visits > 0:
		after = fmt.Sprintf("%7d visits: ", s.visits)
	case s.readings > 0:
		after = fmt.Sprintf("%7d readings: ", s.readings)
	}
	return after + fmt.Sprintf("%3d goroutines, live heap %6.1f MB, RSS %6.1f MB", s.goroutines, float64(s.heap)/1024, float64(s.rss)/1024)
}

func runChurn(ctx context.Context, w io.Writer, args []string) error {
	fs := flag.NewFlagSet("network churn", flag.ContinueOnError)
	minutes := fs.Float64("minutes", 20, "how long")
	nodes := fs.Int("nodes", 60, "nodes that come and go together")
	samples := fs.Int("samples", 10, "lines of the table")
	messages := fs.Int("messages", 20, "messages of each visit; from the 8th on one is a reading, which the hub keeps")
	if err := fs.Parse(args); err != nil {
		return err
	}
	all, err := churn(ctx, *nodes, *messages, time.Duration(*minutes*float64(time.Minute)), *samples)
	for _, s := range all {
		fmt.Fprintln(w, s)
	}
	return err
}

// churn lets nodes and screens come, play a little, and go, again and again,
// and looks at the hub in between.
func churn(ctx context.Context, nodes, messages int, length time.Duration, samples int) ([]standing, error) {
	dir, err := os.MkdirTemp("", "bellrow-churn-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	hub, address, err := startedHub(dir, nodes)
	if err != nil {
		return nil, err
	}
	defer hub.kill()
	var all []standing
	visits := 0
	for n := range samples {
		for first, until := true, time.Now().Add(length/time.Duration(samples)); first || time.Now().Before(until); first = false {
			if err := ctx.Err(); err != nil {
				return all, err
			}
			if err := visit(address, nodes, messages); err != nil {
				return all, err
			}
			visits += nodes
		}
		s, err := look(hub, n+1)
		if err != nil {
			return all, err
		}
		s.visits = visits
		all = append(all, s)
	}
	return all, nil
}

// visit is one coming and going.
func visit(address string, nodes, messages int) error {
	var wait sync.WaitGroup
	errs := make([]error, nodes)
	for i := range nodes {
		wait.Go(func() { errs[i] = callIn(address, i, messages) })
	}
	wait.Wait()
	return errors.Join(errs...)
}

// callIn is one node's or screen's short stay.
func callIn(address string, i, messages int) error {
	if i%10 == 9 {
		stop, err := watch(address)
		if err != nil {
			return err
		}
		time.Sleep(100 * time.Millisecond)
		stop()
		return nil
	}
	p, err := newPlayer(address, i)
	if err != nil {
		return err
	}
	ended := make(chan struct{})
	go func() { defer close(ended); p.listen() }()
	err = p.play(time.Now(), 10*time.Millisecond, messages)
	p.ws.Close()
	<-ended
	return err
}

// look asks the hub how it stands, once the last guests are gone.
func look(hub *process, times int) (standing, error) {
	time.Sleep(500 * time.Millisecond)
	if err := hub.cmd.Process.Signal(askStanding); err != nil {
		return standing{}, err
	}
	for range 200 {
		time.Sleep(20 * time.Millisecond)
		said := strings.Split(hub.out.String(), "now ")
		if len(said) <= times || !strings.Contains(said[times], "\n") {
			continue
		}
		var s standing
		if _, err := fmt.Sscanf(said[times], "%d %d", &s.goroutines, &s.heap); err != nil {
			return standing{}, err
		}
		u, err := usageOf(hub.cmd.Process.Pid)
		s.rss = u.rss
		return s, err
	}
	return standing{}, fmt.Errorf("soak: the hub does not say how it stands: %s", hub.out)
}
