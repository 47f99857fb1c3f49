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
// What is momentary is not kept: of states only the latest is sent, and tracks
// are dropped while no hub is connected.
//
// An Uplink holds no global state; many may run in one process.
package uplink
