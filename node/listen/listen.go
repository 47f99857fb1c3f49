// Package listen turns samples into settled readings: it wires the pitch
// track (node/estimate) to the settle rule (node/settle) and, when a note has
// rested, asks for the final estimate over the settled stretch.
//
// It has no clock, no goroutine and no I/O. Time is a sample count. It is the
// one entry point for everything that listens: the node, the offline reader,
// the studies and the simulations.
package listen

import "bellrow/proto/pitch"

// State is what the listener hears now.
type State string

// The states, in the order a good note passes through them.
const (
	Quiet    State = "quiet"    // nothing above the noise floor
	Sounding State = "sounding" // a note has begun; its pitch has not come to rest
	Resting  State = "resting"  // the pitch is at rest and the reading is being taken
)

// Reason says why a note gave no settled reading, as a stable code. Words for
// people are made from it at the hub and on the player's page.
type Reason string

// The reasons.
const (
	ReasonNone     Reason = ""
	ReasonMoving   Reason = "moving"     // scoop, fall, glide: the pitch never rested
	ReasonVibrato  Reason = "vibrato"    // periodic, 3 to 8.5 Hz; the mean is over whole cycles
	ReasonShort    Reason = "short"      // ended before the hold time
	ReasonSoft     Reason = "soft"       // too quiet against the noise floor
	ReasonTwo      Reason = "two-sounds" // a second source of similar strength
	ReasonNoise    Reason = "noise"      // not a pitched brass note: speech, clap, click, hum
	ReasonWide     Reason = "wide"       // rested, but the interval is too wide to be believed
	ReasonClipping Reason = "clipping"   // so overloaded that the pitch cannot be trusted
	ReasonGap      Reason = "gap"        // samples were lost inside the note
)

// Vibrato describes a periodic pitch modulation.
type Vibrato struct {
	RateHz float64     `json:"rate_hz"`
	Extent pitch.Cents `json:"extent_cents"` // peak to peak
}

// PathPoint is one point of a note's pitch path, shown only by the bend study
// and only after the note has ended.
type PathPoint struct {
	Sample int64
	Hz     pitch.Hertz
	Level  pitch.Level
}

// Reading is the one result of one note: settled, or unsettled with a reason.
type Reading struct {
	// Onset is where the note began; Start and End bound the stretch that was
	// measured. All are sample indices in the source's count.
	Onset, Start, End int64
	// Hz is the pitch over [Start, End): the mean over whole cycles for
	// vibrato, the best guess for other unsettled notes, and 0 when there is
	// none (noise). Never NaN.
	Hz pitch.Hertz
	// CI95 is the half width, in cents, of the 95 % interval of where the centre
	// of the note lies when it is continued, the sound card's clock included.
	// Wide means wide.
	CI95 pitch.Cents
	// Spread is the 10–90 % range of the pitch track over the stretch.
	Spread pitch.Cents
	// Drift is the slope of the pitch over the stretch, cents per second.
	Drift float64
	// Level is the RMS level over the stretch; Peak the note's loudest hop;
	// Floor the listener's estimate of the quiet room.
	Level, Peak, Floor pitch.Level
	// Early is the pitch at the very start of the note (120–300 ms after the
	// onset) relative to Hz: a note that falls from a pinched attack is sharp here.
	Early pitch.Cents

	Settled bool
	Reason  Reason
	Vibrato *Vibrato // nil when there is none
	Clipped bool     // some samples were at full scale or their tops flat; the reading still holds

	// Octave says that the octave is doubtful; Other that the sound is decidedly
	// another note than the one called.
	Octave, Other bool

	// Path is kept only with Config.KeepPath.
	Path []PathPoint
}

// Event is what a listener reports.
type Event struct {
	// Sample is where in the source's count the event happened.
	Sample int64
	// State is the new state. A Reading, when present, closes the note: it
	// comes exactly once for each note long enough to be called one.
	State   State
	Reading *Reading
	// Enough says that the note has been heard well enough and may end. It comes
	// at most once for each note, before its reading, which waits for the end.
	Enough bool
	// Eaten says that a program seems to take held notes for noise. It may come several
	// times for a note, and after its reading, which holds for what was heard.
	Eaten bool
}

// Config sets up a Listener.
type Config struct {
	// Rate is the sample rate in Hz, 8000 to 192000.
	Rate float64
	// ClockPPM is the uncertainty of the sound card's clock, entering CI95 in
	// quadrature. Zero means DefaultClockPPM; negative means an exact clock
	// (files rendered by a computer, simulations).
	ClockPPM float64
	// HoldFor is how much of a note is looked at, in seconds from its onset,
	// however long it sounds. Zero means DefaultHoldFor.
	HoldFor float64
	// KeepPath keeps the pitch path of each note for the bend study.
	KeepPath bool
}
