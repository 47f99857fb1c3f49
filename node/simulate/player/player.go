// Package player simulates brass players and their instruments: what a
// player's note does when a note is called, a slide is moved, or the player
// is told to rest. It knows the truth that a tuning tool must find: where the
// instrument stands when the embouchure is relaxed.
//
// The model, in cents above the called note:
//
//	centre  = the air path by proto/instrument, with the player's own
//	          millimetres per cent, how the instrument is built, the partial's
//	          own tendency, and the cold that is still in it
//	sounded = centre + what the embouchure adds by habit + chance
//
// The habits and their sizes are invented for trials, not measured: players
// can bend 10 to 20 cents at will and play about 19 cents above the bore
// resonance (H. Boutin et al., JASA 137:1195, 2015).
//
// A Player is used by one goroutine; everything random follows from the seed.
package player

import (
	"fmt"
	"maps"
	"math"
	"math/rand/v2"

	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// Habit is what an embouchure does without being asked.
type Habit string

// The habits.
const (
	Relaxed Habit = "relaxed" // plays where the instrument is
	Pincher Habit = "pincher" // starts notes sharp and stays some way up until told to rest
	Holder  Habit = "holder"  // keeps the pitch it remembers when a slide moves
	Drifter Habit = "drifter" // starts where the instrument is and slides away while holding
)

// Wrong is a wrong note that a player starts with, until told.
type Wrong string

// Wrong notes.
const (
	RightNote   Wrong = ""
	ConcertName Wrong = "concert-name" // reads the concert name as a written note
	NextPartial Wrong = "next-partial" // catches the partial above
	OtherSide   Wrong = "other-side"   // double horn: the same valves on the other side
)

// Sizes of the habits.
const (
	pinchedStart = 2.0 // attack of a pincher, as a multiple of where it settles
	holdFollows  = 0.1 // how much of a slide move a holder lets through
	holdLets     = 0.7 // chance that a holder lets go when told to rest and start fresh
	easeOnRest   = 0.6 // share of a pincher's excess that a rest takes away
	driftMean    = 1.0 // cents per second, a drifter's usual glide: a little upwards, as effort grows
	driftSD      = 3.0 // cents per second, its scatter from attack to attack
	noteSeconds  = 3.0 // a called note
	coldSeconds  = 100 // usual time constant of warming in played time
	handMM       = 0.5 // error of setting a slide by eye, SD in mm
)

// Config describes a player and the instrument in their hands.
type Config struct {
	Instrument *instrument.Instrument
	// Settings is where the slides stand; missing ones at their usual place.
	Settings instrument.Settings
	// Build is how the instrument plays with every slide at its usual place,
	// relaxed and warm, against the catalogue's fundamental.
	Build pitch.Cents
	// Ratio is this instrument's true millimetres per cent over the model's; 0 means 1.
	Ratio float64
	// Partials holds the tendencies of single partials on top of the model's harmonics.
	Partials map[int]pitch.Cents
	// TrueTravel is where the slides really end; missing ones as in the catalogue.
	TrueTravel instrument.Settings
	Air        instrument.Air
	Reference  pitch.Reference

	Habit Habit
	// Pinch is where a pincher's notes settle above the centre.
	Pinch pitch.Cents
	// Cold is how flat the instrument stands before a note has been played, and
	// Warming the time constant of its coming up, in seconds of playing; 0 means 100.
	Cold    pitch.Cents
	Warming float64
	// Wrong is the note the player starts with.
	Wrong Wrong
	// Vibrato is its extent peak to peak, 0 for none; VibratoHz 0 means 5.5.
	Vibrato   pitch.Cents
	VibratoHz float64
	// Repeat is the scatter from attack to attack of a relaxed embouchure, SD;
	// 0 means 1.5 cents, negative none.
	Repeat pitch.Cents
	// Level is the usual level at the player's own microphone; 0 means -20 dBFS.
	Level pitch.Level
	Seed  uint64
}

// Player is a simulated player.
type Player struct {
	c        Config
	random   *rand.Rand
	played   float64                     // seconds of sound
	pinch    float64                     // cents
	last     map[instrument.Path]float64 // centre at the last attack, cents from the tempered note
	remember map[instrument.Path]float64 // holder: what the lips keep since a slide moved
	wrong    Wrong
	straight bool
}

// New returns a player. The error says which part of c makes no sense.
func New(c Config) (*Player, error) {
	if c.Instrument == nil {
		return nil, fmt.Errorf("player: no instrument")
	}
	if c.Ratio == 0 {
		c.Ratio = 1
	}
	if c.Ratio < 0.5 || c.Ratio > 2 {
		return nil, fmt.Errorf("player: millimetres per cent %g times the model's, need 0.5 to 2", c.Ratio)
	}
	switch c.Habit {
	case "":
		c.Habit = Relaxed
	case Relaxed, Pincher, Holder, Drifter:
	default:
		return nil, fmt.Errorf("player: habit %q, need relaxed, pincher, holder or drifter", c.Habit)
	}
	if c.Repeat == 0 {
		c.Repeat = 1.5
	}
	c.Repeat = max(0, c.Repeat)
	if c.Level == 0 {
		c.Level = -20
	}
	if c.Warming == 0 {
		c.Warming = coldSeconds
	}
	if c.VibratoHz == 0 {
		c.VibratoHz = 5.5
	}
	c.Settings = maps.Clone(c.Settings)
	if c.Settings == nil {
		c.Settings = instrument.Settings{}
	}
	return &Player{
		c: c, random: rand.New(rand.NewPCG(c.Seed, 0x706c6179)),
		pinch: float64(c.Pinch), wrong: c.Wrong,
		last: map[instrument.Path]float64{}, remember: map[instrument.Path]float64{},
	}, nil
}

// Path is how the player plays a note: the usual way.
func (p *Player) Path(n pitch.Note) instrument.Path {
	if ps := p.c.Instrument.Paths(n); len(ps) > 0 {
		return ps[0]
	}
	return instrument.Path{Partial: 1}
}

// Settings returns where the slides stand.
func (p *Player) Settings() instrument.Settings { return maps.Clone(p.c.Settings) }

// Played returns how many seconds the instrument has sounded.
func (p *Player) Played() float64 { return p.played }

// Warm lets seconds of playing pass.
func (p *Player) Warm(seconds float64) { p.played += seconds }

// Room changes the air in the instrument.
func (p *Player) Room(a instrument.Air) { p.c.Air = a }

// Centre returns where the note lies with a relaxed embouchure: the truth.
func (p *Player) Centre(n pitch.Note) pitch.Hertz { return p.centre(p.Path(n)) }

func (p *Player) centre(path instrument.Path) pitch.Hertz {
	x := p.c.Build + p.c.Partials[path.Partial]
	x -= pitch.Cents(float64(p.c.Cold) * math.Exp(-p.played/p.c.Warming))
	return p.c.Instrument.Pitch(path, p.effective(), p.c.Air).Shift(x)
}

// Settled returns Centre as it will be when the instrument is warm.
func (p *Player) Settled(n pitch.Note) pitch.Hertz {
	warm := *p
	warm.c.Cold = 0
	return warm.Centre(n)
}

// effective turns the settings into those that the model understands: a
// player's own millimetres per cent stretch the distance from the usual place.
func (p *Player) effective() instrument.Settings {
	out := maps.Clone(p.c.Settings)
	for id, mm := range out {
		s, _ := p.c.Instrument.Slide(id)
		out[id] = s.UsualMM + (mm-s.UsualMM)/p.c.Ratio
	}
	return out
}

// CarryOut moves a slide to where it was advised, as well as a hand and an eye
// do it and as far as the slide really goes, and returns where it stands.
func (p *Player) CarryOut(id instrument.SlideID, toMM float64) float64 {
	s, ok := p.c.Instrument.Slide(id)
	if !ok {
		return 0
	}
	end := s.TravelMM
	if mm, ok := p.c.TrueTravel[id]; ok {
		end = mm
	}
	mm := toMM + handMM*p.random.NormFloat64()
	closed := 0.0
	if id == instrument.Hand {
		closed = -end // where first position stands: other positions go further in
	}
	mm = math.Max(closed, math.Min(mm, end))
	p.c.Settings[id] = mm
	if p.c.Habit == Holder {
		p.hold()
	}
	return mm
}

// hold begins to keep what was sounded before a slide moved, unless it is
// being kept already.
func (p *Player) hold() {
	for path, x := range p.last {
		if _, ok := p.remember[path]; !ok {
			p.remember[path] = x
		}
	}
}

// Rest is what a player does when told to rest, breathe and start fresh.
func (p *Player) Rest() {
	p.pinch *= 1 - easeOnRest
	if p.random.Float64() < holdLets {
		clear(p.remember)
	}
}

// Heed does what an answer asks of the embouchure and the ear, by its stable
// code. It reports whether it asks for warm air first, which takes the caller's
// time.
func (p *Player) Heed(code string) (warm bool) {
	switch code {
	case "vibrato":
		p.Straight()
	case "octave", "wrong-side", "transposition", "wrong-partial", "other-note":
		p.Told()
	case "pinched", "eased", "once-more", "unsure", "partly", "held", "tries":
		p.Rest() // each of these says: rest, breathe, start fresh
	case "cold", "warming":
		return true
	}
	return false
}

// Told makes the player play the called note from now on.
func (p *Player) Told() { p.wrong = RightNote }

// Straight makes the player leave out the vibrato from now on.
func (p *Player) Straight() { p.straight = true }
