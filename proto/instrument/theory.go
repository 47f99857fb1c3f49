package instrument

import (
	"math"

	"bellrow/proto/pitch"
)

// Theory is where a note should lie by nature on an instrument that is built
// in tune, in cents from the equal-tempered note.
type Theory struct {
	Partial pitch.Cents `json:"partial_cents"` // the harmonic's own deviation
	Valves  pitch.Cents `json:"valves_cents"`  // what the pressed valves together fall short of
}

// Cents is the whole of it.
func (t Theory) Cents() pitch.Cents { return t.Partial + t.Valves }

// Real instruments depart from theory: many makers raise the fifth partial (M.
// Everett, The Instrumentalist, June 2020), on some it is reported sharp, and
// valve tubes are made longer or shorter so that combinations share their
// errors. How far is from memory: some cents everywhere, two thirds of what
// theory says, and more for the third valve alone, which is often made long for
// the combinations.
const (
	partialDoubt = 5.0
	valveDoubt   = 2.0
	thirdDoubt   = 8.0
	theoryDoubt  = 2.0 / 3
)

// PartialDoubt is how far a partial of a real instrument may lie from theory,
// as a standard deviation in cents.
func (t Theory) PartialDoubt() float64 {
	return math.Hypot(partialDoubt, theoryDoubt*float64(t.Partial))
}

// ValveDoubt is the same of a fingering, 0 for an open tube.
func (in *Instrument) ValveDoubt(p Path) float64 {
	base := valveDoubt
	switch vs := p.pressed(); {
	case len(vs) == 0:
		base = 0
	case len(vs) == 1 && vs[0] == 3:
		base = thirdDoubt
	}
	return math.Hypot(base, theoryDoubt*float64(in.Theory(p).Valves))
}

// Theory divides Tendency of a path into its two causes.
func (in *Instrument) Theory(p Path) Theory {
	if !in.Tuned() {
		return Theory{}
	}
	k := max(1, p.Partial)
	partial := pitch.Cents(1200*math.Log2(float64(k)) - 100*float64(harmonic(k)))
	return Theory{Partial: partial, Valves: in.Tendency(p) - partial}
}

// TellsBelow is the theory, in cents either way, from which one note says too
// little of where the main slide belongs: what instruments make of their own
// nature is then as large as what is to be found.
const TellsBelow pitch.Cents = 5

// Nature is the theory that has to be taken out of a note before a main slide is
// blamed: 0 where partial and valves each lie below TellsBelow, since the note
// itself is then what has to be in tune with the others. Two large causes that
// cancel are still two doubts.
func (in *Instrument) Nature(p Path) pitch.Cents {
	t := in.Theory(p)
	if math.Abs(float64(t.Partial)) >= float64(TellsBelow) || math.Abs(float64(t.Valves)) >= float64(TellsBelow) {
		return t.Cents()
	}
	return 0
}

// Tells reports whether one note on a path tells where the main slide belongs
// (the slide of a trombone's valve, when one is engaged): it has no nature of its
// own to speak of, and no ear places it. A hand slide tells nothing but closed.
func (in *Instrument) Tells(p Path) bool {
	if !in.Tuned() || in.HandSlide && p.Position != 1 {
		return false
	}
	t := in.Theory(p)
	return math.Max(math.Abs(float64(t.Partial)), math.Abs(float64(t.Valves))) < float64(TellsBelow)
}

// comfortable is how far from the middle of an instrument a tuning note may
// lie, in semitones (common practice, no source).
const comfortable = 10

// TuningWay returns the sounding note that an instrument tunes on when a
// concert note is called, in any octave, and how it is played; tells is false
// when no way of playing it says where the main slide belongs, as on woodwinds.
//
// The octave nearest to the middle of the comfortable register with the usual
// fingering comes first; then another octave, then another fingering, the third
// valve alone last. A trombone has its main slide to itself in closed first
// position only: for other calls it is asked for the nearest note there, B flat
// or F on a tenor (common practice, no source).
func (in *Instrument) TuningWay(concert pitch.Note) (n pitch.Note, p Path, tells bool) {
	near := in.nearest(concert)
	if !in.Tuned() {
		return near, Path{Partial: 1, Side: unfingered}, false
	}
	octaves := in.octaves(near)
	for _, fits := range []func(Path, int) bool{
		func(_ Path, nth int) bool { return nth == 0 },
		func(p Path, _ int) bool { return p.Plain() },
		func(Path, int) bool { return true },
	} {
		for _, n := range octaves {
			for nth, p := range in.Paths(n) {
				if fits(p, nth) && p.Partial > 1 && in.Tells(p) && p.Side != "Gb" && p.Side != "D" && !(in.HandSlide && p.Side == "F") {
					return n, p, true
				}
			}
		}
	}
	if in.HandSlide {
		return in.firstPosition(near)
	}
	if ps := in.Paths(near); len(ps) > 0 {
		p = ps[0]
	}
	return near, p, false
}

// Plain reports whether a fingering is fit for tuning: open or one valve, but not
// the third alone, which is often made long for the combinations.
func (p Path) Plain() bool {
	vs := p.pressed()
	return len(vs) == 0 || len(vs) == 1 && vs[0] != 3
}

// nearest is the octave of a concert note nearest to the middle.
func (in *Instrument) nearest(concert pitch.Note) pitch.Note {
	n := in.Middle + pitch.Note((concert.Class()-in.Middle.Class()+12)%12)
	if n-in.Middle > 6 {
		n -= 12
	}
	return n
}

// octaves lists the octaves of a note within the comfortable range, the note
// itself first.
func (in *Instrument) octaves(n pitch.Note) []pitch.Note {
	all := []pitch.Note{n}
	for _, o := range []pitch.Note{n - 12, n + 12} {
		if o >= in.Low && o <= in.High && o-in.Middle <= comfortable && in.Middle-o <= comfortable {
			all = append(all, o)
		}
	}
	return all
}

// firstPosition is the note that tells in closed first position, near n and
// near the middle.
func (in *Instrument) firstPosition(n pitch.Note) (best pitch.Note, way Path, tells bool) {
	far := func(m pitch.Note) int { return 2*abs(m-n) + abs(m-in.Middle) }
	for m := in.Middle - comfortable; m <= in.Middle+comfortable; m++ {
		ps := in.Paths(m)
		if len(ps) > 0 && ps[0].Side == "" && in.Tells(ps[0]) && (!tells || far(m) < far(best)) {
			best, way, tells = m, ps[0], true
		}
	}
	return best, way, tells
}

func abs(n pitch.Note) int { return max(int(n), -int(n)) }

// Telling lists notes on which this instrument can be tuned, the usual one
// first: B flat, F, and the open notes of instruments in other keys; for those
// in A and D, which have fewer than two of these, theirs as well.
func (in *Instrument) Telling() []pitch.Note {
	var all []pitch.Note
	for i, concert := range []pitch.Note{10, 5, 0, 3, 9, 2} {
		if i >= 4 && len(all) >= 2 {
			break
		}
		if n, p, tells := in.TuningWay(concert); tells && p.Plain() && n.Class() == concert.Class() {
			all = append(all, n)
		}
	}
	return all
}
