// Package history reads a section's records from day to day: where slides
// have stood, what each player does without meaning to, what a study showed,
// and how the pitch went during a rehearsal. Pure functions over records; no
// clock, no storage.
//
// Offsets are in cents from the called note's target, positive sharp; slide
// settings in mm out. A rehearsal is a calendar day in the location of the
// times that are passed in.
//
// A player's own offset is what the instrument would sound with the main
// slide at its usual place: the measured offset less what the present setting
// explains. What all players share on a day (the room) is taken out only as
// far as the section itself shows it, as the median over players; a typed
// temperature is shown beside and never applied.
//
// A finding about a habit names its evidence, its interval and one thing to
// try. False accusations are worse than silence: a finding needs the lower end
// of its interval beyond a size that matters, over several rehearsals; the
// error rates are measured in cmd/proof/habits.
package history
