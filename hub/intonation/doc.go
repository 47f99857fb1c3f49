// Package intonation judges readings against what they should be: a tuning
// note, or the tones of a chord. It names chords, spreads them over chairs,
// says where each tone belongs, who is out and which pair beats, infers a
// chord from what was heard, hints at balance, and finds the one main-slide
// setting that serves a whole piece best.
//
// Everything here is a pure function of its arguments: no clock, no storage,
// no wire format, no state; all of it may be called concurrently.
//
// Every kind of chord is one entry of the table in kinds.go, every tone one in
// tone.go. Chords spell their tones by the name of the root, and written notes
// by the transposed root (spelling.go).
//
// Results carry facts: codes and typed figures (Judgement.Facts,
// SeatJudgement.Resorts, Beat.Code, Together.Code, Aim.Code, Plan.Code,
// ChordError). The sentences beside them are English, and all of it stands in words.go.
//
// Conventions are those of package pitch. Just ratios are taken over the root
// of the chord wherever the root sounds, whatever the inversion; every ratio
// carries the source of its choice. Offsets are given against a target, and
// the targets move with the anchor: a group that is flat as one still has
// chords that do not beat.
package intonation

// Chair identifies a player's place; the caller chooses the numbers.
type Chair int64
