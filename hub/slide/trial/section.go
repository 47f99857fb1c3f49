package trial

import (
	"math"
	"math/rand/v2"

	"bellrow/hub/slide"
	"bellrow/node/listen"
	"bellrow/node/simulate/player"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// section is one random section in one tune-up.
type section struct {
	chairs  []*chair
	seconds float64
	// again has a player play the note once more after a move, before the next
	// player's turn.
	again bool
	// coldLast has cold instruments warm up from the start and called last.
	coldLast bool
}

// chair is a simulated player and what the hub keeps of them.
type chair struct {
	in       *instrument.Instrument
	player   *player.Player
	habit    player.Habit
	note     pitch.Note
	target   pitch.Hertz
	settings instrument.Settings // as the hub knows them

	memory   slide.Memory
	holding  bool    // the present note is held away from the centre, in truth
	holds    int     // judged moves that were held in truth
	sentAt   float64 // when the player was sent to warm up; 0 = not
	accused  bool    // told that the embouchure held the pitch
	warned   bool    // asked for a fresh attack while holding in truth
	judged   bool
	moves    int
	wrongWay int
	notes    int
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
}

// DefaultPopulation is invented: one or two of everything in a section of 12.
var DefaultPopulation = Population{
	Pinchers: 0.12, Holders: 0.15, Drifters: 0.15, Late: 0.12, Wrong: 0.08, Vibrato: 0.12, NearEnds: 0.12,
}

// How players and instruments differ (invented for the trial).
const (
	buildSD      = 6     // cents: how instruments differ at their usual places
	settingSD    = 5     // mm: where slides were left
	ratioSD      = 0.07  // of millimetres per cent
	roomSD       = 2     // °C around 20
	warmedUp     = 400.0 // seconds of playing behind a warm player
	lateSeconds  = 90    // the most that a late player has played
	reachSlackMM = 2     // a chair must be able to get in tune
)

func newSection(seed uint64, chairs int, pop Population) (*section, error) {
	r := rand.New(rand.NewPCG(seed, 0x74726961))
	s := &section{}
	air := instrument.Air{TemperatureC: 20 + roomSD*r.NormFloat64(), Humidity: 0.5}
	for len(s.chairs) < chairs {
		c, err := newChair(r, air, pop)
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
	c := &chair{in: in, habit: pop.habit(r), settings: instrument.Settings{}}
	const bFlat, f = 10, 5
	c.note = in.TuningNote(bFlat)
	if in.Family == "horn" {
		c.note = in.TuningNote(f)
	}
	// The target is the equal-tempered note. Tuning notes are even partials or
	// thirds of the series; what theory says of a third is 2 cents.
	c.target = pitch.Reference{}.Frequency(c.note)
	mm, build := pop.stands(r, c)
	c.settings[instrument.Main] = mm
	cfg := player.Config{
		Instrument: in, Settings: c.settings, Build: build, Air: air,
		Ratio: math.Exp(ratioSD * r.NormFloat64()), Habit: c.habit, Seed: r.Uint64(),
		Level: pitch.Level(-22 + 4*r.NormFloat64()), Pinch: pitch.Cents(6 + 8*r.Float64()),
	}
	played := warmedUp
	if r.Float64() < pop.Late {
		cfg.Cold = pitch.Cents(8 + 17*r.Float64())
		played = lateSeconds * r.Float64()
	}
	cfg.Wrong = pop.wrong(r, in)
	if r.Float64() < pop.Vibrato {
		cfg.Vibrato = pitch.Cents(20 + 30*r.Float64())
	}
	if c.player, err = player.New(cfg); err != nil {
		return nil, err
	}
	c.player.Warm(played)
	return c, nil
}

// stands draws where the main slide was left, and how the instrument is built.
func (pop Population) stands(r *rand.Rand, c *chair) (mm float64, build pitch.Cents) {
	main, _ := c.in.Slide(instrument.Main)
	_, hi := slide.Limits(main)
	mm = math.Max(0, math.Min(hi, main.UsualMM+settingSD*r.NormFloat64()))
	build = pitch.Cents(buildSD * r.NormFloat64())
	if r.Float64() >= pop.NearEnds {
		return mm, build
	}
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

// truth is where the chair stands with a relaxed embouchure and a warm
// instrument, in cents from the target.
func (c *chair) truth() float64 {
	return float64(pitch.Between(c.target, c.player.Settled(c.note)))
}

// truthMM is about the move that would bring it to its target.
func (c *chair) truthMM() float64 {
	return c.in.MoveMM(c.in.Paths(c.note)[0], instrument.Main, c.settings, pitch.Cents(-c.truth()))
}

func (s *section) inTune() int {
	n := 0
	for _, c := range s.chairs {
		if math.Abs(c.truth()) <= goodCents {
			n++
		}
	}
	return n
}

// carryOut makes a move of the main slide and counts it.
func (c *chair) carryOut(toMM float64) {
	before := c.truth()
	from := c.settings[instrument.Main]
	if (toMM-from)*before < 0 { // pulling flattens: right when sharp
		c.wrongWay++
	}
	c.moves++
	main, _ := c.in.Slide(instrument.Main)
	stands := c.player.CarryOut(instrument.Main, toMM)
	c.settings[instrument.Main] = toMM
	if math.Abs(stands-toMM) > 2 || stands >= main.TravelMM {
		c.settings[instrument.Main] = math.Round(stands) // the player sees that it does not go
	}
}

// count adds the chair's figures to the result.
func (c *chair) count(r *Result) {
	r.Moves += c.moves
	r.WrongWay += c.wrongWay
	r.Notes += float64(c.notes)
	switch {
	case c.holds > 0:
		r.Holders++
		if !c.warned {
			r.Missed++
		}
		if c.accused {
			r.Named++
		}
	case c.judged:
		r.Innocent++
		if c.accused {
			r.Accused++
		}
	}
}

// wire is what of a reading reaches the hub.
func wire(r listen.Reading) slide.Reading {
	return slide.Reading{
		Hz: r.Hz, CI95: r.CI95, Spread: r.Spread, Drift: r.Drift, Level: r.Level, Early: r.Early,
		Settled: r.Settled, Reason: string(r.Reason),
	}
}
