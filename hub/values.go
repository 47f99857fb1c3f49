package hub

import "strconv"

// Keys of the store's small values. Those that end in a slash are followed by
// the section's ID; see OfSection.
const (
	ValueHub        = "hub"     // the hub's id
	ValueJoin       = "join"    // the join code
	ValueNextID     = "next-id" // numbers below it may have been given
	ValueBegun      = "fresh/"  // where the tune-up began: a time and a number
	ValueWatch      = "watch/"  // since when a rehearsal is watched, RFC 3339; "on" in earlier versions
	ValuePiece      = "piece/"  // the open score, packed
	ValuePieceState = "piece-state/"
)

// OfSection is the key of a section's own value.
func OfSection(key string, section int64) string { return key + strconv.FormatInt(section, 10) }
