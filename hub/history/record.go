package history

import (
	"cmp"
	"math"
	"slices"
	"time"

	"bellrow/hub/slide"
	"bellrow/proto/pitch"
)

// Reading is one counted reading of one player.
type Reading struct {
	At     time.Time
	Note   pitch.Note
	Offset pitch.Cents // as sounded, from the target
	Level  pitch.Level
	Early  pitch.Cents // start of the note against its rest
	Drift  float64     // cents per second while it rested
	// Lead is how long after its start the middle of the note's rest lay, in
	// seconds: what a steady drift makes of Early.
	Lead   float64
	Played float64 // seconds this instrument had sounded before
	// MainMM is where the main slide stood, UsualMM its usual place, and
	// CentsPerMM what a millimetre out does to this note (negative).
	MainMM, UsualMM, CentsPerMM float64
	// Watch is true for notes taken while the section rehearsed.
	Watch bool
	// Theory is where the note lies by nature on this instrument; 0 = unknown.
	Theory pitch.Cents
	// Mute is what was in the bell. Muted notes count nowhere but in MuteShift.
	Mute slide.Mute
}

// Own is the player's own offset: with the main slide at its usual place, and
// without what theory says of the note.
func (r Reading) Own() float64 {
	return float64(r.Offset-r.Theory) - r.CentsPerMM*(r.MainMM-r.UsualMM)
}

// start is how far the note began above its rest, a steady drift set aside.
func (r Reading) start() float64 { return float64(r.Early) + r.Drift*r.Lead }

// Move is one slide move and what came of it.
type Move struct {
	At       time.Time
	Expected pitch.Cents
	Measured pitch.Cents
	Went     bool // the pitch went along, by the verdict that the leader was told
}

// telling reports whether the move was large enough to say anything.
func (m Move) telling() bool { return math.Abs(float64(m.Expected)) >= smallMove }

// Setting is where the main slide stood from a moment on.
type Setting struct {
	At time.Time
	MM float64
}

// Player is all that is known of one chair. The slices need not be sorted.
type Player struct {
	Label    string
	Readings []Reading
	Moves    []Move
	Settings []Setting
}

// day is a rehearsal as days since year 0, in the location of the time.
type day int

func dayOf(t time.Time) day {
	y, m, d := t.Date()
	return day(time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Unix() / (24 * 3600))
}

// byDay groups open readings by rehearsal, each group in order of time.
func byDay(rs []Reading, keep func(Reading) bool) map[day][]Reading {
	out := map[day][]Reading{}
	for _, r := range rs {
		if r.Mute == slide.Open && (keep == nil || keep(r)) {
			out[dayOf(r.At)] = append(out[dayOf(r.At)], r)
		}
	}
	for _, g := range out {
		slices.SortStableFunc(g, func(a, b Reading) int { return a.At.Compare(b.At) })
	}
	return out
}

func called(r Reading) bool { return !r.Watch }

// calledWarm leaves out what a cold instrument says of its pitch.
func calledWarm(r Reading) bool { return called(r) && r.Played >= coldPlayed }
func watched(r Reading) bool    { return r.Watch }

// sorted returns the keys of m in order.
func sorted[K cmp.Ordered, V any](m map[K]V) []K {
	keys := make([]K, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

// spread is the robust standard deviation: 1.4826 times the median absolute
// deviation (Hampel, J. Am. Stat. Assoc. 69:383, 1974).
func spread(xs []float64) float64 {
	m := pitch.Median(xs)
	ds := make([]float64, len(xs))
	for i, x := range xs {
		ds[i] = max(x-m, m-x)
	}
	return 1.4826 * pitch.Median(ds)
}

// owns returns the own offsets of readings.
func owns(rs []Reading) []float64 {
	xs := make([]float64, len(rs))
	for i, r := range rs {
		xs[i] = r.Own()
	}
	return xs
}
