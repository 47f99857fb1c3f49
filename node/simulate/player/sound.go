package player

import (
	"math"

	"bellrow/node/listen"
	"bellrow/node/simulate/tone"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// Sound is one attack of a note: what there is to hear of it.
type Sound struct {
	Note pitch.Note // the note that was meant to be called
	// Hz is where the pitch rests.
	Hz pitch.Hertz
	// Early is where it starts relative to Hz, closing in with the time
	// constant EarlySeconds.
	Early        pitch.Cents
	EarlySeconds float64
	// Drift is a slow glide away from Hz while the note sounds, in cents per second.
	Drift float64
	// VibratoCents is peak to peak; 0 for none.
	VibratoCents pitch.Cents
	VibratoHz    float64
	// Wander is the RMS of the slow unsteadiness.
	Wander  pitch.Cents
	Level   pitch.Level
	Seconds float64
	// Centre is where a relaxed embouchure would have sounded.
	Centre pitch.Hertz
	family string
	seed   uint64
}

// Sounding attacks the called sounding note once, holds it and lets it end.
func (p *Player) Sounding(n pitch.Note) Sound { return p.attack(n, 0, false) }

// Lipped is the note bent to a target by watching a meter: the slide and the
// centre stay, the player bends as far as lips go.
func (p *Player) Lipped(n pitch.Note, target pitch.Hertz) Sound { return p.attack(n, target, true) }

// lipUp and lipDown bound a willing bend in cents: down is easy, up is hard
// (bgoff.org, Trumpet Tips 105).
const (
	lipUp   = 15
	lipDown = 40
)

func (p *Player) attack(n pitch.Note, target pitch.Hertz, meter bool) Sound {
	path := p.wrongPath(n)
	s := Sound{
		Note: n, Centre: p.centre(path), Level: p.c.Level + pitch.Level(1.5*p.random.NormFloat64()),
		Early: -20, EarlySeconds: 0.05, Wander: 1, Seconds: noteSeconds,
		family: p.c.Instrument.Family, seed: p.random.Uint64(),
	}
	x := p.embouchure(path, s.Centre, &s)
	if meter {
		x = math.Max(-lipDown, math.Min(lipUp, float64(pitch.Between(s.Centre, target))))
	}
	x += float64(p.c.Repeat) * p.random.NormFloat64()
	s.Hz = s.Centre.Shift(pitch.Cents(x))
	if p.c.Vibrato > 0 && !p.straight {
		s.VibratoCents, s.VibratoHz = p.c.Vibrato, p.c.VibratoHz
	}
	p.played += s.Seconds
	return s
}

// embouchure returns what the lips add to the centre, by habit, in cents.
func (p *Player) embouchure(path instrument.Path, centre pitch.Hertz, s *Sound) float64 {
	switch p.c.Habit {
	case Pincher:
		s.Early, s.EarlySeconds = pitch.Cents((pinchedStart-1)*p.pinch), 0.4
		return p.pinch
	case Drifter:
		s.Drift = driftMean + driftSD*p.random.NormFloat64()
		return 0
	case Holder:
		now := float64(p.c.Reference.Offset(p.c.Instrument.Sounds(path), centre))
		held, ok := p.remember[path]
		if !ok {
			p.last[path] = now
			return 0
		}
		return (1 - holdFollows) * (held - now)
	}
	return 0
}

// wrongPath is the air path the player really blows.
func (p *Player) wrongPath(n pitch.Note) instrument.Path {
	in := p.c.Instrument
	switch p.wrong {
	case ConcertName:
		return p.Path(in.Sounding(n))
	case NextPartial:
		path := p.Path(n)
		path.Partial++
		return path
	case OtherSide:
		path := p.Path(n)
		if path.Side == "Bb" {
			path.Side = "F"
		} else if path.Side == "F" {
			path.Side = "Bb"
		}
		return path
	}
	return p.Path(n)
}

// What a listener makes of a sound, for Reading. The figures are measured: 48
// notes of a relaxed player on four instruments, synthesized by
// node/simulate/tone and read by node/listen, rounded upwards.
const (
	readingDoubt = 0.2  // cents: half width of the 95 % interval of the stretch's mean
	wanderLeft   = 0.5  // share of Wander that is left in that mean, SD
	earlyDoubt   = 0.8  // cents, SD of Early of a steady note
	driftDoubt   = 1.1  // cents per second, SD of Drift of a steady note
	listenFrom   = 0.12 // seconds after the onset: the measured stretch
	listenTo     = 1.6
	shortestRest = 0.5 // seconds: the settle rule's hold
	earlyTo      = 0.3 // Reading.Early looks from listenFrom to here

	steadyVibrato = 16  // cents peak to peak; more is called vibrato
	steepest      = 6.0 // cents per second; more is not at rest
	modelRate     = 48000
)

// Reading is what a node would report of s: the shortcut for trials that need
// thousands of readings.
func (p *Player) Reading(s Sound) listen.Reading {
	from := s.rests()
	middle := (from + listenTo) / 2
	at := s.mean(from, listenTo)
	slope := float64(s.mean(middle, listenTo)-s.mean(from, middle)) / ((listenTo - from) / 2)
	doubt := math.Hypot(readingDoubt/1.96, wanderLeft*float64(s.Wander))
	r := listen.Reading{
		Start: int64(from * modelRate), End: int64(listenTo * modelRate),
		CI95: pitch.IntervalOf(doubt), Spread: 2 * s.Wander,
		Drift: slope + driftDoubt*p.random.NormFloat64(),
		Level: s.Level, Peak: s.Level + 1, Floor: -60, Settled: true,
	}
	r.Hz = s.Hz.Shift(at + pitch.Cents(doubt*p.random.NormFloat64()))
	r.Early = s.mean(listenFrom, earlyTo) - at + pitch.Cents(earlyDoubt*p.random.NormFloat64())
	if s.VibratoCents > 0 {
		r.Vibrato = &listen.Vibrato{RateHz: s.VibratoHz, Extent: s.VibratoCents}
		if s.VibratoCents > steadyVibrato {
			r.Settled, r.Reason = false, listen.ReasonVibrato
		}
	}
	if math.Abs(r.Drift) > steepest {
		r.Settled, r.Reason = false, listen.ReasonMoving
	}
	return r
}

// rests is when the pitch has come to rest, in seconds after the onset: what
// moves faster than the settle rule lets pass is left out of the reading.
func (s Sound) rests() float64 {
	t := s.EarlySeconds * math.Log(math.Abs(float64(s.Early))/(s.EarlySeconds*steepest))
	if !(t > listenFrom) {
		return listenFrom
	}
	return min(t, listenTo-shortestRest)
}

// away is how far the pitch lies from Hz at t seconds after the onset.
func (s Sound) away(t float64) pitch.Cents {
	return s.Early*pitch.Cents(math.Exp(-t/s.EarlySeconds)) + pitch.Cents(s.Drift*t)
}

// mean is the mean of away from one moment to another.
func (s Sound) mean(from, to float64) pitch.Cents {
	scoop := s.EarlySeconds / (to - from) * (math.Exp(-from/s.EarlySeconds) - math.Exp(-to/s.EarlySeconds))
	return s.Early*pitch.Cents(scoop) + pitch.Cents(s.Drift*(from+to)/2)
}

var voices = map[string]tone.Voice{
	"trumpet": tone.Trumpet, "horn": tone.Horn, "trombone": tone.Trombone,
	"euphonium": tone.Euphonium, "tuba": tone.Tuba,
}

// Tone is s as a description for the synthesizer, with the imperfections of a
// good amateur; the caller sets the rate.
func (s Sound) Tone() tone.Config {
	return tone.Natural(tone.Config{
		Seed: s.seed, F0: s.Hz, Level: s.Level, Voice: voices[s.family], Duration: s.Seconds,
		Path:      s.away,
		VibratoHz: s.VibratoHz, VibratoCents: s.VibratoCents, Wander: s.Wander,
	})
}

// Holding reports whether the next attack of the note would be held away from
// the centre by remembered pitch: the truth that follow-through must find.
func (p *Player) Holding(n pitch.Note) bool {
	_, ok := p.remember[p.Path(n)]
	return p.c.Habit == Holder && ok
}
