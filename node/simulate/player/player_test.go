package player

import (
	"math"
	"testing"

	"bellrow/node/listen"
	"bellrow/node/simulate/tone"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

const bFlat4, f4 = 70, 65

func trumpet(t testing.TB, change func(*Config)) *Player {
	t.Helper()
	in, err := instrument.Find("trumpet_bb")
	if err != nil {
		t.Fatal(err)
	}
	c := Config{Instrument: in, Repeat: -1, Seed: 1}
	if change != nil {
		change(&c)
	}
	p, err := New(c)
	if err != nil {
		t.Fatal(err)
	}
	p.Warm(2000)
	return p
}

func offset(h pitch.Hertz, n pitch.Note) float64 { return float64(pitch.Reference{}.Offset(n, h)) }

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s is %.3f, want %.3f ± %g", what, got, want, tol)
	}
}

func TestRelaxedPlaysWhereTheInstrumentIs(t *testing.T) {
	p := trumpet(t, func(c *Config) { c.Build = 9 })
	near(t, "offset", offset(p.Sounding(bFlat4).Hz, bFlat4), 9, 0.01)
	near(t, "truth", offset(p.Centre(bFlat4), bFlat4), 9, 0.01)
}

// The slide acts by the acoustics, stretched by the player's own ratio.
func TestCarryOutFollowsTheAcoustics(t *testing.T) {
	for _, ratio := range []float64{1, 1.25} {
		p := trumpet(t, func(c *Config) { c.Ratio = ratio })
		before := p.Centre(bFlat4)
		from := p.c.Instrument.MM(nil, instrument.Main)
		stands := p.CarryOut(instrument.Main, from+10)
		want := pitch.Between(
			p.c.Instrument.Pitch(p.Path(bFlat4), nil, instrument.Air{}),
			p.c.Instrument.Pitch(p.Path(bFlat4), instrument.Settings{instrument.Main: from + (stands-from)/ratio}, instrument.Air{}))
		near(t, "change", float64(pitch.Between(before, p.Centre(bFlat4))), float64(want), 1e-6)
		near(t, "set by eye", stands, from+10, 4*handMM)
	}
}

func TestSlidesEnd(t *testing.T) {
	p := trumpet(t, func(c *Config) { c.TrueTravel = instrument.Settings{instrument.Main: 20} })
	if mm := p.CarryOut(instrument.Main, 40); mm != 20 {
		t.Errorf("a slide of 20 mm stands at %g", mm)
	}
	if mm := p.CarryOut(instrument.Main, -5); mm != 0 {
		t.Errorf("a slide pushed through the tube stands at %g", mm)
	}
	if mm := p.CarryOut("no such slide", 5); mm != 0 || p.Settings()["no such slide"] != 0 {
		t.Error("a slide that does not exist was set")
	}
}

func TestPincherComesDownWithRest(t *testing.T) {
	p := trumpet(t, func(c *Config) { c.Habit, c.Pinch = Pincher, 10 })
	s := p.Sounding(bFlat4)
	near(t, "first note", offset(s.Hz, bFlat4), 10, 0.01)
	if s.Early <= 0 {
		t.Errorf("a pinched attack starts %+.1f cents from where it settles, want above", float64(s.Early))
	}
	p.Rest()
	near(t, "after a rest", offset(p.Sounding(bFlat4).Hz, bFlat4), 4, 0.01)
	near(t, "the truth all along", offset(p.Centre(bFlat4), bFlat4), 0, 0.01)
}

func TestHolderKeepsTheOldPitch(t *testing.T) {
	p := trumpet(t, func(c *Config) { c.Habit = Holder })
	before := p.Sounding(bFlat4).Hz
	p.CarryOut(instrument.Main, p.c.Instrument.MM(nil, instrument.Main)+9)
	moved := float64(pitch.Between(before, p.Centre(bFlat4)))
	heard := float64(pitch.Between(before, p.Sounding(bFlat4).Hz))
	near(t, "share of the move that is heard", heard/moved, holdFollows, 0.001)
	if !p.Holding(bFlat4) {
		t.Error("the truth is not told")
	}
	for range 20 { // each rest lets go with a chance of holdLets
		p.Rest()
	}
	near(t, "after rests", float64(pitch.Between(before, p.Sounding(bFlat4).Hz)), moved, 0.001)
}

func TestDrifterSlidesAway(t *testing.T) {
	p := trumpet(t, func(c *Config) { c.Habit = Drifter })
	sum, sumSquare := 0.0, 0.0
	const n = 400
	for range n {
		s := p.Sounding(bFlat4)
		near(t, "where the note starts", offset(s.Hz, bFlat4), 0, 0.01)
		sum += s.Drift
		sumSquare += s.Drift * s.Drift
	}
	near(t, "mean glide", sum/n, driftMean, 0.5)
	near(t, "scatter of the glide", math.Sqrt(sumSquare/n-sum/n*sum/n), driftSD, 0.4)
}

func TestColdComesUp(t *testing.T) {
	in, _ := instrument.Find("tuba_bbb")
	p, err := New(Config{Instrument: in, Cold: 20, Repeat: -1})
	if err != nil {
		t.Fatal(err)
	}
	const bFlat2 = 46
	near(t, "cold", offset(p.Centre(bFlat2), bFlat2), -20, 0.01)
	near(t, "settled", offset(p.Settled(bFlat2), bFlat2), 0, 0.01)
	p.Warm(coldSeconds)
	near(t, "after one time constant", offset(p.Centre(bFlat2), bFlat2), -20/math.E, 0.01)
	last := p.Centre(bFlat2)
	for range 5 {
		p.Sounding(bFlat2)
		if now := p.Centre(bFlat2); now <= last {
			t.Fatal("playing does not warm the instrument")
		} else {
			last = now
		}
	}
}

func TestWrongNotes(t *testing.T) {
	p := trumpet(t, func(c *Config) { c.Wrong = ConcertName })
	near(t, "concert name read as written", offset(p.Sounding(bFlat4).Hz, bFlat4), -200, 20)
	p.Told()
	near(t, "once told", offset(p.Sounding(bFlat4).Hz, bFlat4), 0, 0.01)
	p = trumpet(t, func(c *Config) { c.Wrong = NextPartial })
	near(t, "the partial above the fourth", offset(p.Sounding(bFlat4).Hz, bFlat4), 386.3, 0.1)
	horn, _ := instrument.Find("horn_double")
	p, err := New(Config{Instrument: horn, Wrong: OtherSide, Repeat: -1})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "the other side of a horn", offset(p.Sounding(f4).Hz, f4), -500, 3)
}

func TestLippedReachesTheTargetAndLeavesTheInstrument(t *testing.T) {
	p := trumpet(t, func(c *Config) { c.Build = 12 })
	target := pitch.Reference{}.Frequency(bFlat4)
	near(t, "bent to the meter", offset(p.Lipped(bFlat4, target).Hz, bFlat4), 0, 0.01)
	near(t, "the instrument", offset(p.Centre(bFlat4), bFlat4), 12, 0.01)
	low := trumpet(t, func(c *Config) { c.Build = -30 })
	near(t, "lips do not go up 30 cents", offset(low.Lipped(bFlat4, target).Hz, bFlat4), -30+lipUp, 0.01)
}

// What is true of a sound is found by its reading, give or take the wander
// that is left in it.
func TestReadingScatter(t *testing.T) {
	p := trumpet(t, nil)
	sum, square := 0.0, 0.0
	const n = 2000
	for range n {
		s := p.Sounding(bFlat4)
		r := p.Reading(s)
		if !r.Settled {
			t.Fatalf("a steady note is %q", r.Reason)
		}
		d := float64(pitch.Between(s.Hz, r.Hz) - s.mean(listenFrom, listenTo))
		sum += d
		square += d * d
	}
	near(t, "mean error, cents", sum/n, 0, 0.05)
	near(t, "scatter, cents", math.Sqrt(square/n), 0.51, 0.05)
}

// mean is the mean of away, by adding up.
func TestMean(t *testing.T) {
	s := Sound{Early: 8, EarlySeconds: 0.4, Drift: -2}
	sum := 0.0
	const n = 20000
	for i := range n {
		sum += float64(s.away(0.12 + (1.6-0.12)*(float64(i)+0.5)/n))
	}
	near(t, "mean", float64(s.mean(0.12, 1.6)), sum/n, 1e-6)
}

// The shortcut agrees with the real path through synthesis and listening, on
// relaxed and on pinched notes.
func TestReadingAgreesWithListening(t *testing.T) {
	if testing.Short() {
		t.Skip("synthesizes and listens for several seconds")
	}
	for _, c := range []struct {
		habit Habit
		pinch pitch.Cents
	}{{Relaxed, 0}, {Pincher, 10}} {
		var heard, model listen.Reading
		const notes = 6
		for seed := range uint64(notes) {
			p := trumpet(t, func(cfg *Config) { cfg.Habit, cfg.Pinch, cfg.Seed = c.habit, c.pinch, seed+1 })
			s := p.Sounding(bFlat4)
			add(t, &heard, hear(t, s), s, notes)
			add(t, &model, p.Reading(s), s, notes)
		}
		near(t, string(c.habit)+": mean departure from the pitch, cents", float64(heard.Spread), float64(model.Spread), 1)
		near(t, string(c.habit)+": mean early, cents", float64(heard.Early), float64(model.Early), 1.5)
		near(t, string(c.habit)+": mean drift, cents per second", heard.Drift, model.Drift, 2)
	}
}

// add sums a reading's departures into means; Spread stands for that of Hz.
func add(t *testing.T, sum *listen.Reading, r listen.Reading, s Sound, notes int) {
	t.Helper()
	if !r.Hz.Valid() {
		t.Fatal("a note was not heard")
	}
	sum.Spread += pitch.Between(s.Hz, r.Hz) / pitch.Cents(notes)
	sum.Early += r.Early / pitch.Cents(notes)
	sum.Drift += r.Drift / float64(notes)
}

// hear synthesizes one sound and returns the listener's first reading.
func hear(t *testing.T, s Sound) listen.Reading {
	t.Helper()
	const rate = 16000 // enough for a trumpet's first partials, and cheap
	c := s.Tone()
	c.Rate, c.Duration = rate, 2.2
	sound, err := tone.New(c)
	if err != nil {
		t.Fatal(err)
	}
	l, err := listen.New(listen.Config{Rate: rate, ClockPPM: -1})
	if err != nil {
		t.Fatal(err)
	}
	samples := make([]float64, 3*rate)
	sound.Read(samples[rate/2:])
	for _, e := range append(l.Write(samples), l.Flush()...) {
		if e.Reading != nil {
			return *e.Reading
		}
	}
	return listen.Reading{}
}

func TestReadingTellsVibratoAndPinch(t *testing.T) {
	p := trumpet(t, func(c *Config) { c.Vibrato = 40 })
	if r := p.Reading(p.Sounding(bFlat4)); r.Settled || r.Reason != listen.ReasonVibrato {
		t.Errorf("vibrato of 40 cents: %+v", r)
	}
	p.Straight()
	if r := p.Reading(p.Sounding(bFlat4)); !r.Settled || r.Vibrato != nil {
		t.Errorf("a straight note: %+v", r)
	}
	p = trumpet(t, func(c *Config) { c.Habit, c.Pinch = Pincher, 12 })
	if r := p.Reading(p.Sounding(bFlat4)); r.Drift >= 0 {
		t.Errorf("a pinched note drifts by %+.1f cents a second, want down", r.Drift)
	}
}

// The same sound, synthesized: a Tone of it starts where the Sound says and
// comes to rest at its pitch.
func TestToneIsTheSound(t *testing.T) {
	p := trumpet(t, func(c *Config) { c.Habit, c.Pinch = Pincher, 12 })
	s := p.Sounding(bFlat4)
	c := s.Tone()
	near(t, "start", float64(c.Path(0)), float64(s.Early), 1e-9)
	near(t, "rest", float64(c.Path(3)), 0, 0.1)
	if c.F0 != s.Hz || c.Voice != tone.Trumpet || c.Level != s.Level {
		t.Errorf("%+v is not %+v", c, s)
	}
	c.Rate = 48000
	if _, err := tone.New(c); err != nil {
		t.Error(err)
	}
}

func TestSeedsReproduce(t *testing.T) {
	a, b := trumpet(t, func(c *Config) { c.Repeat = 0 }), trumpet(t, func(c *Config) { c.Repeat = 0 })
	other := trumpet(t, func(c *Config) { c.Repeat, c.Seed = 0, 2 })
	for range 5 {
		x, y, z := a.Sounding(bFlat4), b.Sounding(bFlat4), other.Sounding(bFlat4)
		if x.Hz != y.Hz || x.Hz == z.Hz {
			t.Fatalf("%v, %v, and with another seed %v", x.Hz, y.Hz, z.Hz)
		}
	}
}

func TestNewRefuses(t *testing.T) {
	in, _ := instrument.Find("trumpet_bb")
	for name, c := range map[string]Config{"no instrument": {}, "a ratio of 5": {Instrument: in, Ratio: 5}, "an unknown habit": {Instrument: in, Habit: "sleeper"}} {
		if _, err := New(c); err == nil {
			t.Errorf("%s: accepted", name)
		}
	}
}
