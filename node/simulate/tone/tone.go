// Package tone makes lip-driven test sound whose pitch is known exactly.
//
// A brass tone is periodic because the lips drive the air: its partials are
// exact multiples of one fundamental even where the resonances of the
// instrument are not (Fletcher and Rossing, The Physics of Musical
// Instruments, 1998, chapter 14). So a Tone has one phase, from which every
// partial follows; what is added to it is what a player and a room add: a
// wander of 1/f character, cycle-to-cycle jitter, partials that swell and
// fade, breath noise, reflections. None of it is taken from the estimator: no
// windows, no frames, no shared model.
//
// Pitch is in Hz, deviations in cents, levels in dBFS (RMS of a full-scale
// sine is 0), time in seconds from the first sample. Everything is
// reproducible from Config.Seed. A Tone is used by one goroutine at a time.
package tone

import (
	"fmt"
	"math"
	"math/rand/v2"

	"bellrow/proto/pitch"
)

// Config describes a tone. The zero value of each field means "none of it",
// so that Config{Rate: 48000, F0: 440, Level: -20} is a steady bare tone.
type Config struct {
	// Rate is the sample rate in Hz.
	Rate float64
	// Seed fixes everything random.
	Seed uint64
	// F0 is the pitch that everything below departs from.
	F0 pitch.Hertz
	// Level is the RMS level of the sounding tone without breath and room.
	Level pitch.Level
	// Voice shapes the spectrum; the zero value is Plain.
	Voice Voice
	// Brightness moves the spectral slope: 0 is mezzo-forte, +1 brassy, -1 soft.
	Brightness float64
	// Duration in seconds; 0 sounds for ever.
	Duration float64
	// Attack and Release are the times of the amplitude's rise and fall.
	Attack, Release float64

	// Path is the deliberate departure from F0 at time t; see Scoop and Fall.
	Path func(t float64) pitch.Cents
	// VibratoHz and VibratoCents are its rate and its extent peak to peak.
	VibratoHz    float64
	VibratoCents pitch.Cents
	// Wander is the RMS of the slow 1/f wander of the pitch.
	Wander pitch.Cents
	// Jitter is the RMS of the cycle-to-cycle variation.
	Jitter pitch.Cents
	// ShimmerDB is the RMS of each partial's own slow wander in level.
	ShimmerDB float64
	// BreathDB is the level of breath noise relative to the tone, and 0 for none.
	BreathDB float64
	// HighpassHz takes away what a laptop's microphone does not hear
	// (4th-order Butterworth), and 0 for none.
	HighpassHz float64
	// Room adds reflections; nil is an anechoic room.
	Room *Room
}

// Natural returns c with the imperfections of a good amateur on a held note,
// where c leaves them zero (common practice, no source).
func Natural(c Config) Config {
	set := func(p *float64, v float64) {
		if *p == 0 {
			*p = v
		}
	}
	if c.Wander == 0 {
		c.Wander = 1.2
	}
	if c.Jitter == 0 {
		c.Jitter = 1
	}
	set(&c.ShimmerDB, 0.7)
	set(&c.BreathDB, -38)
	set(&c.Attack, 0.04)
	set(&c.Release, 0.08)
	if c.Path == nil {
		c.Path = Scoop(-25, 0.05)
	}
	return c
}

// tickSamples is how often slow things move: 1.3 ms at 48 kHz, far quicker
// than anything a player does, so that linear motion between is exact enough
// to be the truth.
const tickSamples = 64

// historyTicks bounds the memory of Truth: about 87 s at 48 kHz.
const historyTicks = 1 << 16

// A Tone is a source of samples.
type Tone struct {
	cfg    Config
	random *rand.Rand
	n      int64 // samples made

	phase    float64 // cycles since the start
	history  []float64
	cents    float64 // deviation now
	slope    float64 // its change per sample until the next tick
	cycle    float64 // jitter of the present cycle, cents
	wander   wander
	partials []partial
	gain     float64

	breath breath
	high   *highpass
	room   *room
}

// New returns a Tone.
func New(c Config) (*Tone, error) {
	if !(c.Rate >= 8000 && c.Rate <= 192000) {
		return nil, fmt.Errorf("tone: rate of %g Hz, need 8000 to 192000", c.Rate)
	}
	if !(c.F0 >= 10 && float64(c.F0) < c.Rate/4) {
		return nil, fmt.Errorf("tone: pitch of %g Hz, need 10 to a quarter of the rate", float64(c.F0))
	}
	t := &Tone{cfg: c, random: rand.New(rand.NewPCG(c.Seed, 0x62656c6c))}
	t.wander = newWander(t.random, c.Rate/tickSamples)
	t.partials = newPartials(c, t.random)
	t.gain = math.Pow(10, float64(c.Level)/20)
	t.phase = t.random.Float64()
	t.breath = newBreath(c, t.random)
	if c.HighpassHz > 0 {
		t.high = newHighpass(c.HighpassHz, c.Rate)
	}
	if c.Room != nil {
		t.room = newRoom(*c.Room, c.Rate, t.random)
	}
	t.history = make([]float64, 0, 1024)
	t.cents = t.deviation(0)
	return t, nil
}

// deviation is the pitch's departure from F0 at sample n, jitter apart.
func (t *Tone) deviation(n int64) float64 {
	s := float64(n) / t.cfg.Rate
	d := t.wander.value * float64(t.cfg.Wander)
	if t.cfg.Path != nil {
		d += float64(t.cfg.Path(s))
	}
	if t.cfg.VibratoHz > 0 {
		d += float64(t.cfg.VibratoCents) / 2 * math.Sin(2*math.Pi*t.cfg.VibratoHz*s)
	}
	return d
}

// Read fills dst with the next samples and returns how many there were: fewer
// than len(dst) only when Duration and the room's tail have passed.
func (t *Tone) Read(dst []float64) int {
	for i := range dst {
		if t.ended() {
			return i
		}
		dst[i] = t.sample()
	}
	return len(dst)
}

func (t *Tone) ended() bool {
	if t.cfg.Duration <= 0 {
		return false
	}
	tail := 0.0
	if t.room != nil {
		tail = t.cfg.Room.Decay
	}
	return float64(t.n) >= (t.cfg.Duration+tail)*t.cfg.Rate
}

func (t *Tone) sample() float64 {
	if t.n%tickSamples == 0 {
		t.tick()
	}
	out := 0.0
	if env := t.envelope(float64(t.n) / t.cfg.Rate); env > 0 {
		out = t.gain * env * (t.voiced() + t.breath.next(t.random))
	}
	t.advance()
	t.n++
	if t.high != nil {
		out = t.high.next(out)
	}
	if t.room != nil {
		out = t.room.next(out)
	}
	return out
}

// tick moves the slow things and records the phase.
func (t *Tone) tick() {
	if len(t.history) == historyTicks {
		copy(t.history, t.history[historyTicks/2:])
		t.history = t.history[:historyTicks/2]
	}
	t.history = append(t.history, t.phase)
	t.wander.step(t.random)
	next := t.deviation(t.n + tickSamples)
	t.slope = (next - t.cents) / tickSamples
	for i := range t.partials {
		t.partials[i].step(t.random, t.cfg.ShimmerDB)
	}
}

// voiced is the periodic part: Σ a_k cos(2π k φ + θ_k), RMS 1/√2.
func (t *Tone) voiced() float64 {
	s, c := math.Sincos(2 * math.Pi * (t.phase - math.Floor(t.phase)))
	re, im, sum, k := 1.0, 0.0, 0.0, 0
	for i := range t.partials {
		p := &t.partials[i]
		for ; k < p.k; k++ {
			re, im = re*c-im*s, re*s+im*c
		}
		p.amplitude += p.slope
		sum += p.amplitude * (re*p.cos - im*p.sin)
	}
	return sum
}

// advance moves the phase by one sample.
func (t *Tone) advance() {
	before := math.Floor(t.phase)
	t.phase += float64(t.cfg.F0) * math.Exp2((t.cents+t.slope/2+t.cycle)/1200) / t.cfg.Rate
	t.cents += t.slope
	if t.cfg.Jitter > 0 && math.Floor(t.phase) != before {
		t.cycle = t.random.NormFloat64() * float64(t.cfg.Jitter)
	}
}

func (t *Tone) envelope(s float64) float64 {
	env := 1.0
	if t.cfg.Attack > 0 && s < t.cfg.Attack {
		env = 0.5 - 0.5*math.Cos(math.Pi*s/t.cfg.Attack)
	}
	if d := t.cfg.Duration; d > 0 {
		switch left := d - s; {
		case left <= 0:
			return 0
		case left < t.cfg.Release:
			env *= 0.5 - 0.5*math.Cos(math.Pi*left/t.cfg.Release)
		}
	}
	return env
}

// Amplitudes returns the amplitudes of the partials as written, that of the
// fundamental first: what a bound on any estimator needs to know.
func (t *Tone) Amplitudes() []float64 {
	out := make([]float64, len(t.partials))
	for i, p := range t.partials {
		out[i] = t.gain * p.written
	}
	return out
}

// Samples returns how many samples have been read.
func (t *Tone) Samples() int64 { return t.n }

// Truth returns the mean pitch between two samples: cycles over time. It is
// exact but for the jitter inside one tick, and false when the stretch has
// not been read yet or is forgotten.
func (t *Tone) Truth(from, to int64) (pitch.Hertz, bool) {
	a, okA := t.phaseAt(from)
	b, okB := t.phaseAt(to)
	if !okA || !okB || to <= from {
		return 0, false
	}
	return pitch.Hertz((b - a) * t.cfg.Rate / float64(to-from)), true
}

// phaseAt interpolates the recorded phase.
func (t *Tone) phaseAt(n int64) (float64, bool) {
	if n == t.n {
		return t.phase, true
	}
	ticks := (t.n + tickSamples - 1) / tickSamples
	forgotten := ticks - int64(len(t.history))
	i := n/tickSamples - forgotten
	if n < 0 || n > t.n || i < 0 || i >= int64(len(t.history)) {
		return 0, false
	}
	a, b, span := t.history[i], t.phase, t.n-(i+forgotten)*tickSamples
	if i+1 < int64(len(t.history)) {
		b, span = t.history[i+1], tickSamples
	}
	return a + (b-a)*float64(n%tickSamples)/float64(span), true
}
