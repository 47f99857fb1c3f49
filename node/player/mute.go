package player

import "bellrow/proto/instrument"

// MuteChoice is one thing that can be in or over the bell.
type MuteChoice struct {
	Mute  string `json:"mute"` // as proto.Reading has it
	Label string `json:"label"`
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
	all := []MuteChoice{{"", "nothing"}, {"straight", "a straight mute"}, {"cup", "a cup mute"}, {"other", "another mute"}}
	if _, hand := in.Slide(instrument.Bell); hand {
		all = append(all, MuteChoice{"stopped", "the hand: stopped"})
	}
	return all
}
