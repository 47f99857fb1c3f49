package hub

// Reason says in a stable code why a reading does not count, or why it is not
// judged yet; empty for one that counts. Beside these, a reason may be a code
// of hub/slide's advice or of the node ("vibrato", "moving"): what was wrong
// with the note.
type Reason string

// Reasons of the hub's own.
const (
	WhyNotAsked  Reason = "not-asked" // nothing was called, or it was not this chair's turn
	WhyLate      Reason = "late"      // it answers an earlier round
	WhyReplaced  Reason = "replaced"  // another laptop holds the chair by now
	WhyGathering Reason = "gathering" // waits for the other chairs of a together round
	// WhyOverheard: the microphone heard other players only, be it among all at
	// once, or the end of the note before in a player's own turn.
	WhyOverheard Reason = "overheard"
	WhyTogether  Reason = "together" // cannot be told from another chair's sound
	WhySilent    Reason = "silent"   // nothing was heard of it among the others
	WhyUnclear   Reason = "unclear"  // not heard clearly enough among the others
	// Of chairs of a together round alone, see Round.Unheard: others are as loud at
	// the chair's own laptop, and its clock is not known well enough.
	WhyDrowned Reason = "drowned"
	WhyClock   Reason = "clock"
	WhyCold    Reason = "cold"  // the instrument has to be played warm first
	WhyMuted   Reason = "muted" // a mute changes the pitch: it tells of the mute alone
	// WhyListen: it tells which chord is held, and is judged once one is chosen.
	WhyListen Reason = "listen"
	// WhyStudy: it was bent on purpose, for the study.
	WhyStudy Reason = "study"
	// WhyWatch: it settled while the section rehearsed and nothing was called.
	WhyWatch Reason = "watch"
)

// Blameless reports whether a note that does not count is no try of its
// player's: what the others drowned is not held against anybody.
func (r Reason) Blameless() bool {
	switch r {
	case WhyTogether, WhyOverheard, WhySilent, WhyUnclear, WhyListen, WhyStudy:
		return true
	}
	return false
}
