// Package hub holds the records of the leader's side: sections, chairs, calls,
// rounds, readings, moves, settings; the commands that a leader gives; the
// changes that come of them; and the store that keeps them. It holds no logic.
//
//	hub/tuneup    the rules: events in, changes out
//	hub/ensemble  a row that plays at once, put on one clock
//	hub/piece     the score in use
//	hub/show      every sentence and view that a person reads
//	hub/session   the one mutex, timers and feeds around them
//	hub/journal   ordered commit; hub/receipt  exactly once; hub/feed  news
//
// # What is kept
//
// The truth is what is stored: sections, rounds with their queue, readings
// with their answer, moves, settings. Everything else, such as who has been
// heard or how often somebody was asked, is derived from these records. A
// restart and an undo are therefore the same as any other moment.
//
// The rules decide in memory, and what one step changed is committed as one,
// in the order of the steps. The hub numbers rounds, readings and moves by
// itself, so that a round goes on while the store cannot write; the row says so
// loudly, and a reading is acknowledged only once it is committed.
//
// # What a reading goes through
//
// A view names its round only to players who are asked to play. A node repeats
// that number with the note, so that a sound caught from a neighbour, or a
// note begun too early, answers nothing: it is stored and not counted. A
// reading that was asked for is judged at once (in turn), gathered until the
// others have come and then told apart from theirs (together), or held until
// the chord is complete. Its answer is frozen and stored with it,
// in codes and figures: hub/show has the words.
package hub
