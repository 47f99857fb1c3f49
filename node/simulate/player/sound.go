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
	// Drift is a slow glide while the note sounds, in cents per second.
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
		s.Drift = -p.pinch / 8
		return p.pinch
	case Drifter:
		p.drift += driftStep * p.random.NormFloat64()
		p.drift = math.Max(-driftBound, math.Min(driftBound, p.drift))
		s.Drift = 0.1 * p.drift
		return p.drift
	case Holder:
		now := float64(p.c.Reference.Offset(p.c.Instrument.Sounds(path), centre))
		held, ok := p.remember[path]
		if !ok {
			p.remember[path] = now
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

// Bounds of what a listener makes of a sound, for Reading.
const (
	steadyVibrato pitch.Cents = 16 // peak to peak; more is called vibrato
	readingDoubt  pitch.Cents = 1.2
	listenSeconds             = 1.0 // measured stretch, after listenAfter
	listenAfter               = 0.3
	modelRate                 = 48000
)

// Reading is what a node would report of s: the shortcut for trials that need
// thousands of readings. Its interval is honest: the error it adds has the
// standard deviation that CI95 claims.
func (p *Player) Reading(s Sound) listen.Reading {
	doubt := readingDoubt + s.Wander/2
	middle := listenAfter + listenSeconds/2
	at := s.Early*pitch.Cents(math.Exp(-middle/s.EarlySeconds)) + pitch.Cents(s.Drift*(middle-1))
	r := listen.Reading{
		Onset: 0, Start: int64(listenAfter * modelRate), End: int64((listenAfter + listenSeconds) * modelRate),
		CI95: doubt, Spread: 1.5 * s.Wander,
		Drift: s.Drift - float64(s.Early)/s.EarlySeconds*math.Exp(-middle/s.EarlySeconds),
		Level: s.Level, Peak: s.Level + 1, Floor: -60, Settled: true,
	}
	r.Hz = s.Hz.Shift(at + pitch.Cents(float64(doubt)/1.96*p.random.NormFloat64()))
	r.Early = s.Early*pitch.Cents(math.Exp(-0.2/s.EarlySeconds)) - at
	if s.VibratoCents > 0 {
		r.Vibrato = &listen.Vibrato{RateHz: s.VibratoHz, Extent: s.VibratoCents}
		if s.VibratoCents > steadyVibrato {
			r.Settled, r.Reason = false, listen.ReasonVibrato
		}
	}
	if math.Abs(r.Drift) > 12 {
		r.Settled, r.Reason = false, listen.ReasonMoving
	}
	return r
}

var voices = map[string]tone.Voice{
	"trumpet": tone.Trumpet, "horn": tone.Horn, "trombone": tone.Trombone,
	"euphonium": tone.Euphonium, "tuba": tone.Tuba,
}

// Tone is s as a description for the synthesizer, with the imperfections of a
// good amateur; the caller sets the rate.
func (s Sound) Tone() tone.Config {
	glide := func(t float64) pitch.Cents { return pitch.Cents(s.Drift * (t - 1)) }
	return tone.Natural(tone.Config{
		Seed: s.seed, F0: s.Hz, Level: s.Level, Voice: voices[s.family], Duration: s.Seconds,
		Path:      tone.Together(tone.Scoop(s.Early, s.EarlySeconds), glide),
		VibratoHz: s.VibratoHz, VibratoCents: s.VibratoCents, Wander: s.Wander,
	})
}
