// Package report says what a section's records show: once for the section and
// once for each player, as text, JSON, CSV and HTML with drawings.
//
// Load reads a store, Make draws the conclusions, and the Write functions
// print them. A player's habits stand on the player's own page; the section's
// page has hints for the leader, in the order of the seats, and never compares
// players with one another.
package report
