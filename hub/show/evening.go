package show

import (
	"bellrow/hub/slide"
	"bellrow/proto/instrument"
)

// Evening says where a section that has warmed up will stand in a room; empty for
// a room that was not said or is none.
func Evening(roomC float64) string {
	e, err := instrument.EveningAt(roomC)
	if roomC == 0 || err != nil {
		return ""
	}
	return slide.SayEvening(e)
}
