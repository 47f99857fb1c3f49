package hub

// A Change is one difference between what was on record and what is. It holds
// values, never a way back into what made it: a store can write it, a test can
// compare it. What one step changed is committed as one. The records in it are
// shared and must not be changed.
type Change interface{ isChange() }

// The kinds of change. Was is nil for a record that is new.
type (
	// SectionChange replaces a section with the list of its chairs. Chairs no
	// longer listed are kept for their history.
	SectionChange struct{ Was, Is *Section }
	// ChairChange replaces one chair of a section, or adds it at the end.
	ChairChange struct {
		Section int64
		Was, Is *Chair
	}
	// RoundChange adds or replaces a round.
	RoundChange struct{ Was, Is *Round }
	// ReadingChange adds a reading, or replaces what was made of it (all but
	// Node, Boot, At and Wire). A new one whose (Node, Boot, Sequence) is
	// already stored is left as it is.
	ReadingChange struct{ Was, Is *Reading }
	// MoveChange adds or replaces a move.
	MoveChange struct{ Was, Is *MoveRecord }
	// SettingAdded says where a slide stands from now on.
	SettingAdded struct{ Is SettingRecord }
	// NodeChange ties a node to a chair.
	NodeChange struct{ Is NodeRecord }
	// ValueChange sets one of the hub's small values.
	ValueChange struct{ Key, Is string }
)

func (SectionChange) isChange() {}
func (ChairChange) isChange()   {}
func (RoundChange) isChange()   {}
func (ReadingChange) isChange() {}
func (MoveChange) isChange()    {}
func (SettingAdded) isChange()  {}
func (NodeChange) isChange()    {}
func (ValueChange) isChange()   {}
