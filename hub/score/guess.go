package score

import (
	"strings"

	"bellrow/proto/instrument"
)

// kinds are words in the names of parts, the special before the general, each
// with the instruments it can mean; of those, the one whose transposition is
// the part's is taken, else the first. German and Italian names stand in many scores.
var kinds = []struct {
	words []string
	ids   []instrument.ID
}{
	{[]string{"piccolo trumpet"}, []instrument.ID{"piccolo_trumpet_bb"}},
	{[]string{"soprano cornet"}, []instrument.ID{"soprano_cornet_eb"}},
	{[]string{"flugel", "flügel", "flicorno"}, []instrument.ID{"flugelhorn_bb"}},
	{[]string{"cornet"}, []instrument.ID{"cornet_bb", "soprano_cornet_eb"}},
	{[]string{"bass trombone", "bassposaune"}, []instrument.ID{"bass_trombone_bb"}},
	{[]string{"alto trombone", "altposaune"}, []instrument.ID{"alto_trombone_eb"}},
	{[]string{"trombone", "posaune"}, []instrument.ID{"tenor_trombone_bb"}},
	{[]string{"trumpet", "trompete", "tromba"}, []instrument.ID{"trumpet_bb", "trumpet_c"}},
	{[]string{"tenor horn", "alto horn"}, []instrument.ID{"tenor_horn_eb"}},
	{[]string{"baritone"}, []instrument.ID{"baritone_bb_bc", "baritone_bb_tc"}},
	{[]string{"euphonium"}, []instrument.ID{"euphonium_bb_bc", "euphonium_bb_tc"}},
	{[]string{"mellophone"}, []instrument.ID{"mellophone_f"}},
	{[]string{"sousaphone"}, []instrument.ID{"sousaphone_bb"}},
	{[]string{"tuba"}, []instrument.ID{"tuba_bbb", "bass_bb_tc", "bass_eb_tc"}},
	{[]string{"horn", "corno"}, []instrument.ID{"horn_double"}},
	{[]string{"bass"}, []instrument.ID{"bass_eb_tc", "bass_bb_tc"}},
}

// strangers are names that hold one of the words and are no brass.
var strangers = []string{"english horn", "basset", "bass clarinet", "contrabass", "double bass", "bassoon", "bass drum", "bass guitar", "bassi", "saxhorn", "baritone sax", "bass flute", "bass voice"}

// Guess names the catalogue instrument that a part is written for, from the
// name of the part and its transposition. ok is false for parts that are
// not recognised as brass; the leader then says.
func Guess(p Part) (id instrument.ID, ok bool) {
	name := strings.ToLower(p.Name)
	for _, s := range strangers {
		if strings.Contains(name, s) {
			return "", false
		}
	}
	for _, k := range kinds {
		for _, w := range k.words {
			if strings.Contains(name, w) {
				return closest(k.ids, p), true
			}
		}
	}
	return "", false
}

func closest(ids []instrument.ID, p Part) instrument.ID {
	for _, id := range ids {
		if in, err := instrument.Find(id); err == nil && in.Transposition == p.Transposition {
			return id
		}
	}
	return ids[0]
}
