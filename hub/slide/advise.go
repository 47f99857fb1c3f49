package slide

import (
	"math"

	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// Limits of what one reading can ask for.
const (
	// DeadBand is the smallest error worth a move: differences under 3 cents
	// are below what wind players judge reliably (LSU dissertation 3723: 5 to
	// 10 cents), and one whole millimetre is 1 to 3 cents.
	DeadBand pitch.Cents = 3
	// DefaultGood is the tolerance band when the section sets none (common
	// practice, no source).
	DefaultGood pitch.Cents = 5
	// MaxMove is the largest error a slide is blamed for; beyond it another
	// note, partial or side is likelier.
	MaxMove pitch.Cents = 60
	// combinationSharp is the theoretical sharpness from which a valve
	// combination is set with its own valve slide rather than the main slide.
	combinationSharp pitch.Cents = 8
)

// Input is everything an answer to one reading depends on.
type Input struct {
	Instrument *instrument.Instrument
	// Path is how the note was played. A zero Partial means the usual way of
	// playing Note with these valves or this position; the zero Path the
	// usual way altogether.
	Path instrument.Path
	// Note is the called sounding note, Target where it should sound; 0 means
	// the equal-tempered frequency at A4 = 440 Hz.
	Note   pitch.Note
	Target pitch.Hertz

	Reading Reading
	// Settings is where the slides stand, Travel what the player measured.
	Settings instrument.Settings
	Travel   instrument.Settings
	Air      instrument.Air
	// Purpose is Tuning when empty.
	Purpose Purpose
	// Good is the tolerance band; 0 means DefaultGood.
	Good pitch.Cents
	// Prior is what earlier readings and moves lead to expect of this reading,
	// from Belief; the zero value leaves the reading on its own. The answer
	// rests on both.
	Prior Belief
	// Learned is this player's own millimetres per cent; the zero value means
	// the model's.
	Learned Learned

	// Earlier holds this player's earlier readings of the same note with the
	// slides where they stand now, oldest first, without the present one.
	Earlier []Reading
	// CommonChange is how far the section as a whole has come up since this
	// player's slide was last moved, from Room. Only Memory needs it.
	CommonChange pitch.Cents
	// History holds where this player's slides and readings stood on recent
	// days, in any order.
	History []Past
	// Played is how long the instrument has sounded, in seconds; 0 = unknown.
	Played float64
	// Warm says that the instrument is known to be warm whatever Played is.
	Warm bool
	// Warmup is what earlier readings tell of an instrument that is warming up.
	Warmup Warmup
	// Pinches says that this player has pinched a note in this tune-up, which
	// makes it likelier again; Earlier alone forgets it when a slide moves.
	Pinches bool
	// Baseline is this player's usual level for tuning notes; 0 = unknown.
	Baseline pitch.Level
}

// Past is one settled tuning note of a recent day.
type Past struct {
	Settings instrument.Settings
	Cents    pitch.Cents // from its target, with the section's common offset taken out
}

// Advise answers one reading: the move, or why there is none.
func Advise(in Input) Advice {
	q := newInquiry(in)
	for _, rule := range []func(*inquiry) (Advice, bool){
		(*inquiry).noPitch, (*inquiry).overheard, (*inquiry).otherNote, (*inquiry).cold, (*inquiry).falling, (*inquiry).unsettled,
		(*inquiry).wide, (*inquiry).eased, (*inquiry).loudness,
		(*inquiry).inBand, (*inquiry).unlikeBefore,
	} {
		if a, done := rule(q); done {
			return q.sign(a)
		}
	}
	if q.Purpose == Balance {
		return q.sign(q.balance())
	}
	return q.sign(q.tune())
}

// good is the tolerance band in cents.
func (in Input) good() pitch.Cents {
	if in.Good <= 0 {
		return DefaultGood
	}
	return in.Good
}

// warmingUp reports whether the instrument is still on its way up.
func (in Input) warmingUp() bool { return !in.Warm && in.Played > 0 && in.Played < WarmSeconds }

// inquiry is an Input with everything derived from it once.
type inquiry struct {
	Input
	offset pitch.Cents // of the reading itself; positive = sharp
	belief Belief      // of reading and prior together, of the warm instrument
	warmup Warmup      // with the reading; zero for an instrument taken as warm
}

func newInquiry(in Input) *inquiry {
	q := &inquiry{Input: in}
	q.Instrument = in.Instrument.WithTravel(in.Travel)
	if !q.Target.Valid() {
		q.Target = pitch.Reference{}.Frequency(q.Note)
	}
	q.Path = usualPath(q.Instrument, in.Path, in.Note)
	q.Good = in.good()
	q.offset = pitch.Between(q.Target, in.Reading.Hz)
	if in.warmingUp() {
		q.warmup = in.Warmup.read(in.Played, float64(q.offset), in.Reading.sd())
		q.belief = q.warmup.belief()
	} else {
		q.belief = in.Prior.Read(q.offset, in.Reading)
	}
	return q
}

// usualPath completes a path for a note; a path that does not play the note
// is kept as it is, since the player may have said the wrong note.
func usualPath(in *instrument.Instrument, p instrument.Path, n pitch.Note) instrument.Path {
	if p == (instrument.Path{}) {
		if ps := in.Paths(n); len(ps) > 0 {
			return ps[0]
		}
		return p
	}
	if p.Partial == 0 {
		if q, err := in.Resolve(p, n); err == nil {
			return q
		}
	}
	return p
}

// sign adds what every answer carries.
func (q *inquiry) sign(a Advice) Advice {
	a.Offset = q.offset
	if a.Kind == Stay && a.Next == "" && q.pinchedBefore() {
		a.Next = "Rest until you are called again, and start the next note with more air and less pressure."
	}
	if a.Small == "" && q.Reading.Hz.Valid() && a.Kind != Again && a.Kind != Note {
		a.Small = small(q.offset, q.Reading.CI95)
	}
	return a
}

// bandDoubt widens an error by this many standard deviations before it is
// said to lie within the band: nine times in ten it then does.
const bandDoubt = 1.28

// inBand leaves a note that is in tune: within the dead band or the reading's
// own interval, or well within the tolerance band.
func (q *inquiry) inBand() (Advice, bool) {
	x := pitch.Cents(math.Abs(float64(q.belief.Offset)))
	switch {
	case x > DeadBand && x+pitch.Cents(bandDoubt*q.belief.SD) > q.Good && x > q.Reading.CI95:
		return Advice{}, false
	case q.warmingUp():
		return Advice{Kind: Stay, Code: "warming", Headline: "Leave the slides where they are.",
			Detail: "The instrument still comes up a little: this note will be in tune when it is warm.",
			Next:   "Keep it warm with easy notes until the next call."}, true
	case x <= DeadBand || x+pitch.Cents(bandDoubt*q.belief.SD) <= q.Good:
		return Advice{Kind: Stay, Code: "in-band", Headline: "Leave the slides where they are.", Detail: "This note is in tune."}, true
	}
	return Advice{Kind: Stay, Code: "in-doubt", Headline: "Leave the slides where they are.",
		Detail: "The difference is smaller than the doubt of this reading."}, true
}

// want is the change of pitch that would bring the note to its target.
func (q *inquiry) want() pitch.Cents { return -q.belief.Offset }

// step plans a move of one slide that would change the pitch by want cents,
// in whole millimetres within the slide's limits.
func (q *inquiry) step(id instrument.SlideID, want pitch.Cents) Step {
	s, _ := q.Instrument.Slide(id)
	from := q.Instrument.MM(q.Settings, id)
	if id == instrument.Hand {
		from = q.Instrument.HandMM(q.Path, from)
	}
	lo, hi := Limits(s)
	mm := q.Instrument.MoveMM(q.Path, id, q.Settings, want) * q.Learned.ratio()
	whole := math.Round(mm)
	if from+whole > hi {
		whole = math.Max(0, math.Floor(hi-from))
	}
	if from+whole < lo {
		whole = math.Min(0, math.Ceil(lo-from))
	}
	st := Step{Slide: id, Name: s.Name, FromMM: from, ToMM: from + whole, TravelMM: s.TravelMM}
	st.Expected = q.expected(id, whole)
	if math.Abs(whole) < math.Abs(math.Round(mm)) {
		st.ShortBy = want - st.Expected
	}
	return st
}

// expected is the change of pitch that mm of travel brings on the path.
func (q *inquiry) expected(id instrument.SlideID, mm float64) pitch.Cents {
	s, _ := q.Instrument.Slide(id)
	l := q.Instrument.Length(q.Path, q.Settings, q.Air)
	return pitch.Cents(-1200 * math.Log2(1+float64(s.Legs)*mm/q.Learned.ratio()/1000/l))
}

// Limits returns how far in and out a slide may be sent, in mm.
func Limits(s instrument.Slide) (lo, hi float64) { return s.Reach() }
