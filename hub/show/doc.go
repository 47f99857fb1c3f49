// Package show words how things stand: the leader's row, a player's view, the
// summary. Every sentence of the hub that a person reads is written here, once,
// from facts and figures (tuneup.Standing); nothing reads one back. What
// hub/slide and hub/intonation say about a note or a chord they word themselves.
// The sentences are those of proto/phrase: a player's in the language of the
// player's page, the leader's and the wall's in the section's.
//
// It is pure: the same facts give the same words, whoever asks and whenever.
package show
