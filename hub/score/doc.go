// Package score reads pieces in MusicXML (versions 1 to 4, uncompressed or
// .mxl, part-wise or time-wise), finds the sonorities that are held in each
// bar at concert pitch, and solves the one main-slide setting per player that
// serves the whole piece.
//
// Notes keep the score's spelling. A part's instrument is told by its name in
// six languages (partnames.go), its transposition and the company it stands in; what
// could be two instruments is returned as a Doubt with the candidates.
//
// Reading is a single pass over XML tokens: nothing is expanded, fetched or
// executed, and every size is bounded by Limits. A document type may be
// named, as MusicXML files do, but may declare nothing of its own.
//
// Repeats, endings and jumps are noted, not played out: each written bar
// counts once. Grace notes, cue notes, unpitched notes, rests and notes that are
// not printed (a tremolo written out for playback) are left out.
package score
