package moves

import (
	"math"
	"math/rand/v2"

	"bellrow/hub/belief"
	"bellrow/hub/slide"
	"bellrow/node/simulate/player"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// section is one random section in one tune-up.
type section struct {
	chairs []*chair
	pop    Population
	rules  belief.Rules
	air    instrument.Air
	random *rand.Rand // for what happens in the rehearsal
}

// chair is a simulated player and what is counted of them.
type chair struct {
	in       *instrument.Instrument
	player   *player.Player
	habits   []string            // what makes this chair hard, as Habits names it
	tune                         // the note that is asked for now
	tunes    []tune              // all that the main slide is set from
	settings instrument.Settings // as the player reads them off

	holds    int  // judged moves that were held in truth
	accused  bool // told that the embouchure held the pitch
	warned   bool // asked for a fresh attack while holding in truth
	judged   bool
	moves    int
	wrongWay int
	notes    int

	config  player.Config // of the player on this day
	began   float64       // seconds of playing before the tune-up
	profile belief.Profile

	called     int  // which of the tunes is asked for
	heldAtNote bool // the last note was held in truth
	farMoved   bool // moved by 8 cents or more since it was heard

	comes, leaves float64 // when, in seconds
	never, early  bool
}

// tune is one tuning note of a chair.
type tune struct {
	note   pitch.Note
	target pitch.Hertz
	theory pitch.Cents // where the note lies by nature, from its target
}

// tuneOf is the note of a pitch class on an instrument, false for one that does
// not tell where the main slide belongs.
func tuneOf(in *instrument.Instrument, class int) (tune, bool) {
	n := in.TuningNote(pitch.Note(class))
	ps := in.Paths(n)
	if len(ps) == 0 || !in.Tells(ps[0]) {
		return tune{}, false
	}
	return tune{n, pitch.Reference{}.Frequency(n), in.Tendency(ps[0])}, true
}

// The ensemble that sections are drawn from.
var ensemble = []instrument.ID{
	"trumpet_bb", "trumpet_bb", "trumpet_bb", "cornet_bb", "flugelhorn_bb", "horn_double", "horn_f", "tenor_horn_eb",
	"tenor_trombone_bb", "tenor_trombone_bbf", "bass_trombone_bb", "baritone_bb_tc", "euphonium_bb_bc", "tuba_eb", "tuba_bbb", "tuba_f",
}

// Population says how a section is made up, as shares of its players.
type Population struct {
	Pinchers, Holders, Drifters float64
	Late                        float64 // cold instruments: the others have warmed up
	Wrong                       float64 // begin with a wrong note
	Vibrato                     float64
	NearEnds                    float64 // main slide nearly closed, or nearly off
	// Scatter is from attack to attack of a relaxed embouchure, SD in cents, and
	// Differ how players differ in it, as a logarithm.
	Scatter, Differ float64
	// Notes is how many notes a tune-up takes of each player: 1, or 2 or 3 from
	// which the main slide is set. 0 means 1.
	Notes int
	// Drift is how fast the pitch of the whole section rises, in cents a minute.
	Drift float64
	// AtOnce is how many play at once where the row is heard together first, and Read
	// which share of them the fit over all laptops then reads (testdata/results/together.md).
	AtOnce int
	Read   float64
	Manners
}

// Manners are what people do in a rehearsal beside playing, as shares.
type Manners struct {
	Away   float64 // of calls: looks away, and notices seconds later
	Comes  float64 // of players: come in after the beginning
	Asks   float64 // of notes: the player wants to be heard once more
	Never  float64 // of players: never play
	Leaves float64 // of players: leave in the middle
	Early  float64 // of players: play before they are asked, once
}

// What else makes a chair hard, beside the habits of player.Habit.
const (
	ownMillimetres = "own mm per cent"
	coldInstrument = "cold"
	wrongNote      = "wrong note"
	withVibrato    = "vibrato"
	endOfSlide     = "end of slide"
	plain          = "none of these"
)

// ownRatio is how far a chair's millimetres per cent differ from the model's,
// as a logarithm, before the breakdown names it: one standard deviation.
const ownRatio = ratioSD

// DefaultPopulation is invented: one or two of everything in a section of 12.
var DefaultPopulation = Population{
	Pinchers: 0.12, Holders: 0.15, Drifters: 0.15, Late: 0.12, Wrong: 0.08, Vibrato: 0.12, NearEnds: 0.12,
	Scatter: 1.5, AtOnce: 12, Read: 0.32, Manners: Manners{Away: 0.05, Comes: 0.03, Asks: 0.02},
}

// How players and instruments differ (invented for the trial).
const (
	buildSD     = 6     // cents: how instruments differ at their usual places
	settingSD   = 5     // mm: where slides were left
	ratioSD     = 0.07  // of millimetres per cent
	roomSD      = 2     // °C around 20
	warmedUp    = 400.0 // seconds of playing behind a warm player
	lateSeconds = 90    // the most that a late player has played
	// warmingSeconds is the usual time constant of warming up, warmingSD its
	// scatter as a logarithm: tubas take longer than trumpets, and rooms differ.
	warmingSeconds = 100
	warmingSD      = 0.3
	ownTendency    = 4 // cents: what single partials of an instrument have of their own, SD
	reachSlackMM   = 2 // a chair must be able to get in tune
)

func newSection(seed uint64, chairs int, pop Population) (*section, error) {
	r := rand.New(rand.NewPCG(seed, 0x74726961))
	s := &section{pop: pop, random: rand.New(rand.NewPCG(seed, 0x72656865))}
	s.air = instrument.Air{TemperatureC: 20 + roomSD*r.NormFloat64(), Humidity: 0.5}
	for len(s.chairs) < chairs {
		c, err := newChair(r, s.air, pop)
		if err != nil {
			return nil, err
		}
		if c.reachable() {
			s.chairs = append(s.chairs, c)
		}
	}
	return s, nil
}

func newChair(r *rand.Rand, air instrument.Air, pop Population) (*chair, error) {
	in, err := instrument.Find(ensemble[r.IntN(len(ensemble))])
	if err != nil {
		return nil, err
	}
	c := &chair{in: in, settings: instrument.Settings{}}
	habit := pop.habit(r)
	if habit != player.Relaxed {
		c.has(string(habit))
	}
	// B flat, horns F; then what else tells, in another partial. The target is the
	// equal-tempered note; the main slide is set right when the note stands where
	// theory puts it beside that: 2 cents for a third partial.
	classes := []int{10, 5, 3, 0, 8, 7}
	if in.Family == "horn" {
		classes = []int{5, 10, 0, 3, 8, 7}
	}
	own := map[int]pitch.Cents{}
	for _, class := range classes {
		t, ok := tuneOf(in, class)
		if !ok {
			continue
		}
		partial := in.Paths(t.note)[0].Partial
		if _, has := own[partial]; has || len(c.tunes) == max(1, pop.Notes) {
			continue
		}
		own[partial] = 0
		if pop.Notes > 1 {
			own[partial] = pitch.Cents(ownTendency * r.NormFloat64())
		}
		c.tunes = append(c.tunes, t)
	}
	c.tune = c.tunes[0]
	mm, build := pop.stands(r, c)
	c.settings[instrument.Main] = mm
	cfg := player.Config{
		Instrument: in, Settings: c.settings, Build: build, Air: air, Partials: own,
		Ratio: math.Exp(ratioSD * r.NormFloat64()), Habit: habit, Seed: r.Uint64(),
		Level: pitch.Level(-22 + 4*r.NormFloat64()), Pinch: pitch.Cents(6 + 8*r.Float64()),
		Repeat: pitch.Cents(pop.Scatter * math.Exp(pop.Differ*r.NormFloat64())),
	}
	played := warmedUp
	if math.Abs(math.Log(cfg.Ratio)) > ownRatio {
		c.has(ownMillimetres)
	}
	if r.Float64() < pop.Late {
		c.has(coldInstrument)
		cfg.Cold = pitch.Cents(8 + 17*r.Float64())
		cfg.Warming = warmingSeconds * math.Exp(warmingSD*r.NormFloat64())
		played = lateSeconds * r.Float64()
	}
	if cfg.Wrong = pop.wrong(r, in); cfg.Wrong != player.RightNote {
		c.has(wrongNote)
	}
	if r.Float64() < pop.Vibrato {
		c.has(withVibrato)
		cfg.Vibrato = pitch.Cents(20 + 30*r.Float64())
	}
	c.config, c.began = cfg, played
	pop.manners(r, c)
	return c, c.takeOut()
}

// takeOut makes the player of a day, with the instrument as it was left.
func (c *chair) takeOut() (err error) {
	c.config.Settings = c.settings
	if c.player, err = player.New(c.config); err != nil {
		return err
	}
	c.player.Warm(c.began)
	return nil
}

// tomorrow is the same section on another day: the slides stand elsewhere, and
// chance falls anew.
func (s *section) tomorrow(day uint64) (*section, error) {
	t := &section{pop: s.pop, rules: s.rules, air: s.air, random: s.random}
	for _, old := range s.chairs {
		c := &chair{in: old.in, habits: old.habits, tune: old.tunes[0], tunes: old.tunes, config: old.config, began: old.began,
			profile: old.profile, comes: old.comes, leaves: old.leaves, never: old.never, early: old.early}
		main, _ := c.in.Slide(instrument.Main)
		_, hi := slide.Limits(main)
		for {
			c.config.Seed += day << 32
			c.settings = instrument.Settings{instrument.Main: math.Max(0, math.Min(hi, old.settings[instrument.Main]+settingSD*s.random.NormFloat64()))}
			if err := c.takeOut(); err != nil {
				return nil, err
			}
			if c.reachable() {
				break
			}
		}
		t.chairs = append(t.chairs, c)
	}
	return t, nil
}

// manners draws what the player does beside playing.
func (pop Population) manners(r *rand.Rand, c *chair) {
	c.leaves = math.Inf(1)
	switch x := r.Float64(); {
	case x < pop.Comes:
		c.comes = 20 + 70*r.Float64()
	case x < pop.Comes+pop.Never:
		c.never = true
	case x < pop.Comes+pop.Never+pop.Leaves:
		c.leaves = 20 + 100*r.Float64()
	case x < pop.Comes+pop.Never+pop.Leaves+pop.Early:
		c.early = true
	}
}

// has notes what makes the chair hard.
func (c *chair) has(what string) { c.habits = append(c.habits, what) }

// stands draws where the main slide was left, and how the instrument is built.
func (pop Population) stands(r *rand.Rand, c *chair) (mm float64, build pitch.Cents) {
	main, _ := c.in.Slide(instrument.Main)
	_, hi := slide.Limits(main)
	mm = math.Max(0, math.Min(hi, main.UsualMM+settingSD*r.NormFloat64()))
	build = pitch.Cents(buildSD * r.NormFloat64())
	if r.Float64() >= pop.NearEnds {
		return mm, build
	}
	c.has(endOfSlide)
	mm = math.Round(1 + 2*r.Float64()) // nearly closed, or nearly as far out as is safe
	if r.IntN(2) == 0 {
		mm = hi - 1 - 2*r.Float64()
	}
	// Such a player has it there for a reason: the instrument is built so.
	build -= c.in.CentsPerMM(c.in.Paths(c.note)[0], instrument.Main, nil) * pitch.Cents(mm-main.UsualMM)
	return mm, build
}

func (pop Population) habit(r *rand.Rand) player.Habit {
	switch x := r.Float64(); {
	case x < pop.Pinchers:
		return player.Pincher
	case x < pop.Pinchers+pop.Holders:
		return player.Holder
	case x < pop.Pinchers+pop.Holders+pop.Drifters:
		return player.Drifter
	}
	return player.Relaxed
}

func (pop Population) wrong(r *rand.Rand, in *instrument.Instrument) player.Wrong {
	x, kind := r.Float64(), r.IntN(3)
	if x >= pop.Wrong {
		return player.RightNote
	}
	switch {
	case kind == 0 && in.Double:
		return player.OtherSide
	case kind == 1 && in.Transposition%12 != 0:
		return player.ConcertName
	}
	return player.NextPartial
}

// reachable reports whether the chair's slide can bring it in tune at all;
// others need a technician, not a tune-up.
func (c *chair) reachable() bool {
	main, _ := c.in.Slide(instrument.Main)
	lo, hi := slide.Limits(main)
	to := c.settings[instrument.Main] + c.truthMM()
	return to > lo+reachSlackMM && to < hi-reachSlackMM
}

// truth is where the main slide stands with a relaxed embouchure and a warm
// instrument, in cents from right: the mean over the tuning notes.
func (c *chair) truth() float64 {
	sum := 0.0
	for _, t := range c.tunes {
		sum += float64(pitch.Between(t.target, c.player.Settled(t.note)) - t.theory)
	}
	return sum / float64(len(c.tunes))
}

// truthMM is about the move that would bring it to its target.
func (c *chair) truthMM() float64 {
	return c.in.MoveMM(c.in.Paths(c.note)[0], instrument.Main, c.settings, pitch.Cents(-c.truth()))
}

// carryOut makes a move and counts it.
func (c *chair) carryOut(id instrument.SlideID, toMM float64) {
	before := c.truth()
	from := c.in.MM(c.settings, id)
	if (toMM-from)*before < 0 { // pulling flattens: right when sharp
		c.wrongWay++
	}
	c.moves++
	s, _ := c.in.Slide(id)
	stands := c.player.CarryOut(id, toMM)
	c.settings[id] = toMM
	if math.Abs(stands-toMM) > 2 || stands >= s.TravelMM {
		c.settings[id] = math.Round(stands) // the player sees that it does not go
	}
}

// carryBy moves the main slide by so many millimetres.
func (c *chair) carryBy(mm float64) { c.carryOut(instrument.Main, c.settings[instrument.Main]+mm) }

// judge counts what was made of the last move against the truth.
func (c *chair) judge(v slide.Verdict, holding bool) {
	if v == slide.Small {
		return
	}
	c.judged = true
	if holding {
		c.holds++
		c.warned = c.warned || v == slide.Held || v == slide.Unsure || v == slide.Partly
	}
	c.accused = c.accused || v == slide.Held
}
