// Package ensemble prepares what a row that plays at once sounds like to its
// many microphones, and asks hub/attribute whose sound is whose: the laptops'
// sample counts are put on one clock (Clock), the frequency around whose
// multiples all of them listen follows from the call (Reference), and several
// short windows are tried, for players do not begin together (Input.Fit).
//
// Pure functions and plain data. Times are seconds on the hub's clock.
package ensemble
