package show

import (
	"errors"

	"bellrow/hub/tuneup"
	"bellrow/proto/phrase"
)

// Refused says why a command was refused, in a tongue; false for an error that
// needs another to say it.
func Refused(err error, t phrase.Tongue) (sentence string, ok bool) {
	var r *tuneup.Refusal
	if !errors.As(err, &r) {
		return "", false
	}
	return t.Say("refusal."+r.Code, r.Figures...), true
}
