package attribute

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"math"
	"math/rand/v2"
	"net/http"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"bellrow/cmd/proof/estimate"
	"bellrow/hub"
	"bellrow/hub/access"
	"bellrow/hub/attribute"
	"bellrow/hub/link"
	"bellrow/hub/mem"
	"bellrow/hub/session"
	"bellrow/hub/show"
	"bellrow/hub/tuneup"
	"bellrow/node"
	"bellrow/node/capture"
	"bellrow/node/simulate"
	"bellrow/node/simulate/room"
	"bellrow/node/uplink"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// Hall is a row in a room with all that the program has between the players and
// the leader: each laptop runs a node, and joins a hub over a socket. Players
// sound when their page asks them to. The time is that of the stage, which goes
// on once every node has heard what was played.
type Hall struct {
	Row           // of those without a laptop, each plays once
	Mishap string // what befalls it, "" for nothing; clocks and sounds that come late only by the rules alone
}

// Figures of a hall; common practice, no source.
const (
	blockSeconds = 0.01
	// fastest is how many seconds of the stage go by in one at most: messages take
	// a few milliseconds of the stage then, as on a radio network.
	fastest = 8.0
	// latest block of a sound card that is read, seconds behind.
	cardLatency = 0.020
	// again is how long a player waits for an answer before the next try.
	againAfter = 2.5
	// hallSeconds ends a tune-up that does not end by itself.
	hallSeconds = 240.0
	hallJoin    = "K7M4QX"
	// fitBlocks go by while whose sound is whose is worked out: half a second, however
	// slow this machine is.
	fitBlocks = 50
)

// hallInstruments are what the recordings were played on.
var hallInstruments = map[string]instrument.ID{
	"horn": "horn_double", "trombone": "tenor_trombone_bbf", "trumpet": "trumpet_bb", "tuba": "tuba_bbb",
}

// HallTake is what became of a call.
type HallTake struct {
	Truth    []Played
	Notes    int // played in all
	Refused  int // chairs heard alone whose note itself was not believed
	Fits     []HallFit
	Readings []HallReading // that counted, of the call
	Seconds  float64
	Times    int           // that players played: stretches of sound between silences, by all, by a few or by one
	Most     int           // notes of whoever played most
	Done     bool          // the round ended
	Called   float64       // when, in seconds of the stage
	Log      []hub.Reading // of the call, whatever became of them
	Said     []string      // on the leader's page after each fit
	Played   [][]float64   // by chair: when each note began, in seconds of the stage
	round    hub.RoundID
	chairs   []hub.ChairID
}

// HallFit is what a together part of the round gave.
type HallFit struct {
	In  attribute.Input
	Res attribute.Result
}

// HallReading is one that counted, beside what was played. Fit is in which of the
// fits it was found, -1 for the chair's own laptop in turn.
type HallReading struct {
	Chair     int
	Fit       int
	Hz, Truth pitch.Hertz
	CI95      pitch.Cents
	Known     bool // whether the chair had played
}

// performer is a player before a laptop.
type performer struct {
	mu     sync.Mutex
	sound  []float64
	at     int     // next sample; negative before the entry
	on     bool    // sounds or is about to
	free   float64 // when the next note may begin
	first  float64 // how long after the first call the entry comes
	played []float64
}

// Read implements room.Stream.
func (p *performer) Read(dst []float64) {
	clear(dst)
	if !p.on {
		return
	}
	n := 0
	if p.at < 0 {
		n = min(len(dst), -p.at)
	}
	k := 0
	if n < len(dst) {
		k = copy(dst[n:], p.sound[p.at+n:])
	}
	p.at += n + k
	p.on = p.at < len(p.sound)
}

// card is a laptop's microphone. The stage hands it one block after another.
type card struct {
	info   capture.Info
	idle   chan struct{} // its node has taken the block before
	blocks chan capture.Block
	late   []capture.Block
	sample int64
}

func (c *card) Info() capture.Info { return c.info }
func (c *card) Close() error       { return nil }
func (c *card) Read(ctx context.Context) (capture.Block, error) {
	select {
	case c.idle <- struct{}{}:
	case <-ctx.Done():
		return capture.Block{}, ctx.Err()
	}
	select {
	case b := <-c.blocks:
		return b, nil
	case <-ctx.Done():
		return capture.Block{}, ctx.Err()
	}
}

// listener notes what every fit was asked and what came of it.
type listener struct {
	attribute.Fitter
	busy atomic.Bool
	mu   sync.Mutex
	fits []HallFit
}

func (l *listener) Fit(in attribute.Input) attribute.Result {
	l.busy.Store(true)
	defer l.busy.Store(false)
	res := l.Fitter.Fit(in)
	l.mu.Lock()
	defer l.mu.Unlock()
	l.fits = append(l.fits, HallFit{in, res})
	return res
}

// house is a hall at work.
type house struct {
	*stage
	row     Hall
	rng     *rand.Rand
	clock   *simulate.Clock
	begun   time.Time
	room    *room.Room
	players []*performer
	cards   []*card // nil without a laptop
	uplinks []*uplink.Uplink
	chairs  []hub.ChairID
	hub     *session.Session
	store   *mem.Store
	ears    *listener
	said    []string
	fitting int // blocks since the fit under way began
	notes   int
	refused int
}

// Play holds a call until everybody was heard.
func (h Hall) Play(ctx context.Context, notes []estimate.Note, log *slog.Logger) (*HallTake, error) {
	rng := rand.New(rand.NewPCG(h.Seed, 0x726f77))
	b := &house{row: h, rng: rng, stage: h.draw(notes, rng), ears: &listener{}, store: mem.New()}
	b.row.befall(b.stage)
	b.begun = time.Date(2026, 3, 2, 19, 0, 0, 0, time.UTC)
	b.clock = simulate.NewClock(b.begun)
	var streams []room.Stream
	for i, x := range b.sounds {
		p := &performer{sound: x, first: b.truth[i].On - firstEntry}
		b.players, streams = append(b.players, p), append(streams, p)
	}
	var err error
	if b.room, err = room.New(b.seats, streams); err != nil {
		return nil, err
	}
	ctx, cancel := context.WithCancel(ctx)
	var wg sync.WaitGroup
	defer wg.Wait()
	defer cancel()
	address, err := b.openHub(ctx, &wg, log)
	if err != nil {
		return nil, err
	}
	for i := range b.players {
		b.cards, b.uplinks, b.chairs = append(b.cards, nil), append(b.uplinks, nil), append(b.chairs, 0)
		if b.row.Laptops > 0 && i >= b.row.Laptops {
			continue
		}
		if err := b.openNode(ctx, &wg, i, address, log); err != nil {
			return nil, err
		}
		if err := b.joined(ctx, i); err != nil {
			return nil, err
		}
	}
	if err := b.arrange(ctx); err != nil {
		return nil, err
	}
	return b.perform(ctx)
}

// openHub starts the hub and its socket.
func (b *house) openHub(ctx context.Context, wg *sync.WaitGroup, log *slog.Logger) (address string, err error) {
	b.hub, err = session.New(ctx, session.Config{Store: b.store, Now: b.clock.Now, After: b.clock.After, Attributor: b.ears, Log: log, Order: hub.OrderByWorth})
	if err != nil {
		return "", err
	}
	guard, err := access.New(access.Config{JoinCode: hallJoin, NewChairs: len(b.players) + 1})
	if err != nil {
		return "", err
	}
	links, err := link.New(link.Config{Hub: b.hub, Access: guard, Log: log})
	if err != nil {
		return "", err
	}
	l, err := access.Open("127.0.0.1:0")
	if err != nil {
		return "", err
	}
	mux := http.NewServeMux()
	mux.Handle(proto.NodePath, links)
	server := access.NewServer(mux, log)
	wg.Go(func() { _ = server.Serve(access.Listen(l)) })
	wg.Go(func() { _ = b.hub.Run(ctx) })
	wg.Go(func() {
		<-ctx.Done()
		_ = errors.Join(links.Close(), server.Close())
	})
	return l.Addr().String(), nil
}

// openNode puts a laptop before chair i, with a clock of its own.
func (b *house) openNode(ctx context.Context, wg *sync.WaitGroup, i int, address string, log *slog.Logger) (err error) {
	at, err := proto.ParseLink(address)
	if err != nil {
		return err
	}
	skew, off := 1+1e-6*(100*b.rng.Float64()-50), time.Duration(1e9*3600*b.rng.Float64())
	now := func() time.Time {
		return b.begun.Add(off + time.Duration(float64(b.clock.Now().Sub(b.begun))*skew))
	}
	c := &card{info: capture.Info{Rate: rowRate, Name: "card", Live: true}, idle: make(chan struct{}), blocks: make(chan capture.Block)}
	c.late = make([]capture.Block, int(cardLatency/blockSeconds*b.rng.Float64()+0.5))
	u, err := uplink.New(uplink.Config{
		Chair: fmt.Sprint("Chair ", i+1), Instrument: hallInstruments[b.truth[i].note.Instrument], Device: "card", Rate: rowRate, Tracks: true,
		Join: hallJoin, Hub: at, NoMulticast: true, Now: now, Log: log,
	})
	if err != nil {
		return err
	}
	n, err := node.New(node.Config{Open: func(context.Context) (capture.Source, error) { return c, nil }, Uplink: u, Played: 900, Now: now, Log: log})
	if err != nil {
		return err
	}
	b.cards[i], b.uplinks[i] = c, u
	wg.Go(func() { u.Run(ctx) })
	wg.Go(func() { _ = n.Run(ctx) })
	return nil
}

// join is how long a laptop may take to join, in seconds of this machine.
const join = 30 * time.Second

// joined waits until the laptop of chair i has joined.
func (b *house) joined(ctx context.Context, i int) error {
	for by := time.Now().Add(join); ; {
		for _, c := range b.hub.Section().Chairs {
			if c.Name == fmt.Sprint("Chair ", i+1) || c.Label == fmt.Sprint("Chair ", i+1) {
				b.chairs[i] = c.ID
				return nil
			}
		}
		if time.Now().After(by) {
			return fmt.Errorf("attribute: laptop %d has not joined: %+v", i+1, b.uplinks[i].Status())
		}
		if err := b.pass(ctx, 1); err != nil {
			return err
		}
	}
}

// arrange seats the section as the players sit, and waits until the clocks have
// found one another.
func (b *house) arrange(ctx context.Context) error {
	sec := b.hub.Section()
	for i, id := range b.chairs {
		front := len(b.chairs)
		if front > mostInRow {
			front /= 2
		}
		for k := range sec.Chairs {
			if sec.Chairs[k].ID == id {
				sec.Chairs[k].Row, sec.Chairs[k].Place = i/front, i%front
			}
		}
	}
	if err := b.hub.Command(ctx, hub.Command{Do: hub.DoEdit, Section: &sec}); err != nil {
		return err
	}
	return b.pass(ctx, 300)
}

// seconds is the time on the stage.
func (b *house) seconds() float64 { return b.clock.Now().Sub(b.begun).Seconds() }

// pass lets blocks of time go by.
func (b *house) pass(ctx context.Context, blocks int) error {
	for range blocks {
		began := time.Now()
		for _, c := range b.cards {
			if c == nil {
				continue
			}
			select {
			case <-c.idle:
			case <-ctx.Done():
				return ctx.Err()
			}
		}
		b.clock.Pass(time.Duration(blockSeconds * float64(time.Second)))
		at := b.seconds()
		heard := make([][]float64, len(b.players))
		for i, c := range b.cards {
			m := b.seats.Mics[i]
			n := int((at-m.Start)*rowRate*(1+m.PPM*1e-6)) - b.taken(i)
			if c == nil {
				n = 0
			}
			heard[i] = make([]float64, max(0, n))
		}
		b.room.Read(heard)
		for i, c := range b.cards {
			if c == nil {
				continue
			}
			next := capture.Block{Samples: heard[i], First: c.sample}
			c.sample += int64(len(heard[i]))
			c.late = append(c.late, next)
			if next, c.late = c.late[0], c.late[1:]; len(next.Samples) == 0 {
				next = capture.Block{Samples: make([]float64, 1), First: next.First}
			}
			c.blocks <- next
		}
		time.Sleep(time.Duration(blockSeconds/fastest*1e9) - time.Since(began))
		b.fitting++
		for ; b.ears.busy.Load() && b.fitting > fitBlocks; time.Sleep(time.Millisecond) {
		}
		if !b.ears.busy.Load() {
			b.fitting = 0
		}
	}
	return nil
}

func (b *house) taken(i int) int {
	if b.cards[i] == nil {
		return 0
	}
	return int(b.cards[i].sample)
}

// call is what the leader asks for.
func (b *house) call() *hub.Call {
	c := &hub.Call{Kind: hub.CallNote, Note: b.root, Tones: map[hub.ChairID]pitch.Note{}, Together: true}
	if b.row.Kind == "chord" {
		c.Kind, c.Chord = hub.CallChord, b.chord
	}
	for i, id := range b.chairs {
		if id != 0 {
			c.Tones[id] = b.tones[i]
		}
	}
	return c
}

// known has everybody play a tuning note alone, and stand where they are believed
// to: what their laptops would have read is sent in their place.
func (b *house) known(ctx context.Context) error {
	if err := b.hub.Command(ctx, hub.Command{Do: hub.DoCall, Call: &hub.Call{Kind: hub.CallNote, Note: b.root}}); err != nil {
		return err
	}
	for range 20 * len(b.chairs) {
		if err := b.pass(ctx, 50); err != nil {
			return err
		}
		st := b.hub.Standing()
		if len(st.Round.Queue) == 0 {
			break
		}
		for _, c := range st.Chairs {
			i := slices.Index(b.chairs, c.ID)
			if i < 0 {
				continue
			}
			if v := b.uplinks[i].View(); len(c.Counted) > 0 && slices.Contains(st.Round.Queue, c.ID) {
				_ = b.hub.Command(ctx, hub.Command{Do: hub.DoSkip, Chair: c.ID})
			} else if v.Listen && len(c.Counted) == 0 {
				b.uplinks[i].Send(proto.Reading{Round: v.Round, Onset: b.seconds() - 0.3, Start: b.seconds() - 0.2, End: b.seconds(), Hz: v.Target.Shift(*b.truth[i].Believed), CI95: 1, Level: -25, Floor: -60, Settled: true, Played: 900})
			}
		}
	}
	return b.hub.Command(ctx, hub.Command{Do: hub.DoEnd})
}

// perform leads the call to its end.
func (b *house) perform(ctx context.Context) (*HallTake, error) {
	if b.row.Known {
		if err := b.known(ctx); err != nil {
			return nil, err
		}
	}
	if err := b.hub.Command(ctx, hub.Command{Do: hub.DoCall, Call: b.call()}); err != nil {
		return nil, err
	}
	round := b.hub.Standing().Round.Round.ID
	from := b.seconds()
	take := &HallTake{Truth: b.truth, Called: from, round: round, chairs: b.chairs}
	for b.seconds() < from+hallSeconds && !take.Done {
		if err := b.pass(ctx, 1); err != nil {
			return nil, err
		}
		b.answer()
		if int(b.seconds()/blockSeconds)%10 == 0 {
			take.Done = b.lead(ctx)
		}
	}
	take.Refused, take.Said = b.refused, b.said
	take.Seconds, take.Notes = b.seconds()-from, b.notes
	take.Fits = b.ears.fits
	take.Times, take.Most = b.times()
	return take, b.readings(ctx, take)
}

// times is how often the players have played: how many stretches of sound there
// were, with silence before each, and how many notes the one played who played most.
func (b *house) times() (times, most int) {
	type span struct{ on, off float64 }
	var spans []span
	for _, p := range b.players {
		most = max(most, len(p.played))
		for _, on := range p.played {
			spans = append(spans, span{on, on + float64(len(p.sound))/rowRate})
		}
	}
	slices.SortFunc(spans, func(a, b span) int { return cmp.Compare(a.on, b.on) })
	off := math.Inf(-1)
	for _, s := range spans {
		if s.on > off {
			times++
		}
		off = max(off, s.off)
	}
	return times, most
}

// answer lets everybody play who is asked to.
func (b *house) answer() {
	at := b.seconds()
	for i, p := range b.players {
		if p.on || at < p.free {
			continue
		}
		if b.uplinks[i] == nil { // plays with the row, once
			if p.sound != nil && len(p.played) == 0 {
				p.at, p.on = -int((0.2+p.first)*rowRate), true
				p.played = append(p.played, at+0.2+p.first)
			}
			continue
		}
		v := b.uplinks[i].View()
		if v.Phase != "play" || v.Round == 0 && v.Tracks == 0 {
			continue
		}
		wait := 0.3 + 0.3*b.rng.Float64()
		if len(p.played) == 0 {
			wait = 0.2 + p.first
		}
		if p.sound == nil { // does not play among the others
			p.free = at + 1e9
			continue
		}
		p.at, p.on = -int(wait*rowRate), true
		p.played = append(p.played, at+wait)
		p.free = at + wait + float64(len(p.sound))/rowRate + againAfter
		b.notes++
	}
}

// lead takes out who was read, for nothing is moved here, who was refused alone for
// the note itself, which is the same each time, and who never plays; it reports
// whether the round is over.
func (b *house) lead(ctx context.Context) bool {
	st := b.hub.Standing()
	if st.Round == nil {
		return true
	}
	if len(b.ears.fits) > len(b.said) {
		b.said = append(b.said, b.page(st))
	}
	for _, c := range st.Chairs {
		i := slices.Index(b.chairs, c.ID)
		quiet := i >= 0 && b.players[i].sound == nil && len(b.ears.fits) > 0 && slices.Contains(append([]hub.ChairID{st.Round.Asked}, st.Round.Beside...), c.ID)
		r := c.InRound
		refused := !st.Round.AllAtOnce() && r != nil && r.Heard == nil && r.Wire.Settled && r.Why != "" && !r.Why.Blameless()
		if i >= 0 && slices.Contains(st.Round.Queue, c.ID) && (quiet || refused || slices.ContainsFunc(c.Counted, func(r *hub.Reading) bool { return r.Round == st.Round.ID })) {
			if _ = b.hub.Command(ctx, hub.Command{Do: hub.DoSkip, Chair: c.ID}); refused {
				b.refused++
			}
		}
	}
	return len(st.Round.Queue) == 0
}

// page is what the leader's page says of the row, and of each chair still to be heard.
func (b *house) page(st tuneup.Standing) string {
	row := show.NewRow(st, 0, nil)
	said := row.Say
	for i, c := range row.Chairs {
		if st.Chairs[i].Unheard != "" {
			said += fmt.Sprintf(" | %d: %s", slices.Index(b.chairs, c.ID)+1, c.Words)
		}
	}
	return said
}

// readings lays what counted beside what was played.
func (b *house) readings(ctx context.Context, take *HallTake) error {
	for _, p := range b.players {
		take.Played = append(take.Played, p.played)
	}
	all, err := b.store.Readings(ctx, b.hub.Section().ID, b.begun)
	if err != nil {
		return err
	}
	for _, r := range all {
		if r.At.Sub(b.begun).Seconds() >= take.Called {
			take.Log = append(take.Log, r)
		}
	}
	for _, c := range b.hub.Standing().Chairs {
		i := slices.Index(b.chairs, c.ID)
		for _, r := range c.Counted {
			if r.Round != take.round {
				continue
			}
			h := HallReading{Chair: i, Fit: -1, Hz: r.Hz(), CI95: r.CI95()}
			m := b.seats.Mics[i]
			from, to := m.Start+r.Wire.Start/(1+m.PPM*1e-6), m.Start+r.Wire.End/(1+m.PPM*1e-6)
			if r.Heard != nil {
				for k, f := range take.Fits {
					for _, cr := range f.Res.Chairs {
						if hub.ChairID(cr.ID) == c.ID && cr.Hz == r.Heard.Hz {
							h.Fit, from, to = k, cr.From, cr.To
						}
					}
				}
			}
			p := b.truth[i]
			for _, on := range b.players[i].played {
				if end := on + float64(len(b.players[i].sound))/rowRate; from < end && to > on {
					p.On, h.Known = on, true
					h.Truth = p.Mean(max(from, on), min(to, end))
				}
			}
			take.Readings = append(take.Readings, h)
		}
	}
	return nil
}
