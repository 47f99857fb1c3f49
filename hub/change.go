package hub

import "context"

// A Change is one difference between what was on record and what is. It holds
// values, never a way back into what made it: a store can write it, a test can
// compare it. What one step changed is committed as one. The records in it are
// shared and must not be changed.
type Change interface {
	// Write puts the change on record.
	Write(ctx context.Context, w Writer) error
}

// Writer takes records one by one. One with ID 0 gets the next free ID, and comes
// back with it.
type Writer interface {
	SaveSection(ctx context.Context, s Section) (Section, error)
	SaveChair(ctx context.Context, section int64, c Chair) error
	Enrol(ctx context.Context, n NodeRecord) error
	SaveRound(ctx context.Context, r Round) (Round, error)
	AddReadings(ctx context.Context, rs []Reading) ([]Reading, error)
	SaveReading(ctx context.Context, r Reading) error
	SaveMove(ctx context.Context, m MoveRecord) (MoveRecord, error)
	AddSetting(ctx context.Context, s SettingRecord) error
	SetValue(ctx context.Context, key, value string) error
}

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

// Write implements Change.
func (c SectionChange) Write(ctx context.Context, w Writer) error {
	_, err := w.SaveSection(ctx, *c.Is)
	return err
}

// Write implements Change.
func (c ChairChange) Write(ctx context.Context, w Writer) error {
	return w.SaveChair(ctx, c.Section, *c.Is)
}

// Write implements Change.
func (c RoundChange) Write(ctx context.Context, w Writer) error {
	_, err := w.SaveRound(ctx, *c.Is)
	return err
}

// Write implements Change.
func (c ReadingChange) Write(ctx context.Context, w Writer) error {
	if c.Was != nil {
		return w.SaveReading(ctx, *c.Is)
	}
	_, err := w.AddReadings(ctx, []Reading{*c.Is})
	return err
}

// Write implements Change.
func (c MoveChange) Write(ctx context.Context, w Writer) error {
	_, err := w.SaveMove(ctx, *c.Is)
	return err
}

// Write implements Change.
func (c SettingAdded) Write(ctx context.Context, w Writer) error { return w.AddSetting(ctx, c.Is) }

// Write implements Change.
func (c NodeChange) Write(ctx context.Context, w Writer) error { return w.Enrol(ctx, c.Is) }

// Write implements Change.
func (c ValueChange) Write(ctx context.Context, w Writer) error { return w.SetValue(ctx, c.Key, c.Is) }
