package main

import (
	"testing"

	"bellrow/proto/instrument"
)

// TestDemoBands: every invented section is of the catalogue, has a chair for
// everybody and simulated players that can be made.
func TestDemoBands(t *testing.T) {
	for word, band := range demoBands {
		labels, places := map[string]bool{}, map[[2]int]bool{}
		for _, p := range band.players {
			in, err := instrument.Find(p.instrument)
			if err != nil {
				t.Errorf("%s: %v", word, err)
				continue
			}
			if _, err := parsePlayer(in, p.spec); err != nil {
				t.Errorf("%s, %s: %v", word, p.label, err)
			}
			if labels[p.label] || places[[2]int{p.row, p.place}] {
				t.Errorf("%s: %s sits on another's chair", word, p.label)
			}
			labels[p.label], places[[2]int{p.row, p.place}] = true, true
		}
		if len(band.players) < 10 || band.section == "" || band.notes.Valid() != nil {
			t.Errorf("%s is not whole: %+v", word, band)
		}
	}
}
