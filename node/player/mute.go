package player

import "bellrow/proto/instrument"

// MuteChoice is one thing that can be in or over the bell.
type MuteChoice struct {
	Mute  string `json:"mute"`  // as proto.Reading has it
	Label string `json:"label"` // on its way to the page, the key of its text
}

// mutes lists what a player of an instrument can tick, nothing first; the hand
// stops horns alone. It is empty for instruments without a main slide: no mute
// of theirs is known here.
func mutes(id instrument.ID) []MuteChoice {
	in, err := instrument.Find(id)
	if err != nil {
		return nil
	}
	if _, main := in.Slide(instrument.Main); !main {
		return nil
	}
	all := []MuteChoice{{"", "player.bell.nothing"}, {"straight", "player.bell.straight"}, {"cup", "player.bell.cup"}, {"other", "player.bell.other"}}
	if _, hand := in.Slide(instrument.Bell); hand {
		all = append(all, MuteChoice{"stopped", "player.bell.stopped"})
	}
	return all
}
