package slide

import (
	"testing"

	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

func catalogue(t testing.TB, id instrument.ID) *instrument.Instrument {
	t.Helper()
	in, err := instrument.Find(id)
	if err != nil {
		t.Fatal(err)
	}
	return in
}

func noteOf(t testing.TB, s string) pitch.Note {
	t.Helper()
	n, err := pitch.ParseNote(s)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// heard is a settled reading x cents from the equal-tempered note.
func heard(n pitch.Note, x, ci pitch.Cents) Reading {
	return Reading{Hz: pitch.Reference{}.Frequency(n).Shift(x), CI95: ci, Settled: true, Level: -20}
}
func TestSmoke(t *testing.T) {
	for _, c := range []struct {
		id   instrument.ID
		note string
		path instrument.Path
		x    pitch.Cents
		p    Purpose
		s    instrument.Settings
	}{
		{"trumpet_bb", "Bb4", instrument.Path{}, 14, Tuning, nil},
		{"trumpet_bb", "Bb4", instrument.Path{}, 50, Tuning, instrument.Settings{"main": 27}},
		{"trumpet_bb", "Bb4", instrument.Path{}, -40, Tuning, instrument.Settings{"main": 5}},
		{"trumpet_bb", "C4", instrument.Path{Valves: "1-3"}, 25, Tuning, nil},
		{"trumpet_bb", "Bb4", instrument.Path{}, -200, Tuning, nil},
		{"horn_double", "F4", instrument.Path{}, -500, Tuning, nil},
		{"horn_double", "F4", instrument.Path{}, -12, Balance, nil},
		{"tenor_trombone_bb", "D4", instrument.Path{}, -12, Balance, nil},
		{"tenor_trombone_bb", "A3", instrument.Path{}, -12, Balance, nil},
		{"tenor_trombone_bbf", "C2", instrument.Path{}, 24, Tuning, nil},
		{"tenor_trombone_bbf", "B1", instrument.Path{}, 50, Tuning, nil},
		{"tuba_cc", "F1", instrument.Path{}, 40, Tuning, nil},
		{"trumpet_bb", "Bb4", instrument.Path{}, 8, Balance, nil},
	} {
		n := noteOf(t, c.note)
		t.Logf("%s %s %v %+v", c.id, c.note, c.x, Advise(Input{Instrument: catalogue(t, c.id), Note: n, Path: c.path, Purpose: c.p, Settings: c.s, Reading: heard(n, c.x, 1.5)}))
	}
}
