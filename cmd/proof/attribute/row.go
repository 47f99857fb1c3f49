package attribute

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"

	"bellrow/cmd/proof/estimate"
	"bellrow/hub/ensemble"
	"bellrow/node/partials"
	"bellrow/node/simulate/room"
	"bellrow/proto"
	"bellrow/proto/pitch"
	"bellrow/proto/track"
)

// Row is a row of players that hold recorded notes at once in a room. Each
// laptop has a clock of its own; the players begin one after another.
type Row struct {
	Players int
	RT60    float64
	Kind    string  // unison, octaves or chord
	Known   bool    // a tuning note was set before: beliefs, of which a fifth are off by 8 to 25 cents
	Wider   float64 // seats so many times farther apart; 0 = 1
	Plain   bool    // one row of seats, alike in level; everybody comes and stays
	Rooms   Rooms   // what kind of room
	Laptops int     // only so many have one, and the hub knows of no others; 0 = all
	Clock   float64 // how far the laptops' clocks are off at most, in seconds; 0 = clockHalf
	Seed    uint64
}

// Rooms is a kind of room.
type Rooms string

// Kinds of rooms. Wide ones have 300 to 1,400 m³, as long as the row needs, and bells that sound alike
// in all directions. Directed ones have 30 m³ a player, the least that published guidance asks for loud
// acoustic music (ISO 23591 and NS 8178, from memory), 120 at least, seats in rows of six, and bells that
// radiate as measured: ahead, a tuba's upwards, a horn's to the back, away from its laptop.
const (
	Wide     Rooms = "wide"
	Directed Rooms = "directed"
)

const (
	roomEach, roomLeast = 30.0, 120.0 // m³
	rowOf               = 6
)

// bells are how instruments radiate: the rim's radius in metres (common practice) and where it
// points, for a player who looks towards −Y.
var bells = map[string]room.Bell{
	"trumpet":  {Axis: room.Point{Y: -1}, Radius: 0.0615},
	"trombone": {Axis: room.Point{Y: -1}, Radius: 0.10},
	"horn":     {Axis: room.Point{X: -0.5, Y: 1, Z: -0.2}, Radius: 0.15},
	"tuba":     {Axis: room.Point{X: 0.2, Y: -0.2, Z: 1}, Radius: 0.19},
}

// Figures of a row. Distances, levels and clocks are common practice, no source.
const (
	rowRate    = 16000.0
	firstEntry = 0.4 // seconds
	rowSeconds = 5.0
	nearNote   = 5    // semitones that a recording may be shifted
	tuningSpan = 25.0 // cents either way, nothing known before
	surprised  = 0.2  // of the chairs stand elsewhere than believed
	beliefSD   = 2.5  // cents
	early      = 0.15 // of the players stop after a second and a half
	lateEntry  = 0.05 // come a second after the others
	silentRows = 0.3  // of the rows have a player who does not play
	clockHalf  = 0.010
	mostInRow  = 5
)

// RowTake is what the hub has of a row, and the truth.
type RowTake struct {
	Row
	Truth  []Played
	Tracks [][]track.Chunk
	Pings  [][]proto.Ping
}

// Input is the row as the hub has it.
func (r *RowTake) Input() ensemble.Input {
	var in ensemble.Input
	for i, p := range r.Truth {
		if r.Laptops > 0 && i >= r.Laptops {
			break
		}
		c := ensemble.Chair{ID: int64(i + 1), Expected: p.Target, Tracks: true, Chunks: r.Tracks[i]}
		if b := p.Believed; b != nil {
			c.Believed, c.Doubt = *b, beliefSD
		}
		for _, ping := range r.Pings[i] {
			c.Clock.Take(ping)
		}
		in.Chairs = append(in.Chairs, c)
	}
	return in
}

// Played is what a chair really did.
type Played struct {
	Name     string
	On, Off  float64     // hub times
	Ratio    float64     // the recording played so much sharper
	Target   pitch.Hertz // the called note
	Believed *pitch.Cents
	note     *estimate.Note
}

// Silent tells that the chair did not play.
func (p *Played) Silent() bool { return p.Off <= p.On }

// Mean is the mean pitch between two hub times.
func (p *Played) Mean(from, to float64) pitch.Hertz {
	return pitch.Hertz(p.Ratio * p.note.Mean((from-p.On)*p.Ratio, (to-p.On)*p.Ratio))
}

// cast chooses a recording for a note and an instrument, any instrument if there are none of
// that one, and not one that plays already if it can be helped.
func cast(notes []estimate.Note, used map[string]int, instrument string, hz float64, rng *rand.Rand) (*estimate.Note, bool) {
	best := -1
	if !slices.ContainsFunc(notes, func(n estimate.Note) bool { return n.Instrument == instrument }) {
		instrument = ""
	}
	for _, i := range rng.Perm(len(notes)) {
		n := &notes[i]
		if instrument != "" && n.Instrument != instrument || math.Abs(12*math.Log2(n.Hz/hz)) > nearNote {
			continue
		}
		if best < 0 || used[n.Name] < used[notes[best].Name] {
			best = i
		}
	}
	if best < 0 {
		return nil, false
	}
	used[notes[best].Name]++
	return &notes[best], true
}

// ways are the instruments and octaves from the tuning note's own one.
var ways = []struct {
	instrument string
	octave     int
}{{"trombone", 0}, {"horn", 0}, {"trumpet", 0}, {"tuba", -1}, {"trumpet", 1}, {"trombone", -1}, {"tuba", -2}, {"trombone", 0}}

// shapes are chords as semitones above a root; the voices are dealt over them.
var (
	shapes     = [][]pitch.Note{{0, 4, 7}, {0, 3, 7}, {0, 4, 7, 10}, {0, 7}}
	shapeNames = []string{" major", " minor", "7", "5"}
)

// voices are the instruments of a chord with the lowest and highest note each.
var voices = []struct {
	instrument string
	low, high  pitch.Note
}{{"tuba", 30, 48}, {"trombone", 44, 60}, {"horn", 50, 64}, {"trumpet", 58, 74}, {"trombone", 48, 64}, {"trumpet", 58, 78}}

// part is what one chair is asked for.
func (r Row) tones(notes []estimate.Note, rng *rand.Rand) (cast []*estimate.Note, tones []pitch.Note, root pitch.Note, chord string) {
	used := map[string]int{}
	root = pitch.Note(54 + rng.IntN(8)) // F#3 to C#4
	kind := rng.IntN(len(shapes))
	shape := shapes[kind]
	for i := range r.Players {
		var n *estimate.Note
		var note pitch.Note
		for ok := false; !ok; {
			switch r.Kind {
			case "unison":
				note = root
				n, ok = castOf(notes, used, "", note, rng)
			case "octaves":
				w := ways[rng.IntN(len(ways))]
				note = root + pitch.Note(12*w.octave)
				n, ok = castOf(notes, used, w.instrument, note, rng)
			default:
				v := voices[i%len(voices)]
				tone := root + shape[rng.IntN(len(shape))]
				note = tone - 48
				for note < v.low {
					note += 12
				}
				for note+12 <= v.high && rng.IntN(2) == 0 {
					note += 12
				}
				n, ok = castOf(notes, used, v.instrument, note, rng)
			}
		}
		cast, tones = append(cast, n), append(tones, note)
	}
	return cast, tones, root, root.ClassName() + shapeNames[kind]
}

func castOf(notes []estimate.Note, used map[string]int, instrument string, note pitch.Note, rng *rand.Rand) (*estimate.Note, bool) {
	return cast(notes, used, instrument, float64(pitch.Reference{}.Frequency(note)), rng)
}

// slowed plays a recording ratio times sharper at rowRate, up to a second of
// it, with soft ends and an RMS of 1.
func slowed(n *estimate.Note, ratio, to float64) []float64 {
	const side = 24 // samples at rowRate on either side
	step := 48000 / rowRate * ratio
	// Nothing above 0.45 of the lower rate may pass.
	cut := 0.9 * min(1, 1/step)
	reach := side * max(1, step)
	const grain = 512
	table := make([]float64, int(reach*grain)+2)
	for i := range table {
		d := float64(i) / grain
		table[i] = cut
		if d > 0 {
			table[i] = math.Sin(math.Pi*cut*d) / (math.Pi * d)
		}
		table[i] *= 0.5 + 0.5*math.Cos(math.Pi*min(1, d/reach))
	}
	x := n.Samples
	out := make([]float64, int(to/ratio*rowRate))
	sum := 0.0
	for i := range out {
		at := float64(i) * step
		v := 0.0
		for j := max(0, int(at-reach)+1); j < min(len(x), int(at+reach)); j++ {
			v += x[j] * table[int(math.Abs(at-float64(j))*grain+0.5)]
		}
		out[i] = v
		sum += v * v
	}
	gain := 1 / math.Sqrt(sum/float64(len(out)))
	fade := int(0.03 * rowRate)
	for i := range out {
		out[i] *= gain * min(1, float64(i+1)/float64(fade), float64(len(out)-i)/float64(fade))
	}
	return out
}

// strip plays a recording from a moment on.
type strip struct {
	x    []float64
	wait int
}

func (s *strip) Read(dst []float64) {
	clear(dst)
	n := min(s.wait, len(dst))
	s.wait -= n
	k := copy(dst[n:], s.x)
	s.x = s.x[k:]
}

// stage is a row before it sounds: who sits where, and what each plays.
type stage struct {
	seats  room.Config
	tones  []pitch.Note
	root   pitch.Note
	chord  string
	sounds [][]float64 // at rowRate, nil for who does not play
	truth  []Played
}

// draw casts and seats a row.
func (r Row) draw(notes []estimate.Note, rng *rand.Rand) *stage {
	who, tones, root, chord := r.tones(notes, rng)
	st := &stage{tones: tones, root: root, chord: chord}
	at := firstEntry
	order := rng.Perm(r.Players)
	starts := make([]float64, r.Players)
	gap := 0.1 + 0.4*rng.Float64() // from the first entry to the last
	quiet := -1
	if rng.Float64() < silentRows {
		quiet = rng.IntN(r.Players)
	}
	for i, c := range order {
		starts[c] = at + gap*float64(i)/float64(max(1, r.Players-1))
	}
	for i, n := range who {
		p := Played{Name: n.Name, note: n, On: starts[i], Target: pitch.Reference{}.Frequency(tones[i])}
		off := tuningSpan * (2*rng.Float64() - 1)
		if r.Known {
			b := pitch.Cents(8 * rng.NormFloat64())
			p.Believed = &b
			off = float64(b) + beliefSD*rng.NormFloat64()
			if rng.Float64() < surprised {
				off = float64(b) + float64(1-2*rng.IntN(2))*(8+17*rng.Float64())
			}
			off = max(-45, min(45, off))
		}
		to := float64(len(n.Samples))/48000 - 0.05
		mid := n.Mean(0.4, min(to, 3))
		ratio := float64(p.Target) / mid * math.Exp2(off/1200)
		if rng.Float64() < lateEntry && !r.Plain {
			p.On++
		}
		if rng.Float64() < early && !r.Plain {
			to = min(to, 0.3+1.5*ratio)
		}
		x := slowed(n, ratio, to)
		p.Off = p.On + float64(len(x))/rowRate
		p.Ratio = ratio
		level := -30 + 3*rng.NormFloat64()
		if r.Plain {
			level = -30
		}
		for j := range x {
			x[j] *= math.Pow(10, level/20) / math.Sqrt2
		}
		if i == quiet && !r.Plain {
			x, p.Off = nil, p.On
		}
		st.sounds, st.truth = append(st.sounds, x), append(st.truth, p)
	}
	st.seats = r.seats(rng)
	for i, n := range who {
		if r.Rooms == Directed {
			st.seats.Seats[i].Sound = bells[n.Instrument]
		}
	}
	return st
}

// Play renders the row.
func (r Row) Play(notes []estimate.Note) (*RowTake, error) {
	rng := rand.New(rand.NewPCG(r.Seed, 0x726f77))
	st := r.draw(notes, rng)
	take := &RowTake{Row: r, Truth: st.truth}
	cfg := st.seats
	var players []room.Stream
	for i, x := range st.sounds {
		players = append(players, &strip{x, int(st.truth[i].On * rowRate)})
	}
	rm, err := room.New(cfg, players)
	if err != nil {
		return nil, err
	}
	heard := make([][]float64, r.Players)
	for i := range heard {
		heard[i] = make([]float64, int(rowSeconds*rowRate))
	}
	rm.Read(heard)
	ref := r.reference(st.tones, st.root)
	for i, x := range heard {
		e, err := partials.New(partials.Config{Rate: rowRate, Reference: ref})
		if err != nil {
			return nil, err
		}
		chunks, _, err := sent(e, x)
		if err != nil {
			return nil, err
		}
		take.Tracks = append(take.Tracks, chunks)
		m := cfg.Mics[i]
		// Two pings within the window; the laptop's own clock counts from another day.
		half := cmp.Or(r.Clock, clockHalf)
		own, wrong := 1000*rng.Float64(), half*(2*rng.Float64()-1)
		var pings []proto.Ping
		for _, t := range []float64{1, 2} {
			pings = append(pings, proto.Ping{Sent: own + t, Offset: wrong - own, Error: half, Sample: int64((t - m.Start) * rowRate * (1 + m.PPM*1e-6))})
		}
		take.Pings = append(take.Pings, pings)
	}
	return take, nil
}

func (r Row) reference(tones []pitch.Note, root pitch.Note) pitch.Hertz {
	var hz []pitch.Hertz
	for _, n := range tones {
		hz = append(hz, pitch.Reference{}.Frequency(n))
	}
	top := pitch.Hertz(0)
	if r.Kind == "chord" {
		top = pitch.Reference{}.Frequency(root%12 + 96)
	}
	return ensemble.Reference(hz, top)
}

// seats draws a room with one or two rows of chairs.
func (r Row) seats(rng *rand.Rand) room.Config {
	between := func(a, b float64) float64 { return a + (b-a)*rng.Float64() }
	wider := max(1, r.Wider)
	size := room.Point{X: between(9, 15), Y: between(8, 16), Z: between(2.8, 6)}
	rows := []int{r.Players}
	if r.Players > mostInRow && !r.Plain {
		rows = []int{r.Players / 2, r.Players - r.Players/2}
	}
	if r.Rooms == Directed && r.Players > rowOf {
		rows = []int{r.Players / 2, r.Players - r.Players/2}
	}
	spacing, depth := between(1, 1.5)*wider, between(1.5, 2)*wider
	if r.Rooms == Directed {
		size.X, size.Z = spacing*float64(slices.Max(rows))+2, between(2.8, 4)
		size.Y = max(5, max(roomLeast, roomEach*float64(r.Players))/(size.X*size.Z))
	}
	size.X = max(size.X, spacing*float64(slices.Max(rows))+2)
	c := room.Config{Rate: rowRate, Size: size, RT60: r.RT60, Mode: room.Full, Seed: rng.Uint64()}
	for i, n := range rows {
		for j := range n {
			x := size.X/2 + (float64(j)-float64(n-1)/2)*spacing + between(-0.1, 0.1)
			y := size.Y/2 + (float64(i)-float64(len(rows)-1)/2)*depth + between(-0.1, 0.1)
			d, side := between(0.5, 0.8), between(-0.4, 0.4)
			z := between(0.9, 1.2)
			mz := between(0.7, 0.9)
			flat := math.Sqrt(d*d - (z-mz)*(z-mz))
			c.Seats = append(c.Seats, room.Seat{
				Bell: room.Point{X: x, Y: y, Z: z},
				Mic:  room.Point{X: x + flat*math.Sin(side), Y: y - flat*math.Cos(side), Z: mz},
			})
			c.Mics = append(c.Mics, room.Mic{
				HighPass: between(100, 200), GainDB: 3 * rng.NormFloat64(),
				PPM: between(-50, 50), Start: between(0, 0.2), Noise: 3e-4,
			})
		}
	}
	return c
}
