package web

import (
	"bellrow/hub"
	"bellrow/hub/intonation"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// tonesOf lists, for each chair of a chord call, the notes of the chord
// within its usual range, so that the leader can hand them out differently.
func tonesOf(r hub.Row, s hub.Section) map[hub.ChairID][]ToneChoice {
	if r.Round == nil || r.Round.Chord == "" || r.Round.Done {
		return nil
	}
	chord, err := intonation.ParseChord(r.Round.Chord)
	if err != nil {
		return nil // the hub has taken it; a name only it can read offers no choice
	}
	now := map[hub.ChairID]string{}
	for _, c := range r.Chairs {
		now[c.ID] = c.Concert
	}
	out := map[hub.ChairID][]ToneChoice{}
	for _, c := range s.Chairs {
		in, err := instrument.Find(c.Instrument)
		if err != nil || now[c.ID] == "" {
			continue
		}
		out[c.ID] = tonesIn(chord, in, now[c.ID])
	}
	return out
}

func tonesIn(chord intonation.Chord, in *instrument.Instrument, now string) []ToneChoice {
	var out []ToneChoice
	for n := in.Low; n <= in.High; n++ {
		if _, ok := chord.Tone(n); ok {
			out = append(out, ToneChoice{pitch.Note(n), "written " + in.Written(n).Display(), n.Display() == now})
		}
	}
	return out
}
