// Package player is the player's own page, served on this laptop only.
//
// It shows the written note, stays dark and still while the instrument
// sounds, and then shows one frozen answer: the slide drawn to scale with how
// far to move it. There is no moving number on it.
//
// A Server is one chair's page. Its address holds a token that is new at each
// start, so that no other page in the browser can find it; Host and Origin
// are checked as well, because a page from anywhere may ask a local address.
// Two chairs in one process are two Servers on one listener.
package player
