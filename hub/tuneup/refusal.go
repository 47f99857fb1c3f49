package tuneup

import (
	"fmt"

	"bellrow/proto/phrase"
)

// refuse is the error of a command that cannot be done as things stand.
func refuse(key string, figures ...any) error { return phrase.Refuse("tuneup", key, figures...) }

// nonsense is the error of a command that no page of this version sends: a page says
// that alone, the log all of it.
func nonsense(format string, a ...any) error {
	return &phrase.Refusal{Key: "refusal.not-understood", Err: fmt.Errorf(format, a...)}
}
