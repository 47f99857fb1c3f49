// Package show words how things stand: the leader's row, a player's view, the
// summary. Every sentence of the hub that a person reads is written here, once,
// from facts and figures (tuneup.Standing); nothing reads one back. What
// hub/slide and hub/intonation say about a note or a chord they word themselves.
// Players' sentences are those of proto/phrase, in the language of the player's
// page; the leader's are English.
//
// It is pure: the same facts give the same words, whoever asks and whenever.
package show
