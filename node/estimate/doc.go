// Package estimate measures pitch: a coarse fundamental every hop, and for a
// stretch that has come to rest the frequency at the limit that noise sets,
// with an interval.
//
// Samples are mono in [-1, 1]; frequencies are in Hz, intervals in cents, time
// in samples. Nothing here has a clock, a goroutine or I/O. Types are used by
// one goroutine at a time and reuse their memory. NaN never leaves the
// package: where there is no answer, ok is false.
//
// Methods: the coarse fundamental is the normalised square difference of
// McLeod and Wyvill, A smarter way to find pitch, ICMC 2005, a relative of the
// cumulative mean normalised difference of de Cheveigné and Kawahara, YIN, J.
// Acoust. Soc. Am. 111 (2002), 1917–1930. The reading is the maximum of the
// joint likelihood of all partials, the harmonic form of Rife and Boorstyn,
// Single-tone parameter estimation from discrete-time observations, IEEE
// Trans. Inf. Theory 20 (1974), 591–598.
package estimate
