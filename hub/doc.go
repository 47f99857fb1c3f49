// Package hub is the leader's side: sections, chairs, calls, rounds, readings,
// moves, and the views that pages show of them.
//
// Hub holds all state behind one mutex. Adapters call it: hub/link for the
// nodes, hub/web for the pages; it knows storage only as the Store interface.
// Calculators (hub/intonation, hub/slide, hub/attribute, hub/history) are pure
// functions that it calls.
package hub
