package network

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// delivery is the trial of nothing lost, nothing doubled.
type delivery struct {
	out     io.Writer
	lan     *lan
	dir     string
	perHost int
	every   time.Duration
	random  *rand.Rand
	pace    float64 // stretches all pauses; 1 as a rule
	program string  // the real program to run as hub, empty for the role
	join    string

	hubHost string
	address int // last byte of the hub's address
	hub     *process
	hosts   []string
	nodes   []*process

	kills, nodeKills, cuts, moves, sets, freezes int
}

func runDelivery(ctx context.Context, w io.Writer, args []string) error {
	fs := flag.NewFlagSet("network delivery", flag.ContinueOnError)
	minutes := fs.Float64("minutes", 5, "how long readings are sent")
	hosts := fs.Int("hosts", 5, "node hosts")
	nodes := fs.Int("nodes", 20, "nodes in all")
	every := fs.Duration("every", 300*time.Millisecond, "mean time between readings of a node; a player gives one in some ten seconds")
	seed := fs.Uint64("seed", 1, "order of events")
	program := fs.String("program", "", "run this bellrow program as the hub")
	if err := fs.Parse(args); err != nil {
		return err
	}
	if why := missing(); why != "" {
		return errors.New("soak: " + why)
	}
	d, err := newDelivery(w, *hosts, *nodes, *every, *seed)
	if err != nil {
		return err
	}
	defer d.close()
	d.program = *program
	t, err := d.run(ctx, time.Duration(*minutes*float64(time.Minute)))
	if err != nil {
		return err
	}
	fmt.Fprintf(w, "%d nodes on %d hosts, %.1f min, hub killed %d times, node hosts killed %d times, links cut %d times, hub address changed %d times, clocks set %d times, laptops frozen %d times\n%v\n",
		*nodes, *hosts, *minutes, d.kills, d.nodeKills, d.cuts, d.moves, d.sets, d.freezes, t)
	return t.err()
}

func newDelivery(w io.Writer, hosts, nodes int, every time.Duration, seed uint64) (*delivery, error) {
	dir, err := os.MkdirTemp("", "bellrow-soak-")
	if err != nil {
		return nil, err
	}
	d := &delivery{out: w, dir: dir, perHost: (nodes + hosts - 1) / hosts, every: every,
		random: rand.New(rand.NewPCG(seed, 0)), pace: 1, address: 1, join: joinCode}
	if d.lan, err = newLAN(); err != nil {
		return nil, err
	}
	if d.hubHost, err = d.lan.host(d.cidr()); err != nil {
		d.close()
		return nil, err
	}
	for i := range hosts {
		ns, err := d.lan.host(fmt.Sprintf("10.77.0.%d/24", 100+i))
		if err != nil {
			d.close()
			return nil, err
		}
		if i%2 == 1 { // half of the hosts: these must find a hub that has moved by multicast DNS
			if err := d.lan.only4(ns); err != nil {
				d.close()
				return nil, err
			}
		}
		d.hosts = append(d.hosts, ns)
		d.nodes = append(d.nodes, nil)
	}
	return d, nil
}

func (d *delivery) cidr() string { return fmt.Sprintf("10.77.0.%d/24", d.address) }

// data is where the real program keeps its database, too.
func (d *delivery) data() string { return filepath.Join(d.dir, "hub", "bellrow.db") }

// clock is the file that says how far the hub's clock is out.
func (d *delivery) clock() string { return filepath.Join(d.dir, "clock") }

func (d *delivery) startHub() (err error) {
	if d.program == "" {
		d.hub, err = start(d.hubHost, roleHub, "-data", d.data(), "-clock", d.clock())
		return err
	}
	d.hub, err = launch(d.hubHost, "HOME="+d.dir, []string{d.program, "hub", "--data", filepath.Dir(d.data())})
	if err != nil || d.join != joinCode {
		return err
	}
	for range 500 { // the first start says the join code
		time.Sleep(20 * time.Millisecond)
		if _, after, ok := strings.Cut(d.hub.out.String(), "join code"); ok && strings.Contains(after, "\n") {
			_, err = fmt.Sscan(after, &d.join)
			return err
		}
	}
	return fmt.Errorf("soak: the hub does not say its join code: %s", d.hub.out)
}

func (d *delivery) startNodes(i int) (err error) {
	d.nodes[i], err = start(d.hosts[i], roleNodes, "-dir", filepath.Join(d.dir, "nodes"),
		"-first", fmt.Sprint(i*d.perHost), "-count", fmt.Sprint(d.perHost), "-every", d.every.String(), "-join", d.join)
	return err
}

// run sends readings for a while, with trouble at random, then lets everything
// settle and counts.
func (d *delivery) run(ctx context.Context, length time.Duration) (tally, error) {
	until := time.Now().Add(length)
	return d.through(ctx, func() (trouble, bool) {
		return usual[d.random.IntN(len(usual))], time.Now().Before(until)
	})
}

// through starts hub and nodes, makes one trouble after the other, lets
// everything settle, and counts.
func (d *delivery) through(ctx context.Context, next func() (trouble, bool)) (tally, error) {
	if err := d.startHub(); err != nil {
		return tally{}, err
	}
	for i := range d.nodes {
		if err := d.startNodes(i); err != nil {
			return tally{}, err
		}
	}
	for t, more := next(); more && ctx.Err() == nil; t, more = next() {
		if err := t(d, ctx); err != nil {
			return tally{}, err
		}
		d.pause(ctx, 500*time.Millisecond, 3*time.Second)
		if err := d.alive(); err != nil {
			return tally{}, err
		}
	}
	if err := ctx.Err(); err != nil {
		return tally{}, err
	}
	return d.finish(ctx)
}

// alive fails if a process ended that nobody killed.
func (d *delivery) alive() error {
	for i, p := range d.nodes {
		if !p.running() {
			return fmt.Errorf("soak: node host %d ended by itself: %s", i, p.out)
		}
	}
	if !d.hub.running() {
		return fmt.Errorf("soak: the hub ended by itself: %s", d.hub.out)
	}
	return nil
}

// finish clears the network, waits for the nodes to drain, and counts.
func (d *delivery) finish(ctx context.Context) (tally, error) {
	for _, ns := range append([]string{d.hubHost}, d.hosts...) {
		if err := d.lan.loss(ns, 0); err != nil {
			return tally{}, err
		}
	}
	ended := make(chan error)
	for _, p := range d.nodes {
		go func() { ended <- p.stop(drainWithin + 10*time.Second) }()
	}
	var err error
	for range d.nodes {
		err = errors.Join(err, <-ended)
	}
	if err != nil {
		return tally{}, err
	}
	if err := d.hub.stop(endWithin); err != nil {
		return tally{}, err
	}
	sent, err := journals(filepath.Join(d.dir, "nodes"))
	if err != nil {
		return tally{}, err
	}
	return count(ctx, d.data(), sent)
}

// trouble makes one thing go wrong, and most of them right again.
type trouble func(*delivery, context.Context) error

// usual is how often what goes wrong, in twelfths.
var usual = []trouble{
	crashHub, crashHub, crashHub, crashHub, crashNodes, cutLink, sleepNodes, moveHub, badRadio, badRadio, setHubClock, freeze,
}

func (d *delivery) pause(ctx context.Context, low, high time.Duration) {
	select {
	case <-ctx.Done():
	case <-time.After(time.Duration(d.pace * float64(low+time.Duration(d.random.Int64N(int64(high-low)))))):
	}
}

// crashHub kills the hub's process at any moment, also within a commit.
func crashHub(d *delivery, ctx context.Context) error {
	d.kills++
	d.hub.kill()
	d.pause(ctx, 100*time.Millisecond, 1500*time.Millisecond)
	return d.startHub()
}

// crashNodes kills the processes of one player host.
func crashNodes(d *delivery, ctx context.Context) error {
	d.nodeKills++
	i := d.random.IntN(len(d.hosts))
	d.nodes[i].kill()
	d.pause(ctx, 100*time.Millisecond, time.Second)
	return d.startNodes(i)
}

// cutLink is a cable or an access point that fails; nobody's own interface
// notices. It may well happen between a commit and its acknowledgement.
func cutLink(d *delivery, ctx context.Context) error {
	d.cuts++
	ns := append([]string{d.hubHost}, d.hosts...)[d.random.IntN(len(d.hosts)+1)]
	if err := d.lan.link(ns, false); err != nil {
		return err
	}
	d.pause(ctx, 500*time.Millisecond, 4*time.Second)
	return d.lan.link(ns, true)
}

// sleepNodes is a laptop that sleeps or leaves the Wi-Fi for a while.
func sleepNodes(d *delivery, ctx context.Context) error {
	d.cuts++
	i := d.random.IntN(len(d.hosts))
	if err := d.lan.bounce(d.hosts[i], false); err != nil {
		return err
	}
	d.pause(ctx, 500*time.Millisecond, 3*time.Second)
	return d.lan.bounce(d.hosts[i], true)
}

// moveHub gives the hub another address.
func moveHub(d *delivery, ctx context.Context) error {
	d.moves++
	from := d.cidr()
	d.address = 1 + d.address%50
	return d.lan.readdress(d.hubHost, from, d.cidr())
}

// setHubClock sets the hub's clock hours back or forth.
func setHubClock(d *delivery, _ context.Context) error {
	if d.program != "" {
		return nil // it has the machine's own clock
	}
	d.sets++
	return d.hub.setClock(d.clock(), time.Duration(d.random.Int64N(int64(20*time.Hour)))-10*time.Hour)
}

// freeze is a laptop whose lid is closed for a while, the hub's or a player's:
// nothing runs on it, and nothing tells the others. Above 15 s they notice.
func freeze(d *delivery, ctx context.Context) error {
	d.freezes++
	p := append([]*process{d.hub}, d.nodes...)[d.random.IntN(len(d.nodes)+1)]
	if err := p.cmd.Process.Signal(freezing); err != nil {
		return err
	}
	d.pause(ctx, 2*time.Second, 40*time.Second)
	return p.cmd.Process.Signal(thawing)
}

// badRadio loses 0, 10 or 30 % of what comes in at the hub and at one host.
func badRadio(d *delivery, ctx context.Context) error {
	return d.setLoss([]int{0, 10, 30}[d.random.IntN(3)])
}

func (d *delivery) setLoss(percent int) error {
	i := d.random.IntN(len(d.hosts))
	return errors.Join(d.lan.loss(d.hubHost, percent), d.lan.loss(d.hosts[i], percent))
}

func (d *delivery) close() {
	for _, p := range append([]*process{d.hub}, d.nodes...) {
		if p != nil && p.running() {
			p.kill()
		}
	}
	d.lan.close()
	os.RemoveAll(d.dir)
}
