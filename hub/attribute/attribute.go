// Package attribute says whose sound is whose when a row plays at once: many
// microphones that all hear everybody, one answer per chair.
//
// Each node sends the complex amplitudes around the multiples of a common
// reference (proto/track). Every partial of a chair votes for a pitch, in several
// windows (strands, guesses); what the others are taken to play is taken out and
// the vote repeated, and what windows agree on (pool) is weighed: how the partials
// agree, how much louder the pitch is at the chair's own microphone, who else may
// have it, and what was believed before.
//
// The package is arithmetic: no clock, no goroutine, no storage. It refuses
// rather than guesses: a chair that cannot be told from another is reported as
// a Pair to be heard in turn.
package attribute

import (
	"bellrow/proto/pitch"
	"bellrow/proto/track"
)

// Verdict is what became of one chair.
type Verdict string

// Verdicts. Only Sounding carries a reading.
const (
	Sounding  Verdict = "sounding"  // the chair played; Hz is its own
	Overheard Verdict = "overheard" // its microphone heard only others
	Silent    Verdict = "silent"    // nothing above its floor
	Together  Verdict = "together"  // cannot be told from another chair: see Result.Pairs
	Unclear   Verdict = "unclear"   // sounded, but the interval is too wide to be believed
	NoTracks  Verdict = "no-tracks" // no usable tracks from this chair: its one-microphone reading, if any, is passed on
)

// Chair is one chair's part of the window.
type Chair struct {
	ID int64
	// Expected is the frequency of the called note for this chair.
	Expected pitch.Hertz
	// Able says that this chair's node sends tracks: without any in the window
	// it is silent rather than unknown.
	Able bool
	// Chunks are this chair's tracks, in order. They may reach beyond the
	// window; parts of the window may be missing.
	Chunks []track.Chunk
	// Zero is the hub time, in seconds, of sample 0 of this node's count, and
	// ClockError its half width.
	Zero, ClockError float64
	// PPM is how much faster than nominal this node's sample clock runs
	// against the hub's, as far as pings have shown, and PPMError its half
	// width at 95 %. PPMError 0 means nothing is known: DefaultPPM is assumed.
	PPM, PPMError float64
	// Baseline is this chair's own mezzo-forte level at its own microphone,
	// and Floor its quiet floor; 0 means unknown.
	Baseline, Floor pitch.Level
	// Believed is how far from Expected earlier readings put the chair, and
	// Doubt the standard deviation of that; Doubt 0 means nothing is known.
	Believed, Doubt pitch.Cents
	// Own is the chair's one-microphone reading of the same window; Hz 0
	// means there is none.
	Own OneMic
}

// OneMic is what a node made of the window by itself.
type OneMic struct {
	Hz     pitch.Hertz
	CI95   pitch.Cents
	Spread pitch.Cents
	Drift  float64
	Level  pitch.Level
}

// Input is one window. Start and End are hub times in seconds; 0.5 to 2 s is
// sensible, more than 4 s or 64 chairs are left unfitted. Chunks must be valid
// (track.Chunk.Validate). Chairs called to play in this window, and no others, are listed.
type Input struct {
	Start, End float64
	Chairs     []Chair
	// Resting is how many more laptops are in the room whose players rest: that few
	// hear this window says nothing of players that are not known.
	Resting int
}

// ChairResult is the answer for one chair.
type ChairResult struct {
	ID      int64
	Verdict Verdict
	// Hz is the chair's mean pitch over the window (the mean of its pitch
	// path in cents), 0 unless Verdict is Sounding, or NoTracks with a
	// one-microphone reading. CI95 is the half width of its 95 % interval,
	// sound card clocks included.
	Hz   pitch.Hertz
	CI95 pitch.Cents
	// From and To are the hub times of the stretch that Hz is the mean of.
	From, To float64
	Spread   pitch.Cents // 10 to 90 % of the pitch path
	Drift    float64     // Theil–Sen slope, cents per second
	// Level is the chair's own sound at its own microphone, without the
	// others; Balance how far that is above its Baseline in dB, 0 when the
	// baseline is unknown (BalanceKnown false).
	Level        pitch.Level
	Balance      float64
	BalanceKnown bool
	// OneMic is true when Hz is the node's own reading passed on because
	// there were no tracks to check it by.
	OneMic bool
	// Over is by how many dB the chair's best pitch is louder at its own microphone
	// than at any other, all microphones made equally loud; 0 where nothing is known.
	Over float64
}

// Pair is two chairs that this window cannot tell apart: hear them in turn.
type Pair struct {
	A, B int64
}

// Result is the answer for a window, chairs in the order of Input.
type Result struct {
	Chairs []ChairResult
	Pairs  []Pair
	// Fallback is true when at least one chair had no tracks.
	Fallback bool
}

// DefaultPPM is the 95 % half width assumed for an unknown sound card clock:
// crystal oscillators of consumer sound devices stay within 100 ppm (common
// practice, no source).
const DefaultPPM = 100

// Fitter solves windows one after another. The zero value is ready. One
// goroutine at a time.
type Fitter struct{}

// Fit solves one window.
func (*Fitter) Fit(in Input) Result { return Fit(in) }

// Fit solves one window.
func Fit(in Input) Result { return pool(&in).verdicts(&in) }
