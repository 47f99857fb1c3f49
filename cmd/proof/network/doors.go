package network

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"
)

// doorsResult is what one flood did to the others.
type doorsResult struct {
	kind        string
	quiet       [2]time.Duration // p50 and p99 of the honest nodes' pings before
	under       [2]time.Duration // and meanwhile
	lost        int              // honest nodes that lost their connection
	worst       map[string]time.Duration
	rss, before int     // kB
	cpu         float64 // share of one core
	said        string  // by the flood
}

func (r doorsResult) String() string {
	ms := func(d time.Duration) float64 { return float64(d.Microseconds()) / 1000 }
	return fmt.Sprintf("%-16s %5.1f %6.1f %6.1f %6.1f %5d %9.0f %8.0f %8.0f %8.0f %6.1f %6.1f %5.0f%%  %s", r.kind, ms(r.quiet[0]), ms(r.quiet[1]), ms(r.under[0]), ms(r.under[1]), r.lost,
		ms(r.worst["fresh node"]), ms(r.worst["leader's page"]), ms(r.worst["here"]), ms(r.worst["wall"]),
		float64(r.before)/1024, float64(r.rss)/1024, 100*r.cpu, r.said)
}

const doorsHeader = "flood    p50, p99 ms before           while  lost  fresh ms leader ms   here ms  wall ms  RSS MB  while  core"

// Where the hosts of the trial are. All of a local network is one IPv6 /64.
const (
	hubAt      = "10.79.1.1"
	honestAt   = "10.79.1.2"
	floodAt    = "10.79.1.66"
	hubAt6     = "fd79::1"
	leaderName = "the-leader's-key-of-this-trial"
)

// runDoors floods a hub from one laptop without the code, in every way it
// knows, while honest nodes play, fresh ones join, and the leader looks at the
// row.
func runDoors(ctx context.Context, w io.Writer, args []string) error {
	fs := flag.NewFlagSet("network doors", flag.ContinueOnError)
	only := fs.String("only", "", "one kind of flood")
	length := fs.Duration("for", 12*time.Second, "length of each flood")
	if err := fs.Parse(args); err != nil {
		return err
	}
	if why := missing(); why != "" {
		return errors.New("soak: " + why)
	}
	kinds := slices.Sorted(maps.Keys(floods))
	apart.Store(true)
	var failed error
	if *only == "" || *only == "posers" {
		slowest, hellos, codes, err := posing(ctx, 250, 5)
		if err == nil && codes > 0 {
			err = errors.New("soak: a false hub was sent the code")
		}
		failed = err
		fmt.Fprintf(w, "false hubs, 250 dead and 4 that want the code: 5 fresh nodes joined within %d ms each; %d began with a false one, %d sent it a code\n",
			slowest.Milliseconds(), hellos, codes)
		if *only != "" {
			return failed
		}
	}
	if *only != "" {
		kinds = []string{*only}
	}
	fmt.Fprintln(w, doorsHeader)
	for _, k := range kinds {
		for _, many := range []bool{false, true} {
			r, err := doors(ctx, k, many, *length)
			if err != nil {
				failed = errors.Join(failed, fmt.Errorf("%s: %w", r.kind, err))
			}
			fmt.Fprintln(w, r)
		}
	}
	return failed
}

// doors runs one flood, from three addresses or from three hundred.
func doors(ctx context.Context, kind string, many bool, length time.Duration) (r doorsResult, err error) {
	r = doorsResult{kind: kind, worst: map[string]time.Duration{}}
	l, err := newLAN()
	if err != nil {
		return r, err
	}
	defer l.close()
	home, err := l.host(hubAt + "/24")
	if err != nil {
		return r, err
	}
	honest, err := l.host(honestAt + "/24")
	if err != nil {
		return r, err
	}
	fresh, err := l.host("10.79.1.3/24")
	if err != nil {
		return r, err
	}
	bad, err := l.host(floodAt + "/24")
	if err != nil {
		return r, err
	}
	from, target := []string{floodAt}, hubAt
	for i := range 2 {
		from = append(from, fmt.Sprintf("10.79.1.%d", 67+i))
		err = errors.Join(err, run("ip", "-n", bad, "addr", "add", from[i+1]+"/24", "dev", "lan"))
	}
	if many {
		r.kind, from, target = kind+", many", nil, hubAt6
		err = errors.Join(run("ip", "-n", home, "addr", "add", hubAt6+"/64", "dev", "lan", "nodad"), run("ip", "-n", honest, "addr", "add", "fd79::2/64", "dev", "lan", "nodad"),
			run("ip", "-n", fresh, "addr", "add", "fd79::3/64", "dev", "lan", "nodad"))
		var batch strings.Builder
		for i := range 300 {
			from = append(from, fmt.Sprintf("fd79::66:%x", i+1))
			fmt.Fprintf(&batch, "addr add %s/64 dev lan nodad\n", from[i])
		}
		err = errors.Join(err, runWith(batch.String(), "ip", "-n", bad, "-batch", "-"))
	}
	dir, derr := os.MkdirTemp("", "bellrow-doors-")
	if err = errors.Join(err, derr); err != nil {
		return r, err
	}
	defer os.RemoveAll(dir)
	hub, err := start(home, roleHub, "-data", filepath.Join(dir, "hub.db"), "-screens", "-older=false", "-chairs=0", "-leader", leaderName)
	if err != nil {
		return r, err
	}
	defer hub.kill()
	if err := ready(hub); err != nil {
		return r, err
	}
	if strings.Contains(target, ":") {
		target = "[" + target + "]"
	}
	return r, r.measure(ctx, hub, [4]string{home, honest, fresh, bad}, target+":7440", strings.Join(from, ","), length)
}

// ready waits until a hub listens.
func ready(hub *process) error {
	for range 500 {
		if strings.Contains(hub.out.String(), "ready ") {
			return nil
		}
		if !hub.running() {
			break
		}
		time.Sleep(20 * time.Millisecond)
	}
	return fmt.Errorf("soak: the hub did not start: %s", hub.out)
}

func (r *doorsResult) measure(ctx context.Context, hub *process, hosts [4]string, target, from string, length time.Duration) error {
	home, honest, fresh, bad := hosts[0], hosts[1], hosts[2], hosts[3]
	pings, err := start(honest, rolePings, "-hub", hubAt+":7440", "-quiet", "4s", "-under", (length - 3*time.Second).String())
	if err != nil {
		return err
	}
	defer pings.kill()
	for range 400 {
		if strings.Contains(pings.out.String(), "quiet|") || !pings.running() {
			break
		}
		time.Sleep(25 * time.Millisecond)
	}
	before, err := usageOf(hub.cmd.Process.Pid)
	if err != nil {
		return err
	}
	attack, err := startApart(bad, roleFlood, "-kind", strings.Split(r.kind, ",")[0], "-target", target, "-from", from, "-for", length.String())
	if err != nil {
		return err
	}
	defer attack.kill()
	time.Sleep(2 * time.Second) // it has all it can get
	began := time.Now()
	local, err := start(home, roleGuest, "-hub", "127.0.0.1:7440", "-leader", leaderName)
	if err != nil {
		return err
	}
	guest, err := start(fresh, roleGuest, "-hub", hubAt+":7440", "-leader", leaderName, "-joins", "3")
	if err != nil {
		return err
	}
	err = errors.Join(ended(local, 60*time.Second), ended(guest, 60*time.Second))
	after, uerr := usageOf(hub.cmd.Process.Pid)
	r.cpu = (after.cpu - before.cpu).Seconds() / (time.Since(began).Seconds() + 2)
	r.before, r.rss = before.rss, after.rss
	err = errors.Join(err, uerr, ended(pings, time.Minute), ended(attack, time.Minute))
	if os.Getenv("BELLROW_SOAK_SAY") != "" {
		fmt.Fprintln(os.Stderr, guest.out)
	}
	r.read(local.out.String(), "here")
	r.read(guest.out.String(), "")
	r.read(pings.out.String(), "")
	r.said = strings.TrimPrefix(strings.TrimSpace(attack.out.String()), "flood ")
	return err
}

// read takes figures from what a role printed. The leader's page on the hub's
// own laptop goes under the name here.
func (r *doorsResult) read(text, here string) {
	for line := range strings.Lines(text) {
		f := strings.Split(strings.TrimSpace(line), "|")
		switch {
		case len(f) == 3 && f[0] == "guest":
			d, _ := time.ParseDuration(f[2])
			if here != "" && f[1] == "leader's page" {
				r.worst[here] = d
			} else if here == "" {
				r.worst[f[1]] = d
			}
		case len(f) == 3 && (f[0] == "quiet" || f[0] == "under"):
			p50, _ := time.ParseDuration(f[1])
			p99, _ := time.ParseDuration(f[2])
			if r.under = [2]time.Duration{p50, p99}; f[0] == "quiet" {
				r.quiet = r.under
			}
		case len(f) == 2 && f[0] == "lost":
			r.lost, _ = strconv.Atoi(f[1])
		}
	}
}

// ended waits for a process to end by itself.
func ended(p *process, patience time.Duration) error {
	select {
	case <-p.done:
		if !p.cmd.ProcessState.Success() {
			return fmt.Errorf("soak: %v: %s", p.cmd.ProcessState, p.out)
		}
		return nil
	case <-time.After(patience):
		return errors.New("soak: a process did not end in time")
	}
}

// runPings keeps honest nodes connected and prints the p99 of their pings
// before a flood and during it, and how many lost their connection.
func runPings(ctx context.Context, w io.Writer, args []string) error {
	fs := flag.NewFlagSet(rolePings, flag.ContinueOnError)
	address := fs.String("hub", "", "")
	quiet := fs.Duration("quiet", 4*time.Second, "")
	under := fs.Duration("under", 8*time.Second, "")
	if err := fs.Parse(args); err != nil {
		return err
	}
	var players []*player
	for i := range 6 {
		p, err := newProvenPlayer(*address, i)
		if err != nil {
			return err
		}
		go p.listen()
		players = append(players, p)
	}
	for _, phase := range []struct {
		name   string
		length time.Duration
	}{{"quiet", *quiet}, {"under", *under}} {
		over := make(chan struct{})
		time.AfterFunc(phase.length, func() { close(over) })
		times := pingAll(players, over)
		fmt.Fprintf(w, "%s|%v|%v\n", phase.name, quantile(times, 0.5), quantile(times, 0.99))
	}
	lost := 0
	for _, p := range players {
		p.mu.Lock()
		if p.ended != nil {
			lost++
		}
		p.mu.Unlock()
	}
	fmt.Fprintf(w, "lost|%d\n", lost)
	return nil
}
