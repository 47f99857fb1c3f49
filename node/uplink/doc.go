// Package uplink is the node's connection to the hub: it finds the hub, says
// hello, delivers every reading exactly once and keeps the latest view.
//
// Delivery. Send numbers a reading and keeps it, in memory and, with a state
// folder, in a spool file, until the hub acknowledges that it is stored. After
// each reconnection the hub says how far it got and the rest is sent again;
// the hub ignores what it has (node, boot, sequence). A spool left behind by
// an earlier start of the node is delivered first, under that start's boot id.
// A hub that has not got what came before gets the rest under a boot of its own.
//
// Exactly once, end to end. Readings are numbered 1, 2, 3 … within one start (boot,
// random) and synced to the spool before they go out. The hub stores them under the
// unique key (node, boot, number) and acknowledges after the commit, as "all up to
// n"; while it cannot store it takes them into the row and does not acknowledge. A
// full queue refuses the newest, counts it and says so: dropping the oldest would
// leave a gap that holds up all that follows. Where a hub has not got the
// numbers before (another hub has, its data was put back, a spool was damaged), what
// waits is renumbered under a boot derived from the old one and the first number, so
// that a node that dies in between comes to the same numbers. On a full disk
// readings stay in memory and go into the spool, in order, when there is room.
//
// What is momentary is not kept: of states only the latest is sent, and tracks
// are dropped while no hub is connected.
//
// An Uplink holds no global state; many may run in one process.
package uplink
