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
	// combination is put right with its own valve slide.
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
	// Others is what is known of other notes of this tune-up, with the slides
	// where they stand now: all of them count for the main slide.
	Others []Known
	// Learned is this player's own millimetres per cent; the zero value means
	// the model's.
	Learned Learned
	// HornOrder is the side of a double horn that the main slide is set on.
	HornOrder HornOrder
	// Mute is what was in the bell, MuteShift what history knows of it.
	Mute      Mute
	MuteShift Estimate

	// Earlier holds this player's earlier readings of the same note with the
	// slides where they stand now, oldest first, without the present one.
	Earlier []Reading
	// CommonChange is how far the section as a whole has come up since this
	// player's slide was last moved. Only Memory needs it.
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
	// Theory is where that note lies by nature; 0 for most tuning notes.
	Theory pitch.Cents
}

// Advise answers one reading: the move, or why there is none.
func Advise(in Input) Advice {
	q := newInquiry(in)
	if !in.Instrument.Tuned() {
		return q.sign(q.tell())
	}
	for _, rule := range []func(*inquiry) (Advice, bool){
		(*inquiry).noPitch, (*inquiry).overheard, (*inquiry).otherNote, (*inquiry).cold, (*inquiry).falling, (*inquiry).unsettled,
		(*inquiry).wide, (*inquiry).eased, (*inquiry).loudness,
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

// tell says of an instrument without slides where its note stands.
func (q *inquiry) tell() Advice {
	for _, rule := range []func(*inquiry) (Advice, bool){
		(*inquiry).noPitch, (*inquiry).overheard, (*inquiry).otherNote, (*inquiry).unsettled, (*inquiry).wide,
	} {
		if a, done := rule(q); done {
			return a
		}
	}
	if math.Abs(float64(q.offset)) <= float64(q.Good) {
		return q.answer(Tell, "in-band")
	}
	return q.answer(Tell, "off")
}

// good is the tolerance band in cents.
func (in Input) good() pitch.Cents {
	if in.Good <= 0 {
		return DefaultGood
	}
	return in.Good
}

// warmingUp reports whether the instrument is still on its way up.
func (in Input) warmingUp() bool {
	return in.Instrument.Tuned() && !in.Warm && in.Played > 0 && in.Played < WarmSeconds
}

// tempered is how far the target lies from the equal-tempered note at 440 Hz.
func (in Input) tempered() pitch.Cents {
	if !in.Target.Valid() {
		return 0
	}
	return pitch.Between(pitch.Reference{}.Frequency(in.Note), in.Target)
}

// inquiry is an Input with everything derived from it once.
type inquiry struct {
	Input
	offset pitch.Cents // of the reading itself; positive = sharp
	belief Belief      // of reading and prior together, of the warm instrument
	warmup Warmup      // with the reading; zero for an instrument taken as warm
	facts  Facts
}

func newInquiry(in Input) *inquiry {
	in = in.clean()
	q := &inquiry{Input: in}
	q.Instrument = in.Instrument.WithTravel(in.Travel)
	if !q.Target.Valid() {
		q.Target = pitch.Reference{}.Frequency(q.Note)
	}
	q.Path = usualPath(q.Instrument, in.Path, in.Note)
	if in.Mute == Stopped {
		q.Path = stoppedPath(q.Instrument, in.Path, in.Note)
	}
	q.Good = in.good()
	q.offset = pitch.Between(q.Target, in.Reading.Hz)
	straight := in.Reading.straight()
	offset := pitch.Between(q.Target, straight.Hz)
	if in.warmingUp() {
		q.warmup = in.Warmup.read(in.Played, float64(offset), straight.sd())
		q.belief = q.warmup.belief()
	} else {
		q.belief = in.Prior.Read(offset, straight)
	}
	q.facts = Facts{
		Instrument: q.Instrument.ID, Called: q.Note, Transposition: q.Instrument.Transposition, Path: q.Path, CI95: in.Reading.CI95,
		Theory: q.Instrument.Theory(q.Path), Own: q.belief, Notes: 1, Mute: in.Mute, MuteShift: in.MuteShift, Order: in.HornOrder, Vibrato: in.Reading.Vibrato,
	}
	main, _ := q.Instrument.Slide(instrument.Main)
	q.facts.Main = main.Name
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

// stoppedPath is how a horn plays a stopped note: fingered a semitone lower, on
// the F side.
func stoppedPath(in *instrument.Instrument, p instrument.Path, n pitch.Note) instrument.Path {
	if p != (instrument.Path{}) {
		return usualPath(in, p, n-StoppedUp)
	}
	ways := in.Paths(n - StoppedUp)
	for _, w := range ways {
		if w.Side == "F" {
			return w
		}
	}
	if len(ways) > 0 {
		return ways[0]
	}
	return p
}

// sign adds what every answer carries.
func (q *inquiry) sign(a Advice) Advice {
	a.Offset = q.offset
	if a.Code == "" {
		a.Code = string(a.Kind)
	}
	a.Facts.Pinched = q.pinchedBefore()
	a.Facts.Pitched = q.Reading.Hz.Valid() && a.Kind != Again && a.Kind != Note
	return a
}

// answer begins an answer with the facts at hand.
func (q *inquiry) answer(k Kind, code string) Advice {
	return Advice{Kind: k, Code: code, Facts: q.facts}
}

// bandDoubt widens an error by this many standard deviations before it is
// said to lie within the band: nine times in ten it then does.
const bandDoubt = 1.28

// inBand leaves a slide alone that stands right: within the dead band or the
// reading's own interval, or well within the tolerance band.
func (q *inquiry) inBand(b Belief) (Advice, bool) {
	q.facts.Own = b
	x := math.Abs(float64(b.Offset))
	doubt := math.Min(float64(q.Reading.CI95), 1.96*b.SD)
	switch within := x <= float64(DeadBand) || x+bandDoubt*b.SD <= float64(q.Good); {
	case !within && x > doubt:
		return Advice{}, false
	case q.warmingUp():
		return q.answer(Stay, "warming"), true
	case !within:
		return q.answer(Stay, "in-doubt"), true
	case !q.near(q.belief.Offset):
		return q.answer(Stay, "between"), true
	}
	return q.answer(Stay, "in-band"), true
}

// near reports whether a note at x counts as in tune.
func (q *inquiry) near(x pitch.Cents) bool {
	return math.Abs(float64(x)) <= float64(max(DeadBand, q.Good))
}

// lever is a slide on the path of the note.
func (q *inquiry) lever(id instrument.SlideID) Lever {
	return LeverOf(q.Instrument, q.Path, id, q.Settings, q.Learned)
}

// move is a step as an answer. One that falls short tells what is needed.
func (q *inquiry) move(code string, st Step) Advice {
	a := q.answer(Move, code)
	a.Steps = []Step{st}
	a.Facts.Rise = q.warmup.rise(q.Played, WarmSeconds)
	q.needs(&a, st)
	return a
}

// needs tells what a step needs beside what it gives, and who knows how far the
// slide goes.
func (q *inquiry) needs(a *Advice, st Step) {
	a.Facts.Slide, _ = q.Instrument.Slide(st.Slide)
	a.Facts.NeedMM = math.Abs(st.MM()) + st.ShortMM
	a.Facts.Out = st.ShortBy < 0
	a.Facts.Measured = q.Travel[st.Slide] > 0
	_, a.Facts.Placed = q.Settings[st.Slide]
}
