package slide

// Mute is what is in or over the bell while a note is played, as the player
// ticks it. A muted note is kept apart from open ones everywhere: it sets no
// main slide and teaches nothing about one.
type Mute string

// The mutes. A horn is stopped by the hand: that is a transposition by about a
// semitone (common practice, no source), and no offset.
const (
	Open     Mute = ""
	Straight Mute = "straight"
	Cup      Mute = "cup"
	OtherOne Mute = "other"
	Stopped  Mute = "stopped"
)

// Mutes lists what a player can tick, open first.
var Mutes = []Mute{Open, Straight, Cup, OtherOne, Stopped}

// StoppedUp is how many semitones higher a stopped horn sounds than the same
// fingering open, on the F side.
const StoppedUp = 1
