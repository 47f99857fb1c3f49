// Package hub is the leader's side: sections, chairs, calls, rounds, readings,
// moves, and the views that pages show of them.
//
// Hub holds all state behind one mutex. Adapters call it: hub/link for the
// nodes, hub/web for the pages; it knows storage only as the Store interface.
// Calculators (hub/intonation, hub/slide, hub/attribute) are pure functions
// that it calls.
//
// # What is kept
//
// The truth is what is stored: sections, rounds with their queue, readings
// with their answer, moves, settings. Everything else, such as who has been
// heard or how often somebody was asked, is derived from these records by
// rebuild. A restart and an undo are therefore the same as any other moment.
//
// The hub decides in memory, under the lock, and queues the writes in the
// order of its decisions (journal). It numbers rounds, readings and moves by
// itself, so that a round goes on while the store cannot write; the row says
// so loudly, and a reading is acknowledged only once it is committed. No call
// to the store is made under the lock, for a write that is being committed may
// ask the hub how things stand.
//
// # What a reading goes through
//
// A view names its round only to players who are asked to play. A node repeats
// that number with the note, so that a sound caught from a neighbour, or a
// note begun too early, answers nothing: it is stored and not counted. A
// reading that was asked for is judged at once (in turn), gathered until the
// others have come and then told apart from theirs (together), or held until
// the chord is complete. Its answer is frozen and stored with it.
package hub
