package show

import (
	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
)

// Evening says where a section that has warmed up will stand in a room; empty for
// a room that was not said or is none.
func Evening(roomC float64, t phrase.Tongue) string {
	e, err := instrument.EveningAt(roomC)
	if roomC == 0 || err != nil {
		return ""
	}
	return t.Evening(e)
}
