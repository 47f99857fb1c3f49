// Package tuneup holds the rules of a tune-up: events in, changes out. It is a state
// machine without clock, lock, log and storage (after etcd-io/raft), so that a whole
// rehearsal is plain data; testdata holds some as transcripts.
//
//	Step      takes one event in and tells what changed. After an error nothing did.
//	Standing  says how things stand, in one pass that changes nothing.
//	New       takes a section up where its records end.
//
// Each step ends in one pass (settle), the only place where a round is found done
// and a turn moves on. Records are replaced, never changed in place; the
// changes of a step are what differs between the pictures before and after it, so that
// no place where something is saved can be forgotten, an error takes a step
// back whole, and an undo reverts what a command changed where that still holds.
//
// What the rules say is a code with figures. Package show words it, and nothing
// reads words back.
//
// The hub's own numbers, not its clock, order what is stored and say where a tune-up
// begins: a clock that is set changes neither. Set forward by three hours or
// more, a hub that starts again begins a new tune-up, as it does the next morning.
package tuneup
