package instrument

import (
	"math"

	"bellrow/proto/pitch"
)

// Semitones by which each valve lowers, valve 1 first. The fifth and sixth of a
// tuba are a whole tone and a semitone that are in tune with the fourth down: by
// themselves they are long, "flat" ones (common practice, no source; makers
// differ, and their slides let players choose).
var valveSemitones = [maxValves]int{2, 1, 3, 5, 2, 1}

// attachmentSemitones is what an F attachment lowers, and how far the F side
// of a double horn lies below its B flat side.
const attachmentSemitones = 5

// secondValveSemitones is what the second valve of a bass trombone lowers by
// itself, bothValvesSemitones what both are used for (common practice, no
// source).
const (
	secondValveSemitones = 4
	bothValvesSemitones  = 8
)

// brassExpansion is the thermal expansion of brass per kelvin (from memory).
// It opposes the air by about a hundredth; UNSW calls it negligible.
const brassExpansion = 19e-6

// defaultSpeed is the speed of sound in DefaultAir, the air in which slides at
// their usual places give Instrument.Fundamental.
var defaultSpeed = SpeedOfSound(DefaultAir)

func semitoneRatio(n float64) float64 { return math.Exp2(n / 12) }

// EffectiveLength returns the length in metres of an air path with the first
// resonance f1 at a speed of sound in m/s: c/(2 f1). It is 5 to 10 % more than
// the tube measures, and it is the one that slides act on.
func EffectiveLength(speed float64, f1 pitch.Hertz) float64 {
	return speed / (2 * float64(f1))
}

// ValveTube returns what a valve adds to an air path to lower it by so many
// semitones, in the unit of length (T. R. Moore, Acoustics Today, Winter 2016,
// p. 38).
func ValveTube(length, semitones float64) float64 {
	return length * (semitoneRatio(semitones) - 1)
}

// PositionMM returns how far a hand slide stands out in a position, 1 for
// closed, on an air path of the given effective length in metres.
func PositionMM(lengthM, position float64) float64 {
	return 1000 * ValveTube(lengthM, position-1) / 2
}

// open returns the effective length of the open air path of a side with every
// slide at its usual place, in metres.
func (in *Instrument) open(side string) float64 {
	l := EffectiveLength(defaultSpeed, in.Fundamental)
	if in.Double && side == "Bb" {
		l /= semitoneRatio(attachmentSemitones)
	}
	if in.HandSlide {
		l += in.attached(l, side)
	}
	return l
}

// attached returns what the valves of a trombone add to an open tube of length
// l. Both together add both tubes, which lowers by 8.08 semitones.
func (in *Instrument) attached(l float64, side string) (added float64) {
	if in.Attachment && (side == "F" || side == "D") {
		added += ValveTube(l, attachmentSemitones)
	}
	if in.SecondValve && (side == "Gb" || side == "D") {
		added += ValveTube(l, secondValveSemitones)
	}
	return added
}

// loop returns what a valve alone adds, as a share of the open length.
func (in *Instrument) loop(valve int) float64 {
	if valve <= len(in.Loops) {
		return in.Loops[valve-1]
	}
	tube := ValveTube(1, float64(valveSemitones[valve-1]))
	if valve > 4 {
		tube *= semitoneRatio(float64(valveSemitones[3]))
	}
	return tube
}

// lengthFactor returns the air path with the pressed valves over the open one.
// Each valve adds the same tube whatever else is pressed, so combinations fall
// short: players know them as sharp. Compensation repeats the other valves in the
// proportion of the last: the fourth, or the third of three.
func (in *Instrument) lengthFactor(p Path) float64 {
	sum, last := 0.0, 0.0
	for _, v := range p.pressed() {
		if in.Compensating && v == in.Valves {
			last = in.loop(v)
			continue
		}
		sum += in.loop(v)
	}
	return (1 + last) * (1 + sum)
}

// HandMM returns where the hand slide stands for p, in mm out of closed, with
// first position at offsetMM: (L/2)(2^((p-1)/12) - 1). It is not limited to
// the slide's travel. 0 without a hand slide.
func (in *Instrument) HandMM(p Path, offsetMM float64) float64 {
	if !in.HandSlide || p.Position == 0 {
		return 0
	}
	return PositionMM(in.open(p.Side), p.Position) + offsetMM
}

// Length returns the effective length of the air path of p, in metres, with
// slides as set, at the temperature of the air. A hand slide goes no further
// than its travel.
func (in *Instrument) Length(p Path, set Settings, air Air) float64 {
	l := in.open(p.Side) * in.lengthFactor(p)
	for _, s := range in.Slides {
		if !in.Serves(s.ID, p) {
			continue
		}
		mm := set.at(s) - s.UsualMM
		if s.ID == Hand {
			mm = min(max(in.HandMM(p, set.at(s)), 0), s.TravelMM)
		}
		l += float64(s.Legs) * mm / 1000
	}
	return l * (1 + brassExpansion*(air.orDefault().TemperatureC-DefaultAir.TemperatureC))
}

// Pitch returns the sounding pitch of p by the model: the harmonic Partial of
// c/(2 L). Partial 0 counts as 1.
func (in *Instrument) Pitch(p Path, set Settings, air Air) pitch.Hertz {
	return pitch.Hertz(float64(max(1, p.Partial)) * SpeedOfSound(air) / (2 * in.Length(p, set, air)))
}

// CentsPerMM returns how far a millimetre out on a slide moves p, in cents at
// the present setting: negative, and 0 when the slide does not serve p.
func (in *Instrument) CentsPerMM(p Path, id SlideID, set Settings) pitch.Cents {
	s, ok := in.Slide(id)
	if !ok || !in.Serves(id, p) {
		return 0
	}
	return pitch.Cents(-1200 / math.Ln2 * float64(s.Legs) / (1000 * in.Length(p, set, DefaultAir)))
}

// MoveMM returns the travel that changes the pitch of p by x, in mm, positive
// out: (L/legs)(2^(-x/1200) - 1). It is 0 when the slide does not serve p.
func (in *Instrument) MoveMM(p Path, id SlideID, set Settings, x pitch.Cents) float64 {
	s, ok := in.Slide(id)
	if !ok || s.Legs == 0 || !in.Serves(id, p) {
		return 0
	}
	return Travel(in.Length(p, set, DefaultAir), s.Legs, x)
}

// Travel returns the slide travel in mm, positive out, that changes the pitch
// of a tube of the given effective length in metres by x cents.
func Travel(lengthM float64, legs int, x pitch.Cents) float64 {
	return 1000 * lengthM / float64(legs) * (math.Exp2(-float64(x)/1200) - 1)
}

// Tendency returns where theory puts p against the equal-tempered note it
// sounds: the deviation of the harmonic plus the sharpness of the valve
// combination, all slides at their usual places. Real instruments depart from
// it; it is shown beside a reading and never applied to one.
func (in *Instrument) Tendency(p Path) pitch.Cents {
	if !in.Tuned() {
		return 0
	}
	return pitch.Reference{}.Offset(in.Sounds(p), in.Pitch(p, nil, DefaultAir))
}

// Serves reports whether moving a slide changes p.
func (in *Instrument) Serves(id SlideID, p Path) bool {
	if _, ok := in.Slide(id); !ok {
		return false
	}
	switch id {
	case Main, Bell:
		return true
	case Hand:
		return p.Position > 0
	case FMain:
		return p.Side == "F" || p.Side == "D"
	case GbMain:
		return p.Side == "Gb" || p.Side == "D"
	case BbMain:
		return p.Side == "Bb"
	case First, Second, Third, Fourth, Fifth, Sixth:
		return p.presses(valveOf[id]) && !(in.Double && p.Side == "Bb")
	case BbFirst, BbSecond, BbThird:
		return p.presses(valveOf[id]) && p.Side == "Bb"
	}
	return false
}

var valveOf = map[SlideID]int{First: 1, Second: 2, Third: 3, Fourth: 4, Fifth: 5, Sixth: 6, BbFirst: 1, BbSecond: 2, BbThird: 3}

// Slide finds a slide.
func (in *Instrument) Slide(id SlideID) (Slide, bool) {
	for _, s := range in.Slides {
		if s.ID == id {
			return s, true
		}
	}
	return Slide{}, false
}

// MM returns where a slide stands by set: its usual place when set says nothing.
func (in *Instrument) MM(set Settings, id SlideID) float64 {
	s, _ := in.Slide(id)
	return set.at(s)
}

func (set Settings) at(s Slide) float64 {
	if mm, ok := set[s.ID]; ok {
		return mm
	}
	return s.UsualMM
}

// WithTravel returns a copy whose slides have the travel a player measured.
// Slides not in travel, and travels that are not positive, stay as they are.
func (in *Instrument) WithTravel(travel Settings) *Instrument {
	if len(travel) == 0 {
		return in
	}
	c := *in
	c.Slides = append([]Slide(nil), in.Slides...)
	for i := range c.Slides {
		if mm := travel[c.Slides[i].ID]; mm > 0 {
			c.Slides[i].TravelMM = mm
		}
	}
	return &c
}
