package hub

import (
	"context"
	"errors"
	"time"
)

// Store keeps what the hub must not lose. What is returned shares no memory with
// what is kept. Implementations are safe for concurrent use. hub/storetest holds
// the suite that every implementation passes.
type Store interface {
	// Commit writes changes in order, all of them or none, and returns only after
	// they are committed. Records bear the numbers that the hub gave them and are
	// stored under them, whether or not they were there before; a reading whose
	// (Node, Boot, Sequence) is stored already is left as it is. The error is
	// ErrNotFound where what is to be replaced is not there.
	Commit(ctx context.Context, changes []Change) error

	// Sections returns the saved sections with their chairs, newest use first.
	Sections(ctx context.Context) ([]Section, error)
	// Node finds what is on record of a node.
	Node(ctx context.Context, node string) (NodeRecord, error)

	// Rounds returns the rounds of a section started at or after since, oldest first.
	Rounds(ctx context.Context, section int64, since time.Time) ([]Round, error)

	// Stored returns the highest sequence s such that all of 1..s of this
	// node and boot are stored, or were and have been deleted since; 0 when
	// there is none.
	Stored(ctx context.Context, node, boot string) (uint64, error)
	// Readings returns the readings of a section's chairs since a moment, oldest first.
	Readings(ctx context.Context, section int64, since time.Time) ([]Reading, error)
	// Answers returns those of Readings that answered a round: few beside what a
	// watched rehearsal leaves.
	Answers(ctx context.Context, section int64, since time.Time) ([]Reading, error)
	// Figures returns the figures of those of Readings that have some, in the
	// same order, in a fraction of the time.
	Figures(ctx context.Context, section int64, since time.Time) ([]Figures, error)

	Moves(ctx context.Context, section int64, since time.Time) ([]MoveRecord, error)

	Settings(ctx context.Context, section int64, since time.Time) ([]SettingRecord, error)

	// DeletePlayer removes a chair with everything it ever stored.
	DeletePlayer(ctx context.Context, chair ChairID) error
	// Forget removes readings, moves, rounds and settings older than before.
	Forget(ctx context.Context, before time.Time) error
	// Value returns one of the small settings of the hub itself: its id, keys;
	// ErrNotFound for a key that was never set. SetValue commits one.
	Value(ctx context.Context, key string) (string, error)
	SetValue(ctx context.Context, key, value string) error

	Close() error
}

// NodeRecord ties a node to a chair.
type NodeRecord struct {
	Node      string
	Section   int64
	Chair     ChairID
	TokenHash []byte // SHA-256 of the token
	Enrolled  time.Time
}

// Errors that callers branch on.
var (
	ErrNotFound = errors.New("hub: not found")
	// ErrNewer means the data folder was written by a newer version.
	ErrNewer = errors.New("hub: data was written by a newer version")
	// ErrInUse means that another hub works on the data folder.
	ErrInUse = errors.New("hub: another hub is at work on this data folder")
	// ErrReadOnly and ErrFull mean that nothing can be stored now; the hub
	// goes on in memory and says so.
	ErrReadOnly = errors.New("hub: the data folder is read-only")
	ErrFull     = errors.New("hub: the disk is full")
	// ErrMoved means that the data was taken away, replaced or written over under
	// the running hub: nothing is kept until it is started again.
	ErrMoved = errors.New("hub: the data folder is not the one that was opened")
	// ErrDamaged means that the data does not hold together.
	ErrDamaged = errors.New("hub: the data is damaged")
	// ErrRefused means that the store will never take this record.
	ErrRefused = errors.New("hub: the store refuses the record")
)
