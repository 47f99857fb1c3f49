// Package attribute measures hub/attribute on simulated rows of players whose
// pitch is known: node/simulate/tone players in a node/simulate/room, through
// node/partials and the byte coding of proto/track, as in a rehearsal. Only
// the socket is left out.
package attribute

import (
	"encoding/json"
	"math"
	"math/rand/v2"

	"bellrow/hub/attribute"
	"bellrow/node/partials"
	"bellrow/node/simulate/room"
	"bellrow/node/simulate/tone"
	"bellrow/proto/pitch"
	"bellrow/proto/track"
)

// Scene is one simulated window of a row playing at once.
type Scene struct {
	Chairs  int
	RT60    float64
	Unison  bool    // all the same note; otherwise three octaves
	Chord   bool    // a chord that nobody called, in place of either
	Seconds float64 // length of the window
	Silent  int     // how many chairs do not play
	Louder  float64 // by how much the others exceed their usual level, dB
	Vibrato int     // how many play with vibrato
	AGC     bool
	PPM     float64 // clocks are uniform within ± this
	Rate    float64
	Seed    uint64
}

// Truth is what a chair really did.
type Truth struct {
	Playing bool
	Hz      pitch.Hertz // mean over the window
	Vibrato bool
}

// Take is a scene as the hub and a single microphone see it.
type Take struct {
	Input attribute.Input
	Truth []Truth
	// Audio is what each microphone heard in the window, for methods that
	// look at one microphone alone, and Rate its sample rate.
	Audio [][]float64
	Rate  float64
	// Bytes is the traffic of each node per second as JSON.
	Bytes []float64
}

// part is an instrument's place in the scene.
type part struct {
	voice tone.Voice
	note  pitch.Note
}

// unison and octaves of a tuning B flat.
var (
	unisonParts = []part{{tone.Trumpet, 58}, {tone.Trombone, 58}, {tone.Horn, 58}, {tone.Euphonium, 58}}
	octaveParts = []part{{tone.Trumpet, 70}, {tone.Horn, 58}, {tone.Trombone, 58}, {tone.Tuba, 46},
		{tone.Trumpet, 70}, {tone.Trombone, 46}, {tone.Euphonium, 58}, {tone.Trumpet, 70}}
)

// chords of five, low to high: major, minor, first inversion, seventh, open.
var chords = [][]part{
	{{tone.Tuba, 34}, {tone.Trombone, 53}, {tone.Horn, 62}, {tone.Trumpet, 65}, {tone.Trumpet, 70}},
	{{tone.Tuba, 36}, {tone.Trombone, 51}, {tone.Horn, 60}, {tone.Trumpet, 67}, {tone.Trumpet, 72}},
	{{tone.Tuba, 38}, {tone.Trombone, 53}, {tone.Horn, 58}, {tone.Trumpet, 65}, {tone.Trumpet, 74}},
	{{tone.Tuba, 41}, {tone.Trombone, 48}, {tone.Horn, 57}, {tone.Trumpet, 63}, {tone.Trumpet, 69}},
	{{tone.Tuba, 40}, {tone.Trombone, 52}, {tone.Horn, 59}, {tone.Trumpet, 64}, {tone.Trumpet, 68}},
}

// grid is the reference of tracks that hold any note, in Hz.
const grid pitch.Hertz = 10.5

// Levels at one metre: a usual mezzo-forte, and how far players differ, dB
// (common practice, no source).
const (
	usualLevel  pitch.Level = -30
	levelSpread             = 3.0
)

// Times of a scene, seconds.
const (
	latest = 0.3          // players begin within this
	begin  = latest + 0.7 // the window begins when all notes are under way
	tail   = 0.7          // and the microphones go on a little after it
)

// player adapts a tone to the room: silence before its entry and after its end.
type player struct {
	t     *tone.Tone
	wait  int
	total int64
}

func (p *player) Read(dst []float64) {
	skip := min(p.wait, len(dst))
	clear(dst[:skip])
	p.wait -= skip
	n := p.t.Read(dst[skip:])
	clear(dst[skip+n:])
}

// Play renders the scene.
func (s Scene) Play() (Take, error) {
	rng := rand.New(rand.NewPCG(s.Seed, 0x7363656e65))
	cast, err := s.cast(rng)
	if err != nil {
		return Take{}, err
	}
	streams := make([]room.Stream, s.Chairs)
	for i, p := range cast {
		if p != nil {
			streams[i] = p
		}
	}
	r, err := room.New(s.room(rng), streams)
	if err != nil {
		return Take{}, err
	}
	return s.record(r, cast, rng)
}

func (s Scene) parts() []part {
	if s.Chord {
		return chords[s.Seed%uint64(len(chords))]
	}
	if s.Unison {
		return unisonParts
	}
	return octaveParts
}

// cast draws the players; nil is a silent chair.
func (s Scene) cast(rng *rand.Rand) ([]*player, error) {
	parts := s.parts()
	silent := map[int]bool{}
	for _, i := range rng.Perm(s.Chairs)[:s.Silent] {
		silent[i] = true
	}
	var cast []*player
	ref := pitch.Reference{}
	for i := range s.Chairs {
		p := parts[i%len(parts)]
		c := tone.Natural(tone.Config{
			Rate: s.Rate, Seed: rng.Uint64(), Voice: p.voice,
			F0:         ref.Frequency(p.note).Shift(pitch.Cents(30*rng.Float64() - 15)),
			Level:      usualLevel + pitch.Level(s.Louder+levelSpread*rng.NormFloat64()),
			Brightness: 0.6 * (rng.Float64() - 0.5),
		})
		if i < s.Vibrato {
			c.VibratoHz, c.VibratoCents = 4+2*rng.Float64(), pitch.Cents(15+15*rng.Float64())
		}
		t, err := tone.New(c)
		if err != nil {
			return nil, err
		}
		wait := int(s.Rate * latest * rng.Float64())
		if silent[i] {
			cast = append(cast, nil)
			continue
		}
		cast = append(cast, &player{t: t, wait: wait, total: int64(wait)})
	}
	return cast, nil
}

func (s Scene) room(rng *rand.Rand) room.Config {
	size := room.Point{X: 9, Y: 12, Z: 4}
	if s.RT60 > 1.2 {
		size = room.Point{X: 16, Y: 22, Z: 8}
	}
	counts := []int{s.Chairs}
	if s.Chairs > 5 {
		counts = []int{s.Chairs / 2, s.Chairs - s.Chairs/2}
	}
	if s.Chairs > 16 {
		size = room.Point{X: 14, Y: 18, Z: 5}
	}
	c := room.Config{
		Rate: s.Rate, Size: size, RT60: s.RT60, Mode: room.Full, Seed: rng.Uint64(),
		Seats: room.Arcs(counts, 3, 1.1, 1.4, room.Point{X: size.X / 2, Y: size.Y/2 - 3}),
	}
	for range s.Chairs {
		c.Mics = append(c.Mics, room.Mic{
			HighPass: 100 + 100*rng.Float64(), GainDB: 3 * rng.NormFloat64(),
			PPM: s.PPM * (2*rng.Float64() - 1), Start: rng.Float64() * 0.2,
			Noise: 1e-4, AGC: s.AGC,
		})
	}
	return c
}

// record runs the microphones through the nodes' extraction.
func (s Scene) record(r *room.Room, cast []*player, rng *rand.Rand) (Take, error) {
	cfg := r.Config()
	t := Take{Rate: s.Rate, Input: attribute.Input{Start: begin, End: begin + s.Seconds}}
	samples := int((t.Input.End + tail) * s.Rate)
	heard := make([][]float64, s.Chairs)
	for i := range heard {
		heard[i] = make([]float64, samples)
	}
	r.Read(heard)
	ref := s.reference()
	for i, x := range heard {
		e, err := partials.New(partials.Config{Rate: s.Rate, Reference: ref})
		if err != nil {
			return t, err
		}
		m := cfg.Mics[i]
		chair := attribute.Chair{
			ID: int64(i + 1), Expected: pitch.Reference{}.Frequency(s.parts()[i%len(s.parts())].note),
			// The hub knows the node's clock to a few milliseconds only.
			Zero: m.Start + 0.002*rng.NormFloat64(), ClockError: 0.005,
			Able: true, PPMError: s.PPM,
			Baseline: s.baseline(i, cfg.Mics[i], rng),
		}
		var bytes float64
		chair.Chunks, bytes, err = sent(e, x)
		if err != nil {
			return t, err
		}
		t.Bytes = append(t.Bytes, bytes)
		t.Input.Chairs = append(t.Input.Chairs, chair)
		from := int((t.Input.Start - m.Start) * s.Rate)
		t.Audio = append(t.Audio, heard[i][from:from+int(s.Seconds*s.Rate)])
		t.Truth = append(t.Truth, s.truth(cast[i], t.Input, i))
	}
	return t, nil
}

// block is how many samples a microphone delivers at once: 10 ms at 48 kHz.
const block = 480

// sent is what the node's extraction makes of x, over the wire and back, and
// the most it cost, in bytes a second.
func sent(e *partials.Extractor, x []float64) (chunks []track.Chunk, bytes float64, err error) {
	for len(x) > 0 {
		n := min(block, len(x))
		for _, c := range e.Write(x[:n]) {
			b, err := json.Marshal(c)
			if err != nil {
				return nil, 0, err
			}
			var back track.Chunk
			if err := json.Unmarshal(b, &back); err != nil {
				return nil, 0, err
			}
			if err := back.Validate(); err != nil {
				return nil, 0, err
			}
			bytes = max(bytes, float64(len(b))*back.Rate/float64(back.Samples()))
			chunks = append(chunks, back)
		}
		x = x[n:]
	}
	return chunks, bytes, nil
}

// reference is the called pitch class in the lowest octave of the scene.
func (s Scene) reference() pitch.Hertz {
	if s.Chord {
		return grid
	}
	low := s.parts()[0].note
	for i := range s.Chairs {
		low = min(low, s.parts()[i%len(s.parts())].note)
	}
	return pitch.Reference{}.Frequency(low)
}

// baselineError is how well a chair's mezzo-forte is known from earlier
// readings, dB.
const baselineError = 1.5

// baseline is the chair's mezzo-forte at its own microphone: its instrument
// alone at the usual level, without the room.
func (s Scene) baseline(i int, m room.Mic, rng *rand.Rand) pitch.Level {
	p := s.parts()[i%len(s.parts())]
	t, err := tone.New(tone.Config{Rate: s.Rate, Seed: rng.Uint64(), Voice: p.voice, F0: pitch.Reference{}.Frequency(p.note), Level: usualLevel})
	if err != nil {
		return 0
	}
	r, err := room.New(room.Config{
		Rate: s.Rate, Mode: room.Live, Seats: room.Rows([]int{1}, 1, 1, room.Point{X: 4, Y: 4}),
		Mics: []room.Mic{{HighPass: m.HighPass, GainDB: m.GainDB}},
	}, []room.Stream{&player{t: t}})
	if err != nil {
		return 0
	}
	x := [][]float64{make([]float64, int(s.Rate/4))}
	r.Read(x)
	sum := 0.0
	for _, v := range x[0][len(x[0])/2:] {
		sum += v * v
	}
	return pitch.LevelOf(math.Sqrt(sum/float64(len(x[0])/2))) + pitch.Level(baselineError*rng.NormFloat64())
}

func (s Scene) truth(p *player, in attribute.Input, i int) Truth {
	if p == nil {
		return Truth{}
	}
	from, to := int64(in.Start*s.Rate)-p.total, int64(in.End*s.Rate)-p.total
	hz, ok := p.t.Truth(from, to)
	return Truth{Playing: ok, Hz: hz, Vibrato: i < s.Vibrato}
}
