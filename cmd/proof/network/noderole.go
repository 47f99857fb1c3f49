package network

import (
	"bufio"
	"context"
	"flag"
	"fmt"
	"io"
	"log/slog"
	"math/rand/v2"
	"os"
	"os/signal"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"time"

	"bellrow/node/uplink"
	"bellrow/proto"
)

// runNodes runs several nodes in one process. Each sends readings at random
// moments and notes each in a journal once it is kept, until SIGTERM; then all
// wait until everything is acknowledged.
func runNodes(ctx context.Context, w io.Writer, args []string) error {
	fs := flag.NewFlagSet(roleNodes, flag.ContinueOnError)
	count := fs.Int("count", 1, "")
	first := fs.Int("first", 0, "")
	dir := fs.String("dir", "", "")
	every := fs.Duration("every", 300*time.Millisecond, "")
	address := fs.String("hub", "", "")
	join := fs.String("join", joinCode, "")
	if err := fs.Parse(args); err != nil {
		return err
	}
	stop, cancelStop := signal.NotifyContext(ctx, syscall.SIGTERM, os.Interrupt)
	defer cancelStop()
	running, cancel := context.WithCancel(ctx)
	defer cancel()
	var wait sync.WaitGroup
	errs := make(chan error, *count)
	for i := range *count {
		n := &trialNode{index: *first + i, dir: filepath.Join(*dir, strconv.Itoa(*first+i)), every: *every, join: *join, out: w}
		if err := n.open(*address); err != nil {
			return err
		}
		wait.Go(func() { n.uplink.Run(running) })
		go func() { errs <- n.play(stop, running) }()
	}
	wait.Go(func() { tell(running, w) })
	fmt.Fprintln(w, "ready")
	var err error
	for range *count {
		if e := <-errs; e != nil {
			err = e
		}
	}
	cancel()
	wait.Wait()
	return err
}

// trialNode is one node with its journal.
type trialNode struct {
	index   int
	dir     string
	every   time.Duration
	join    string
	uplink  *uplink.Uplink
	journal *os.File
	out     io.Writer
}

func (n *trialNode) open(address string) (err error) {
	c := uplink.Config{
		Chair: fmt.Sprintf("Player %d", n.index+1), Instrument: "trumpet_bb",
		Join: n.join, StateDir: n.dir,
		Log: slog.New(slog.NewTextHandler(n.out, nil)).With("node", n.index),
	}
	if address != "" {
		if c.Hub, err = proto.ParseLink(address); err != nil {
			return err
		}
	}
	if n.uplink, err = uplink.New(c); err != nil {
		return err
	}
	n.journal, err = os.OpenFile(filepath.Join(n.dir, "journal"), os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o600)
	return err
}

// drainWithin is how long a node waits at the end for what is left: the
// longest back-off and silence, several times.
const drainWithin = 90 * time.Second

// play sends until stop ends, then drains.
func (n *trialNode) play(stop, running context.Context) error {
	defer n.journal.Close()
	for {
		select {
		case <-stop.Done():
			ctx, cancel := context.WithTimeout(running, drainWithin)
			defer cancel()
			if err := n.uplink.Drain(ctx); err != nil {
				return fmt.Errorf("soak: node %d: %w; %+v", n.index, err, n.uplink.Status())
			}
			return nil
		case <-time.After(rand.N(2 * n.every)):
		}
		s := n.stamp()
		n.uplink.Send(proto.Reading{
			End: 1, Hz: 466.16, CI95: 1, Level: -20, Floor: -60, Settled: true, Played: s,
		})
		if _, err := fmt.Fprintln(n.journal, strconv.FormatFloat(s, 'g', -1, 64)); err != nil {
			return err
		}
	}
}

// stamp marks a reading as no other is: the node in the millions, and the
// time within a day to the 0.1 ms, which float64 holds exactly enough.
func (n *trialNode) stamp() float64 {
	day := time.Now().UnixMicro() / 100 % 864_000_000
	return float64(n.index)*1e5 + float64(day)/1e4
}

// journals returns every stamp that nodes have noted below dir.
func journals(dir string) (map[float64]bool, error) {
	paths, err := filepath.Glob(filepath.Join(dir, "*", "journal"))
	if err != nil {
		return nil, err
	}
	out := map[float64]bool{}
	for _, p := range paths {
		f, err := os.Open(p)
		if err != nil {
			return nil, err
		}
		lines := bufio.NewScanner(f)
		for lines.Scan() {
			s, err := strconv.ParseFloat(strings.TrimSpace(lines.Text()), 64)
			if err != nil {
				continue // the last line of a killed node
			}
			out[s] = true
		}
		f.Close()
	}
	return out, nil
}
