package habits

import (
	"math"
	"math/rand/v2"
	"time"

	"bellrow/hub/history"
	"bellrow/proto/pitch"
)

// Strength is how large a given habit is in the simulation, drawn evenly
// between Low and High for each player. All sizes are invented: nobody has
// measured how large such habits are among brass players.
type strength struct {
	low, high float64
	unit      string
}

var strengths = map[history.Habit]strength{
	history.Pinching:  {10, 18, "cents above the rest a fifth of a second into a note"},
	history.Sagging:   {3.5, 6, "cents a second"},
	history.Holding:   {0, 0.25, "share of a slide move that comes through"},
	history.Cold:      {12, 22, "cents flat when cold, and tuned cold nine days of ten"},
	history.Drifting:  {12, 20, "cents an hour, up or down"},
	history.Loudness:  {6, 10, "cents for 10 dB"},
	history.Wandering: {12, 18, "cents from day to day, SD"},
}

// Habits in the order of the table.
var habits = []history.Habit{
	history.Pinching, history.Sagging, history.Holding, history.Cold, history.Drifting, history.Loudness, history.Wandering,
}

// player is one simulated person. What everybody has a little of is drawn for
// each; the habit, if any, comes on top.
type player struct {
	random *rand.Rand
	habit  history.Habit // empty for none
	size   float64       // of the habit

	build     float64 // cents with the slide at its usual place, warm
	perC      float64 // cents per °C that this instrument follows the room
	ratio     float64 // true cents per mm over the model's
	early     float64 // everyday start of a note, cents above its rest
	sag       float64 // everyday sinking, cents per second
	loud      float64 // everyday cents per 10 dB
	tire      float64 // everyday cents per hour
	chill     float64 // cents flat when stone cold
	coldShare float64 // share of days on which tuning happens cold
	noise     float64 // cents from attack to attack
	wander    wander  // from day to day

	tendencies map[pitch.Note]float64
	main       float64 // where the main slide stands, mm
	kept       float64 // what the lips keep after a move, cents
	mistyped   bool    // today's setting
	moved      bool    // today, by 6 cents or more
	rec        history.Player
}

const (
	usualMM    = 13.0
	centsPerMM = -2.35 // of a B flat trumpet's main slide, by the model
)

func newPlayer(r *rand.Rand, h history.Habit, scale float64) *player {
	n := func(mean, sd float64) float64 { return mean + sd*r.NormFloat64() }
	p := &player{
		random: r, habit: h,
		build: n(0, 8), perC: 1 + 2*r.Float64(), ratio: n(1, 0.1),
		early: n(2, 1.5), sag: n(0.2, 0.4), loud: n(0.4, 0.5), tire: n(0, 1.2),
		chill: 4 + 8*r.Float64(), coldShare: 0.15 * r.Float64(), noise: 1 + r.Float64(),
		wander: wander{random: r, rms: 1 + 1.5*r.Float64()}, tendencies: map[pitch.Note]float64{}, main: usualMM,
	}
	if s, ok := strengths[h]; ok {
		p.size = scale * (s.low + (s.high-s.low)*r.Float64())
		if h == history.Holding {
			p.size = 1 - scale*(1-p.size/scale) // what comes through
		}
	}
	switch h {
	case history.Pinching:
		p.early = p.size
	case history.Sagging:
		p.sag = p.size
	case history.Cold:
		p.chill, p.coldShare = p.size, 0.9
	case history.Drifting:
		p.tire = p.size
		if r.IntN(2) == 0 {
			p.tire = -p.size
		}
	case history.Loudness:
		p.loud = p.size
	}
	return p
}

// wander is a player from day to day: the sum of three lazy steps of different
// pace, which is close to 1/f (R. F. Voss and J. Clarke, J. Acoust. Soc. Am.
// 63:258, 1978, generate it so).
type wander struct {
	random *rand.Rand
	rms    float64
	parts  [3]float64
	begun  bool
}

func (w *wander) next() float64 {
	sum := 0.0
	for i := range w.parts {
		if !w.begun || w.random.Float64() < math.Pow(4, -float64(i)) {
			w.parts[i] = w.rms / math.Sqrt(3) * w.random.NormFloat64()
		}
		sum += w.parts[i]
	}
	w.begun = true
	return sum
}

// note plays one note and measures it: a path of pitch at 50 values a second,
// with an attack that dies away and a wandering lip, and from it the figures
// that a listener would give.
func (p *player) note(centre, level float64) (offset, early, drift float64) {
	const rate, seconds = 50, 2.0
	tau := 0.12 + 0.2*p.random.Float64()
	start := p.early * (0.5 + p.random.Float64()) * math.Exp(0.2/tau)
	if p.random.IntN(12) == 0 {
		start -= 8 * p.random.Float64() // scooped from below
	}
	sag := p.sag + 0.6*p.random.NormFloat64()
	lip := wander{random: p.random, rms: p.noise}
	attack := p.noise * tailed(p.random)
	var head, rest, at, slope, square float64
	heads, rests := 0, 0
	for i := range int(seconds * rate) {
		t := float64(i) / rate
		y := centre + attack + start*math.Exp(-t/tau) - sag*t + lip.next()
		switch {
		case t >= 0.12 && t < 0.3:
			head += y
			heads++
		case t >= 0.6:
			rest += y
			at += t
			rests++
			slope += (t - 1.3) * y
			square += (t - 1.3) * (t - 1.3)
		}
	}
	offset = rest / float64(rests)
	return offset, head/float64(heads) - offset, slope / square
}

// tailed is noise with tails: Student's t of four degrees of freedom, scaled
// to a variance of about one.
func tailed(r *rand.Rand) float64 {
	s := 0.0
	for range 4 {
		x := r.NormFloat64()
		s += x * x
	}
	return r.NormFloat64() / math.Sqrt(s/4) / math.Sqrt2
}

// weather is what a section shares: the room of a day and how it warms, in °C
// against the usual.
type weather struct {
	start, perHour float64
	hour           time.Time
}

// rehearse plays one day: tuning notes, moves, and notes caught while the
// section plays.
func (p *player) rehearse(w weather) {
	p.moved = false
	today := p.wander.next()
	if p.habit == history.Wandering {
		today += p.size * p.random.NormFloat64()
	}
	played := 360 + 300*p.random.Float64()
	if p.random.Float64() < p.coldShare {
		played = 10 + 30*p.random.Float64()
	}
	begin := played
	sound := func(at time.Duration, note pitch.Note, level float64, watch bool) history.Reading {
		hours := at.Hours()
		t, ok := p.tendencies[note]
		if !ok {
			t = 6 * p.random.NormFloat64()
			p.tendencies[note] = t
		}
		own := p.build + today + t + p.perC*(w.start+w.perHour*hours) + p.tire*hours +
			p.loud*(level+22)/10 - p.chill*math.Exp(-played/100)
		slide := centsPerMM * p.ratio * (p.main - usualMM)
		offset, early, drift := p.note(own+slide+p.kept, level)
		if p.random.IntN(50) == 0 {
			offset += 25 * tailed(p.random) // a neighbour, or another note altogether
		}
		r := history.Reading{
			At: w.hour.Add(at), Lead: 1.09, Note: note, Offset: pitch.Cents(offset), Level: pitch.Level(level),
			Early: pitch.Cents(early), Drift: drift, Played: played, Watch: watch,
			MainMM: p.main, UsualMM: usualMM, CentsPerMM: centsPerMM,
		}
		p.rec.Readings = append(p.rec.Readings, r)
		played += 3
		return r
	}
	level := func(sd float64) float64 { return -22 + sd*p.random.NormFloat64() }
	at := time.Duration(0)
	pause := func() { at += time.Duration(20+40*p.random.Float64()) * time.Second }
	for range 1 + p.random.IntN(4) {
		r := sound(at, 58, level(1.5), false)
		pause()
		if math.Abs(float64(r.Offset)) > 5 {
			p.move(w.hour.Add(at), float64(r.Offset), sound, &at)
			pause()
		}
	}
	played = begin + 600
	notes := []pitch.Note{53, 55, 57, 58, 60, 62, 63, 65}
	for range 5 + p.random.IntN(21) {
		played += 150
		at = time.Duration(10*60+p.random.Float64()*75*60) * time.Second
		sound(at, notes[p.random.IntN(len(notes))], level(5), true)
	}
	p.kept *= 0.5 // over night the lips let go in part
	mm := p.main
	if p.mistyped = p.random.IntN(40) == 0; p.mistyped {
		mm += 10
	}
	p.rec.Settings = append(p.rec.Settings, history.Setting{At: w.hour.Add(90 * time.Minute), MM: mm})
}

// move follows an advice by eye; a holder's lips keep most of the old pitch.
func (p *player) move(at time.Time, offset float64, sound func(time.Duration, pitch.Note, float64, bool) history.Reading, when *time.Duration) {
	expected := -offset
	p.moved = p.moved || math.Abs(expected) >= tellingMove
	before := p.main
	p.main = max(0, p.main+expected/centsPerMM+0.5*p.random.NormFloat64())
	through := 1.0
	switch {
	case p.habit == history.Holding:
		through = p.size + 0.1*p.random.NormFloat64()
	case p.random.IntN(15) == 0:
		through = p.random.Float64() // anybody's lips hold now and then
	}
	change := centsPerMM * p.ratio * (p.main - before)
	p.kept -= (1 - through) * change
	r := sound(*when, 58, -22, false)
	p.rec.Moves = append(p.rec.Moves, history.Move{
		At: at, Expected: pitch.Cents(centsPerMM * (p.main - before)), Measured: r.Offset - pitch.Cents(offset),
	})
	p.kept *= 0.5 // in time the lips let go
}
