// Package estimate measures pitch: a track of it hop by hop, and for a stretch
// that has come to rest its mean at the limit that noise sets, with an
// interval and with a neighbour taken out.
//
// Samples are mono in [-1, 1]; frequencies are in Hz, intervals in cents, time
// in samples or seconds. Nothing here has a clock, a goroutine or I/O. Types
// are used by one goroutine at a time. NaN never leaves the package: where
// there is no answer, ok is false.
//
// # The track
//
// Coarse finds the fundamental of a tenth of a second by the normalised square
// difference of McLeod and Wyvill, A smarter way to find pitch, ICMC 2005, a
// relative of the cumulative mean normalised difference of de Cheveigné and
// Kawahara, YIN, J. Acoust. Soc. Am. 111 (2002), 1917–1930. Tracker follows it
// by the phases of the partials, seen through four periods.
//
// # The reading
//
// Refine fits all partials of a stretch jointly. Because lips drive the air,
// one phase moves all partials of a player, and the model is that phase: a
// mean pitch and a slow wander of 1/f character, whose amount the evidence
// chooses (MacKay 1992). Without wander the fit is the maximum likelihood of
// Rife and Boorstyn, Single-tone parameter estimation from discrete-time
// observations, IEEE Trans. Inf. Theory 20 (1974), 591–598, in its harmonic
// form, and reaches the Cramér–Rao bound; with it, the reading is what a
// player means by pitch: cycles over time, not a mean weighted towards the
// middle. The amplitudes are projected out (Golub and Pereyra 1973).
//
// Where one source leaves something to explain, two are fitted, each with its
// own wander, and told apart by total power: a bright neighbour owns the upper
// partials, which tell most of the pitch. One microphone cannot prove that a
// second source is another player; it can keep it out of the reading.
//
// Whether a note is an octave lower than it seems, or a neighbour is, is told by
// the wander too: odd and even partials of one player share it.
//
// What all partials do alike in strength, a gain that wanders, is taken out first.
//
// The interval comes from the posterior, from a jackknife over blocks of time
// where that is clearly larger, and from the common wander too quick to follow.
package estimate
