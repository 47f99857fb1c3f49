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
// nulls keep the partials next door out: z_k(t), sampled every tick τ. With f the
// frequency around whose multiples they were cut,
//
//	p_k(t) = 1200/ln 2 · arg(z_k(t+τ) z_k(t)*) / (2π k f τ)
//
// is how many cents the pitch lies above f in that tick, as partial k has it; the turns of
// high partials are counted by what the low ones have in common. Its mean over a stretch is the phase
// wound up in it over its length, every moment alike. That is the mean a slide is set
// for. A regression of the phase would be nearer to the bound of a steady tone
// (Rife and Boorstyn 1974), but a player's wander of s cents and t seconds leaves
// s √(2t/T) of the mean of T seconds, cents where the bound is thousandths; and
// it weighs the middle of the stretch more and lies up to a cent beside.
//
// The partials of a real note in a room disagree: each has its own fades and
// echoes. The centre is the median of their means weighted by power. How far they disagree
// is told by a random-effects mean (DerSimonian and Laird, Meta-analysis in
// clinical trials, Control. Clin. Trials 7 (1986), 177–188) beside it, with weights
//
//	w = √P / (s² + σ² + d²/2)
//
// where P is the partial's power, s² what its own wander leaves of its mean, σ the
// robust spread between partials, and d its distance from the pooled mean; they
// also weigh the track p(t) = Σ w p_k(t). To cut the moments in which a partial has faded
// costs more than it buys: the others' wander is not its own.
//
// # The interval
//
// It is of where the centre lies when the note is continued. Package settle finds
// the stretch and says by how much p(t) may go on elsewhere, H. With D the disagreement of
// the partials, the root of their weighted square or σ over the root of their number, four at
// most, or half the gap to the weighted mean,
//
//	CI95² = H² + (2.2 D)² + clock²
//
// # A neighbour
//
// A neighbour in the same microphone, quieter and a few cents away, owns some of the
// partials, mostly upper ones, and of those the mean is the neighbour's. The median by power
// is not moved by them: a beat of two lines winds up the phase of the stronger. Where
// the middle of the power is not at one, nobody can say whose the pitch is: the interval
// reaches over it in place of 2.2 D, and beyond ten cents two sounds are said. A fit of two sources
// to all partials was two fifths of this package and gave recorded players beside one another
// the same median error.
package estimate
