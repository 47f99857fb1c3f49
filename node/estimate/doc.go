// Package estimate measures pitch: a track of it hop by hop while a note sounds,
// and when it has ended the centre of what came to rest, with an interval.
//
// Samples are mono in [-1, 1]; frequencies are in Hz, intervals in cents, time
// in samples or seconds. Nothing here has a clock, a goroutine or I/O. Types
// are used by one goroutine at a time. NaN never leaves the package: where
// there is no answer, ok is false.
//
// # The track
//
// Coarse finds the fundamental of a tenth of a second by the normalised square
// difference of McLeod and Wyvill, A smarter way to find pitch, ICMC 2005.
// Tracker follows it by the phases of the partials, seen through four periods.
//
// # Which note
//
// The median over time of the power at each frequency does not know what comes
// and goes. Raised to a small power it counts a weak partial nearly as much as a
// strong one, and its autocorrelation at a period says how much of a comb of
// that spacing there is. The highest candidate nearly as good as the best is
// taken. Whether every other tooth of the comb is the player's is told by the power
// there and, if that is weak, by the wander: lips drive all partials of a player
// alike. What cannot be told is said. A note that was called is the one read,
// unless it has no partials of its own and two thirds of the sound agree on another.
//
// # The mean
//
// Partials are cut out of one transform of the note by raised-cosine bands, whose
// nulls keep the partials next door out. What a partial's phase moves in a hop,
// over its number, is the pitch at that hop; the mean over a stretch is the phase
// wound up in it over its length, every moment alike. That is the mean a slide is set
// for; a regression of the phase, which would be nearer to the bound of a steady
// tone, weighs the middle of the stretch more and lies up to a cent beside it.
//
// The partials of a real note in a room disagree: each has its own fades and
// echoes. The centre is the median of their means weighted by power, so that a
// bright neighbour, who owns the weaker ones, does not pull it. How far they disagree
// is told by a random-effects mean (DerSimonian and Laird, Meta-analysis in
// clinical trials, Control. Clin. Trials 7 (1986), 177–188) beside it, with weights
//
//	w = √P / (s² + τ² + d²/2)
//
// where P is the partial's power, s² what its own wander leaves of its mean, τ the
// robust spread between partials, and d its distance from the pooled mean; they
// also weigh the track. To cut the moments in which a partial has faded costs more
// than it buys: the others' wander is not its own.
//
// # The interval
//
// It is of where the centre lies when the note is continued. Package settle finds
// the stretch and says what the note's wander, a trend and a sway leave open; the
// spread between the partials over the root of their number, or half the gap to
// the weighted mean, is added, and the sample clock.
//
// # Losses
//
// Samples that were lost without notice make the sound jump ahead: the phase of every
// partial by its number times the same part of a turn, within what the bands smear.
// Several such jumps, which neither lips nor drums make, are said.
//
// # A neighbour
//
// A neighbour in the same microphone, quieter and a few cents away, owns some of the
// partials, mostly upper ones, and of those the mean is the neighbour's. The median by power
// is not moved by them. Where the middle of the power is not at one, nobody can say
// whose the pitch is: the interval reaches over it, and beyond ten cents two sounds
// are said. A fit of two sources to all partials was half this package and gave recorded
// players beside one another the same median error.
package estimate
