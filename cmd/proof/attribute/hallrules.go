package attribute

import (
	"cmp"
	"context"
	"fmt"
	"io"
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"time"

	"bellrow/cmd/proof/estimate"
	"bellrow/hub"
	"bellrow/hub/attribute"
	"bellrow/hub/intonation"
	"bellrow/hub/tuneup"
	"bellrow/node/partials"
	"bellrow/node/simulate/room"
	"bellrow/proto"
	"bellrow/proto/pitch"
	"bellrow/proto/track"
)

// What may befall a row; who is hit is drawn.
const (
	playsThird  = "third"  // a major third above the called note
	playsOctave = "octave" // an octave above it
	neverPlay   = "silent" // two never play
	deadMic     = "dead"   // a laptop's microphone hears nothing
	wrongClock  = "clock"  // a laptop's sound comes 0.2 s late, and nobody knows
	clockJumps  = "jump"   // a laptop's clock jumps by two seconds while all hold
	stranger    = "stranger"
	halfLaptops = "half" // only half of the row have a laptop
)

var mishaps = []string{"", playsThird, playsOctave, neverPlay, deadMic, wrongClock, clockJumps, stranger, halfLaptops}

// befall has a mishap befall a row, and tells who is hit.
func (h *Hall) befall(st *stage) (hit []int) {
	rng := rand.New(rand.NewPCG(h.Seed, 0x6869))
	who := rng.Perm(h.Players)[:2]
	sharper := func(ratio float64) []int {
		p := &st.truth[who[0]]
		if p.Silent() {
			return nil
		}
		p.Ratio *= ratio
		x := slowed(p.note, p.Ratio, float64(len(p.note.Samples))/48000-0.05)
		for i := range x {
			x[i] *= math.Pow(10, -30.0/20) / math.Sqrt2
		}
		st.sounds[who[0]], p.Off = x, p.On+float64(len(x))/rowRate
		return who[:1]
	}
	switch h.Mishap {
	case playsThird:
		return sharper(math.Exp2(4.0 / 12))
	case playsOctave:
		return sharper(2)
	case neverPlay:
		for _, i := range who {
			st.sounds[i], st.truth[i].Off = nil, st.truth[i].On
		}
		return who
	case deadMic:
		st.seats.Mics[who[0]].GainDB = -200
		return who[:1]
	case wrongClock, clockJumps:
		return who[:1]
	case stranger:
		h.Laptops = h.Players - 1
	case halfLaptops:
		h.Laptops = h.Players / 2
	}
	return nil
}

// troupe is a row before its laptops and the hub's rules, without nodes, sockets and
// the time of this machine: quicker than a hall, and the same each time. A laptop
// hears the sum of what it hears of each player alone; alone each is read rightly.
type troupe struct {
	*stage
	row    Hall
	rng    *rand.Rand
	hit    []int
	alone  [][][]float64 // by laptop and player, from the player's entry on
	state  *tuneup.State
	now    float64
	wake   time.Time
	fit    *tuneup.Fit
	fitter attribute.Fitter
	chairs []hub.ChairID // of those with a laptop
	late   []float64     // by how much each clock is off, seconds
	seq    uint64
	played []int
	took   *rulesTake
}

// rulesTake is what became of calls by the rules alone.
type rulesTake struct {
	rows, playing, first, few, turns, over, times, most, notes int
	wrong, hitWrong, ghosts                                    int
	seconds                                                    float64
	sizes                                                      map[int]*groupTake // by how many were asked, without the whole row
	why                                                        map[string]int     // what the leader was told of who is hit
	help                                                       map[string]int
}

// groupTake is times of sounding of so many.
type groupTake struct{ times, playing, read int }

var rulesBegin = time.Date(2026, 3, 2, 19, 0, 0, 0, time.UTC)

// assemble draws a row and records each of its players alone.
func (h Hall) assemble(notes []estimate.Note, took *rulesTake) (*troupe, error) {
	rng := rand.New(rand.NewPCG(h.Seed, 0x726f77))
	t := &troupe{rng: rng, stage: h.draw(notes, rng), took: took, played: make([]int, h.Players)}
	t.hit = h.befall(t.stage)
	if t.row = h; t.row.Laptops == 0 {
		t.row.Laptops = h.Players
	}
	cfg := t.seats
	cfg.Mics = slices.Clone(cfg.Mics)
	var slots []*strip
	var streams []room.Stream
	for i := range cfg.Mics {
		cfg.Mics[i].Noise = 0
		slots = append(slots, &strip{})
		streams = append(streams, slots[i])
	}
	rm, err := room.New(cfg, streams)
	if err != nil {
		return nil, err
	}
	t.alone = make([][][]float64, h.Players)
	read := make([]int, h.Players)
	for p, x := range t.sounds {
		*slots[p] = strip{x: x}
		heard := make([][]float64, h.Players)
		for m, mic := range cfg.Mics {
			to := int((0.5 + float64(p+1)*(rowSeconds+h.RT60) - mic.Start) * rowRate * (1 + mic.PPM*1e-6))
			heard[m], read[m] = make([]float64, to-read[m]), to
		}
		rm.Read(heard)
		for m := range heard {
			t.alone[m] = append(t.alone[m], heard[m])
		}
	}
	return t, nil
}

func at(seconds float64) time.Time { return rulesBegin.Add(time.Duration(seconds * 1e9)) }

// step gives the state an event.
func (t *troupe) step(e tuneup.Event) error {
	out, err := t.state.Step(at(t.now), e)
	if t.wake = out.Wake; out.Fit != nil {
		t.fit = out.Fit
	}
	return err
}

func (t *troupe) standing() tuneup.Standing { return t.state.Standing(at(t.now)) }

func (t *troupe) skip(id hub.ChairID) error {
	return t.step(tuneup.Command{Do: hub.DoSkip, Chair: id})
}

// open seats the row.
func (t *troupe) open() error {
	sec := hub.Section{ID: 1, Name: "Quay", Reference: pitch.Reference{A4: pitch.StandardA4}, Good: intonation.DefaultGood, Near: intonation.DefaultWatch, Order: hub.OrderByWorth}
	t.state, _ = tuneup.New(tuneup.Records{Section: sec, NextID: 2}, rulesBegin)
	t.now = 1
	front := t.row.Players
	if front > mostInRow {
		front /= 2
	}
	for i := range t.row.Laptops {
		out, err := t.state.Step(at(t.now), tuneup.Joined{Peer: hub.Peer{Node: fmt.Sprint(i), Boot: "b", Chair: fmt.Sprint("Chair ", i+1), Instrument: hallInstruments[t.truth[i].note.Instrument], Tracks: true}})
		if err != nil {
			return err
		}
		t.chairs, t.late = append(t.chairs, out.Joined.Chair), append(t.late, clockHalf*(2*t.rng.Float64()-1))
	}
	s := t.state.Section()
	for k := range s.Chairs {
		i := slices.Index(t.chairs, s.Chairs[k].ID)
		s.Chairs[k].Row, s.Chairs[k].Place = i/front, i%front
	}
	return t.step(tuneup.Command{Do: hub.DoEdit, Section: &s})
}

// read is what a laptop makes of its player alone.
func (t *troupe) read(i int, hz pitch.Hertz) error {
	t.seq++
	return t.step(tuneup.Reading{Chair: t.chairs[i], Node: fmt.Sprint(i), Boot: "b", Wire: proto.Reading{
		Sequence: t.seq, Round: int64(t.standing().Round.ID), Onset: t.now - 2.2, Start: t.now - 2, End: t.now, Hz: hz, CI95: 1, Level: -25, Floor: -60, Settled: true, Played: 900}})
}

// known has everybody read at what they are believed to stand at.
func (t *troupe) known() error {
	if err := t.step(tuneup.Command{Do: hub.DoCall, Call: &hub.Call{Kind: hub.CallNote, Note: t.root}}); err != nil {
		return err
	}
	for range 20 * len(t.chairs) {
		t.now += 6
		if err := t.step(tuneup.Tick{}); err != nil {
			return err
		}
		st := t.standing()
		for i := range st.Chairs {
			c, err := &st.Chairs[i], error(nil)
			switch k := slices.Index(t.chairs, c.ID); {
			case len(c.Counted) > 0 && slices.Contains(st.Round.Queue, c.ID):
				err = t.skip(c.ID)
			case len(c.Counted) == 0 && c.State == tuneup.Asked:
				err = t.read(k, c.Target.Shift(*t.truth[k].Believed))
			}
			if err != nil {
				return err
			}
		}
	}
	return t.step(tuneup.Command{Do: hub.DoEnd})
}

// lead leads a call to its end.
func (t *troupe) lead() error {
	if err := t.open(); err != nil {
		return err
	}
	if t.row.Known {
		if err := t.known(); err != nil {
			return err
		}
	}
	t.now += 5
	c := &hub.Call{Kind: hub.CallNote, Note: t.root, Tones: map[hub.ChairID]pitch.Note{}, Together: true}
	if t.row.Kind == "chord" {
		c.Kind, c.Chord = hub.CallChord, t.chord
	}
	for i, id := range t.chairs {
		c.Tones[id] = t.tones[i]
		if !t.truth[i].Silent() {
			t.took.playing++
		}
	}
	if err := t.step(tuneup.Command{Do: hub.DoCall, Call: c}); err != nil {
		return err
	}
	from := t.now
	t.took.rows++
	for range 100 {
		st := t.standing()
		if len(st.Round.Queue) == 0 {
			t.took.over++
			break
		}
		var asked []int
		for i := range st.Chairs {
			if c := &st.Chairs[i]; c.State == tuneup.Asked || c.Along {
				asked = append(asked, slices.Index(t.chairs, c.ID))
			}
		}
		slices.Sort(asked)
		var err error
		switch {
		case len(asked) == 0:
			t.now += 0.5
			err = t.step(tuneup.Tick{})
		case st.Round.AllAtOnce():
			err = t.together(asked)
		default:
			err = t.turn(asked[0])
		}
		if err != nil {
			return err
		}
	}
	t.took.most = max(t.took.most, slices.Max(t.played))
	t.took.seconds += t.now - from
	return nil
}

// sound counts a time of sounding of those of some who play.
func (t *troupe) sound(asked []int) (who []int) {
	for _, i := range asked {
		if !t.truth[i].Silent() {
			who = append(who, i)
			t.played[i]++
			t.took.notes++
		}
	}
	if len(who) > 0 {
		t.took.times++
	}
	return who
}

// turn hears one alone; the leader passes over who does not play, or whose
// microphone is dead.
func (t *troupe) turn(i int) error {
	t.now += 0.6 + 2.6
	if p := t.truth[i]; len(t.sound([]int{i})) > 0 && !(t.row.Mishap == deadMic && slices.Contains(t.hit, i)) {
		if err := t.read(i, p.Mean(p.On+0.4, p.Off)); err != nil {
			return err
		}
		t.took.turns++
	}
	t.now++
	return t.skip(t.chairs[i])
}

// entries is when those who play at once begin, from when they are asked on, by player.
func (t *troupe) entries(who []int) map[int]float64 {
	on := map[int]float64{}
	for _, i := range who {
		// The same for each way of leading.
		on[i] = 0.3 + 0.3*rand.New(rand.NewPCG(t.row.Seed, uint64(i)<<8|uint64(t.played[i]))).Float64()
		if t.played[i] == 1 {
			on[i] = 0.2 + t.truth[i].On - firstEntry
		}
	}
	return on
}

// sending is a stretch of tracks on its way.
type sending struct {
	at     float64
	laptop int
	chunk  track.Chunk
}

// onWay is how long a stretch of tracks takes to the hub, its own length included.
const onWay = 0.27

// hears is what a laptop sends of a time of sounding, and its pings.
func (t *troupe) hears(m int, on map[int]float64, ends float64) (all []sending, pings []proto.Ping, err error) {
	mic := t.seats.Mics[m]
	rate := rowRate * (1 + mic.PPM*1e-6)
	first, lag := int64(t.now*rate), 0.0
	hit := slices.Contains(t.hit, m)
	if hit && t.row.Mishap == wrongClock {
		lag = 0.2
	}
	x := make([]float64, int((ends+1.2)*rate))
	for p, begins := range on {
		for k, v := range t.alone[m][p] {
			if i := int((begins+lag)*rate) + k; i < len(x) {
				x[i] += v
			}
		}
	}
	noise := rand.New(rand.NewPCG(t.row.Seed, uint64(m)<<8|uint64(t.played[m])))
	for k := range x {
		x[k] = max(-1, min(1, x[k]+mic.Noise*noise.NormFloat64()))
	}
	e, err := partials.New(partials.Config{Rate: rowRate, Reference: t.standing().Round.Tracks})
	if err != nil {
		return nil, nil, err
	}
	e.Gap(first)
	chunks, _, err := sent(e, x)
	for _, c := range chunks {
		all = append(all, sending{float64(c.First)/rate + onWay, m, c})
	}
	own := 1000 * float64(m+1)
	for i, s := range []float64{t.now, t.now + 1} {
		p := proto.Ping{Sent: own + s, Offset: t.late[m] - own, Error: clockHalf, Sample: int64(s * rate)}
		if hit && t.row.Mishap == clockJumps && i > 0 {
			p.Sent += 2
		}
		pings = append(pings, p)
	}
	return all, pings, err
}

// together hears several at once.
func (t *troupe) together(asked []int) error {
	who := t.sound(asked)
	begun, ends := t.now, 0.0
	on := t.entries(who)
	if len(asked) == len(t.chairs) { // who has no laptop plays with all
		for i := t.row.Laptops; i < t.row.Players; i++ {
			if !t.truth[i].Silent() {
				on[i] = 0.2 + t.truth[i].On - firstEntry
			}
		}
	}
	for i, s := range on {
		ends = max(ends, s+float64(len(t.sounds[i]))/rowRate)
	}
	var all []sending
	for _, m := range asked {
		chunks, pings, err := t.hears(m, on, ends)
		if err != nil {
			return err
		}
		all = append(all, chunks...)
		for _, p := range pings {
			if err := t.step(tuneup.Ping{Chair: t.chairs[m], Ping: p}); err != nil {
				return err
			}
		}
	}
	if err := t.everybodyHears("sounding"); err != nil {
		return err
	}
	slices.SortStableFunc(all, func(a, b sending) int { return cmp.Compare(a.at, b.at) })
	for i := 0; i < len(all) && t.fit == nil; i++ {
		var err error
		if wake := t.wake.Sub(rulesBegin).Seconds(); !t.wake.IsZero() && wake > t.now && wake < all[i].at {
			t.now, i = wake, i-1
			err = t.step(tuneup.Tick{})
		} else {
			t.now = max(t.now, all[i].at)
			err = t.step(tuneup.Track{Chair: t.chairs[all[i].laptop], Chunk: all[i].chunk})
		}
		if err != nil {
			return err
		}
	}
	for range 20 {
		if t.fit != nil {
			break
		}
		t.now += 0.5
		if err := t.step(tuneup.Tick{}); err != nil {
			return err
		}
	}
	if t.fit == nil { // nobody sounds
		return t.step(tuneup.Command{Do: hub.DoNext})
	}
	if err := t.solve(len(asked), who, on, begun); err != nil {
		return err
	}
	t.now = max(t.now, begun+ends+0.3)
	if err := t.everybodyHears("quiet"); err != nil {
		return err
	}
	return t.step(tuneup.Tick{})
}

func (t *troupe) everybodyHears(state string) error {
	for _, id := range t.chairs {
		if err := t.step(tuneup.Sound{Chair: id, State: proto.State{State: state, Level: -25, Played: 900}}); err != nil {
			return err
		}
	}
	return nil
}

// solve answers the fit and lays what is read beside what was played.
func (t *troupe) solve(asked int, who []int, on map[int]float64, begun float64) error {
	fit, read, queue := t.fit, 0, t.standing().Round.Queue
	whole := len(queue) == len(t.chairs)
	t.fit = nil
	res := fit.Fit(&t.fitter, nil)
	for _, c := range res.Chairs {
		i := slices.Index(t.chairs, hub.ChairID(c.ID))
		p := t.truth[i]
		switch {
		case c.Verdict != attribute.Sounding || !slices.Contains(queue, t.chairs[i]): // or heard before, and sounds along
			continue
		case p.Silent():
			t.took.ghosts++
			continue
		}
		read++
		p.On = begun + on[i]
		if e := math.Abs(float64(pitch.Between(p.Mean(c.From, c.To), c.Hz))); !(e <= wrongRow) {
			t.took.wrong++
			if slices.Contains(t.hit, i) {
				t.took.hitWrong++
			}
		}
	}
	if whole {
		t.took.first += read
	} else {
		t.took.few += read
		g := t.took.sizes[asked]
		if g == nil {
			g = &groupTake{}
			t.took.sizes[asked] = g
		}
		g.times, g.playing, g.read = g.times+1, g.playing+len(who), g.read+read
	}
	if err := t.step(tuneup.Fitted{Round: fit.Round, Result: res}); err != nil {
		return err
	}
	st := t.standing()
	if p := st.Round.Parted; whole && p != nil {
		t.took.help[cmp.Or(p.Help, "nothing")]++
	}
	for _, c := range st.Chairs {
		if whole && slices.Contains(t.hit, slices.Index(t.chairs, c.ID)) {
			t.took.why[cmp.Or(string(c.Unheard), "read")]++
		}
		if slices.Contains(st.Round.Queue, c.ID) && slices.ContainsFunc(c.Counted, func(r *hub.Reading) bool { return r.Round == st.Round.ID }) {
			if err := t.skip(c.ID); err != nil {
				return err
			}
		}
	}
	return nil
}

const rulesHeading = `| call | players | RT60 | what befalls | playing | at first | by few | alone | wrong, of who is hit | silent read | times: mean | notes of one at most | notes | seconds | groups: size, read of playing | said of who is hit | help | ended |
|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|---|`

func (t *rulesTake) String() string {
	counts := func(m map[string]int) string {
		var out []string
		for _, k := range slices.Sorted(maps.Keys(m)) {
			out = append(out, fmt.Sprint(k, " ", m[k]))
		}
		return strings.Join(out, ", ")
	}
	var groups []string
	for _, n := range slices.Sorted(maps.Keys(t.sizes)) {
		g := t.sizes[n]
		groups = append(groups, fmt.Sprintf("%d × %d: %d of %d", g.times, n, g.read, g.playing))
	}
	rows := float64(max(1, t.rows))
	return fmt.Sprintf("%d | %d, %.0f %% | %d | %d | %d, %d | %d | %.1f | %d | %.1f | %.0f | %s | %s | %s | %d of %d |", t.playing, t.first, 100*float64(t.first)/float64(max(1, t.playing)), t.few, t.turns,
		t.wrong, t.hitWrong, t.ghosts, float64(t.times)/rows, t.most, float64(t.notes)/rows, t.seconds/rows, strings.Join(groups, ", "), counts(t.why), counts(t.help), t.over, t.rows)
}

// rulesTable leads p.rules calls of each size, room, kind and mishap.
func (p plan) rulesTable(ctx context.Context, w io.Writer) error {
	notes, err := estimate.RecordedNotes(ctx, p.recordings)
	if err != nil {
		return err
	}
	befalls := []string{p.mishap}
	if p.mishap == "all" {
		befalls = mishaps
	}
	fmt.Fprintln(w, rulesHeading)
	for _, k := range rowKinds {
		for _, n := range rowPlayers {
			if n > p.most || n < p.least || p.call != "" && p.call != k.name {
				continue
			}
			for _, rt := range rowRooms {
				for _, mishap := range befalls {
					took := &rulesTake{sizes: map[int]*groupTake{}, why: map[string]int{}, help: map[string]int{}}
					for i := range p.rules {
						if err := ctx.Err(); err != nil {
							return err
						}
						r := Row{Players: n, RT60: rt, Kind: k.kinds[i%len(k.kinds)], Known: k.known, Laptops: p.laptops, Seed: p.seed<<20 + uint64(n)<<12 + uint64(10*rt)<<8 + uint64(i)}
						t, err := Hall{Row: r, Mishap: mishap}.assemble(notes, took)
						if err == nil {
							err = t.lead()
						}
						if err != nil {
							return err
						}
					}
					fmt.Fprintf(w, "| %s | %d | %.1f | %s | %s\n", k.name, n, rt, cmp.Or(mishap, "nothing"), took)
				}
			}
		}
	}
	return nil
}
