package network

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"bellrow/hub/link"
)

// loadResult is what a hub needed for some nodes and screens.
type loadResult struct {
	nodes, screens int
	seconds        float64
	messages       int
	cpu            float64 // share of one core
	rss            int     // kB
	ping, ack      []time.Duration
	rows           int
	refused        int64 // by a full hub, of those who knocked meanwhile
}

func (r loadResult) String() string {
	ms := func(d time.Duration) float64 { return float64(d.Microseconds()) / 1000 }
	return fmt.Sprintf("%5d %7d %8.0f %7.1f %% %6.1f MB  %7.2f %7.2f %7.2f   %7.2f %7.2f   %8.1f  %6d",
		r.nodes, r.screens, float64(r.messages)/r.seconds, 100*r.cpu, float64(r.rss)/1024,
		ms(quantile(r.ping, 0.5)), ms(quantile(r.ping, 0.99)), ms(quantile(r.ping, 1)),
		ms(quantile(r.ack, 0.5)), ms(quantile(r.ack, 0.99)), float64(r.rows)/r.seconds/float64(max(r.screens, 1)), r.refused)
}

const loadHeader = "nodes screens    msg/s   CPU of 1 core  RSS      ping p50     p99     max   ack p50     p99   rows/s each  refused"

func runLoad(ctx context.Context, w io.Writer, args []string) error {
	fs := flag.NewFlagSet("network load", flag.ContinueOnError)
	nodes := fs.String("nodes", "30,120,250,500,1000", "numbers of nodes, one run each")
	screens := fs.Int("screens", 10, "viewers of the row")
	seconds := fs.Int("seconds", 20, "length of each run")
	if err := fs.Parse(args); err != nil {
		return err
	}
	fmt.Fprintln(w, loadHeader)
	for s := range strings.SplitSeq(*nodes, ",") {
		n, err := strconv.Atoi(s)
		if err != nil {
			return fmt.Errorf("soak: nodes %q, need numbers", s)
		}
		r, err := load(ctx, n, *screens, *seconds)
		if err != nil {
			return err
		}
		fmt.Fprintln(w, r)
	}
	return nil
}

// messageEvery is how often each node speaks.
const messageEvery = 200 * time.Millisecond

// startedHub starts a hub in a process of its own, on loopback, and returns it
// with its address.
func startedHub(dir string, maxNodes int, more ...string) (*process, string, error) {
	p, err := start("", roleHub, append([]string{"-data", filepath.Join(dir, "hub.db"), "-listen", "127.0.0.1:0",
		"-max", fmt.Sprint(maxNodes), "-announce=false", "-screens"}, more...)...)
	if err != nil {
		return nil, "", err
	}
	for range 200 {
		var port int
		if _, err := fmt.Sscanf(p.out.String(), "ready %d", &port); err == nil {
			return p, fmt.Sprintf("127.0.0.1:%d", port), nil
		}
		if !p.running() {
			break
		}
		time.Sleep(20 * time.Millisecond)
	}
	p.kill()
	return nil, "", fmt.Errorf("soak: the hub did not start: %s", p.out)
}

// knockEvery is a quarter of what a laptop waits after a refusal (node/uplink).
const knockEvery = 15 * time.Second

// knock tries to join a full hub again and again, as laptops do, and returns
// how often it was refused.
func knock(ctx context.Context, address string, n int) (refused int64) {
	for ctx.Err() == nil {
		p, err := joinOpenly(address, n)
		if err == nil {
			p.ws.Close()
		} else if ctx.Err() == nil {
			refused++
		}
		select {
		case <-ctx.Done():
		case <-time.After(knockEvery):
		}
	}
	return refused
}

// load plays with as many nodes as a section has chairs; those beyond knock
// meanwhile.
func load(ctx context.Context, nodes, screens, seconds int) (loadResult, error) {
	r := loadResult{nodes: nodes, screens: screens}
	dir, err := os.MkdirTemp("", "bellrow-load-")
	if err != nil {
		return r, err
	}
	defer os.RemoveAll(dir)
	hub, address, err := startedHub(dir, nodes)
	if err != nil {
		return r, err
	}
	defer hub.kill()

	players := make([]*player, min(nodes, link.MaxChairs))
	for i := range players {
		if players[i], err = newPlayer(address, i); err != nil {
			return r, err
		}
		go players[i].listen() // ends with the hub
	}
	var stops []func() int
	for range screens {
		stop, err := watch(address)
		if err != nil {
			return r, err
		}
		stops = append(stops, stop)
	}
	if err := ctx.Err(); err != nil {
		return r, err
	}
	before, err := usageOf(hub.cmd.Process.Pid)
	if err != nil {
		return r, err
	}
	from := time.Now()
	each := int(time.Duration(seconds) * time.Second / messageEvery)
	var wait sync.WaitGroup
	var refused atomic.Int64
	playing, over := context.WithTimeout(ctx, time.Duration(seconds)*time.Second)
	defer over()
	for i := len(players); i < nodes; i++ {
		wait.Go(func() {
			time.Sleep(knockEvery * time.Duration(i-len(players)) / time.Duration(nodes-len(players)))
			refused.Add(knock(playing, address, i))
		})
	}
	errs := make([]error, len(players))
	for i, p := range players {
		wait.Go(func() {
			// Players do not play in step.
			time.Sleep(messageEvery * time.Duration(i) / time.Duration(len(players)))
			errs[i] = p.play(from, messageEvery, each)
		})
	}
	wait.Wait()
	r.seconds = time.Since(from).Seconds()
	after, err := usageOf(hub.cmd.Process.Pid)
	if err := errors.Join(append(errs, err)...); err != nil {
		return r, err
	}
	r.messages, r.refused = len(players)*each, refused.Load()
	r.cpu = (after.cpu - before.cpu).Seconds() / r.seconds
	r.rss = after.top
	for _, p := range players {
		left := p.settle(10 * time.Second)
		p.mu.Lock()
		r.ping = append(r.ping, p.times...)
		r.ack = append(r.ack, p.acks...)
		p.mu.Unlock()
		if left > 0 {
			return r, fmt.Errorf("soak: %d messages of a node were not answered", left)
		}
		p.ws.Close()
	}
	for _, stop := range stops {
		r.rows += stop()
	}
	return r, hub.stop(endWithin)
}
