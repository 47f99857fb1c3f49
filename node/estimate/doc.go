// Package estimate measures pitch: a track of it hop by hop while a note sounds,
// and when it has ended the centre of what came to rest, with an interval.
//
// Samples are mono in [-1, 1]; frequencies are in Hz, intervals in cents (1200/ln 2 times
// a small change of frequency as a share), time in samples or seconds. Nothing here has a
// clock, a goroutine or I/O. Types are used by one goroutine at a time. NaN never leaves
// the package: where there is no answer, ok is false.
//
// Read note.go first: Note is the whole of a reading, and calls fundamental.go and octave.go
// (which note), sound.go and centre.go (its partials and their mean), then package settle
// (where it rests). The track is tracker.go on coarse.go. All look at sound at 12 kHz that
// decimator.go makes; hum.go knows the mains.
//
// # The track
//
// coarse finds the fundamental of a tenth of a second by the normalised square
// difference of McLeod and Wyvill, A smarter way to find pitch, ICMC 2005. Tracker
// follows it by how far the phases of ten partials move in a hop, seen through Hann windows
// of four periods: partial k tells of the pitch by k times its phase, so it weighs k²|a_k|².
//
// # Which note
//
// The median over time of the power at each frequency does not know what comes
// and goes. Raised to the power of 1/20 it counts a weak partial nearly as much as a
// strong one, and its autocorrelation at a period 1/f says how much of a comb of
// spacing f there is. Candidates are the strongest lines over 1, 2, 3, …; the highest nearly
// as good as the best is taken. Whether every other tooth of the comb is the player's is told
// by the power there and, if that is weak, by the wander: lips drive all partials of a player
// alike. What cannot be told is said. A note that was called is the one read,
// unless it has no partials of its own and two thirds of the sound agree on another.
//
// # The mean
//
// The sound is transformed once. Around k f, with f the pitch to a few cents, a raised-cosine
// band is cut out whose nulls keep the partials next door out, and transformed back at 200
// frames a second: z_k(t), every τ seconds, of which partials that stand out from what lies
// half way to the next are kept, eight at most. Then
//
//	p_k(t) = 1200/ln 2 · arg(z_k(t+τ) z_k(t)*) / (2π k f τ)
//
// is how many cents the pitch lies above f in that tick, as partial k has it; the turns of
// high partials are counted by what the low ones have in common. Its mean m_k over a stretch is
// the phase wound up in it over its length, every moment alike. That is the mean a slide is set
// for. A regression of the phase would be nearer to the bound of a steady tone
// (Rife and Boorstyn 1974), but a player's wander of s cents and t seconds leaves
// s √(2t/T) of the mean of T seconds, cents where the bound is thousandths; and
// it weighs the middle of the stretch more and lies up to a cent beside.
//
// The partials of a real note in a room disagree: each has its own fades and
// echoes. The centre is the median of m_k weighted by power P_k. How far they disagree
// is told by a random-effects mean m (DerSimonian and Laird, Meta-analysis in
// clinical trials, Control. Clin. Trials 7 (1986), 177–188) with weights
//
//	w_k = √P_k / (s_k² + σ² + (m_k - m)²/2),  none more than all others
//
// in turns with m, where s_k² is what the partial's own wander leaves of m_k, and σ the robust
// spread, 1.48 times the median of |m_k - m|. They also weigh the track that is searched for a
// rest, p(t) = Σ w_k p_k(t) / Σ w_k. To cut the moments in which a partial has faded
// costs more than it buys: the others' wander is not its own.
//
// # The interval
//
// It is of where the centre lies when the note is continued. Package settle finds
// the stretch and says by how much p(t) may go on elsewhere, H. With D the standard error
// between n partials, of which at most four count as independent,
//
//	D = max(σ, √(Σ w_k (m_k - m)² / Σ w_k)) / √min(n, 4)
//	CI95² = H² + max(2.2 D, A)² + clock² + 0.03²
//
// 2.2 is the 97.5 % point of Student's with eleven degrees of freedom; A is how far from the centre the
// m_k reach between which the middle two fifths of the power lie.
//
// # A neighbour
//
// A neighbour in the same microphone, quieter and a few cents away, owns some of the
// partials, mostly upper ones, and of those the mean is the neighbour's. The median by power
// is not moved by them: a beat of two lines winds up the phase of the stronger. Where
// the middle of the power is not at one, nobody can say whose the pitch is: A is wide, and
// beyond ten cents two sounds are said.
package estimate
